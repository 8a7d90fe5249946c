"""Rules on the machine's stated limits."""
