"""Rules of one shop, found by reclamp through the entry point group ``reclamp.rules``."""
