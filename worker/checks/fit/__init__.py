"""Rules on tool sizes against the sizes of the features."""
