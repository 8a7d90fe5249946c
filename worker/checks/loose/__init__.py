"""Rules on pieces that come free."""
