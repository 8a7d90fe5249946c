"""Many checks from the command line: find the pairs, send them, write the table."""
