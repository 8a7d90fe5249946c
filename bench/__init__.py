"""Speed and memory, measured; never by tests."""
