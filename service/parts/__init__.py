"""Parts, kept by content hash, and their features."""
