"""Rules on the stock that a setup starts from."""
