"""The service: command line, API, store and queue."""
