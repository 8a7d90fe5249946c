"""Rules on metal that is too thin to stand the cut."""
