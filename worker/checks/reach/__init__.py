"""Rules on what the tool assembly touches on its way down."""
