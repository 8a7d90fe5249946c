"""Rules on what a step cuts: too much, the workholding, or nothing."""
