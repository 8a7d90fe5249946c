"""Rules on what is left on the part at the end."""
