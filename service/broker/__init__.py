"""The queue: transport only, never the truth."""
