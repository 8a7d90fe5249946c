"""Rules on the work offset."""
