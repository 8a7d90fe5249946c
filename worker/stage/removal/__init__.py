"""What one workingstep removes: one file an operation family."""
