"""API keys: who may do what, how often."""
