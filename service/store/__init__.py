"""Where things are kept: the database that is the truth, and the artefacts."""
