"""Rules on the order of the steps."""
