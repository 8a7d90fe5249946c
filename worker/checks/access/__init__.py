"""Rules on what a straight tool can see from the setup's axis."""
