"""Rules on how the stock is held: faces, grip, support, slip, release."""
