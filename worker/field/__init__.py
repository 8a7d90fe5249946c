"""The second opinion: the same plan carried on a tri-dexel field, with no solid model in between."""
