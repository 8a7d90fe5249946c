"""Rules on what the verdict itself stands on."""
