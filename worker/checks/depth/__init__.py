"""Rules on how deep a step goes."""
