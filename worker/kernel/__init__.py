"""The only room that knows the B-rep kernel."""
