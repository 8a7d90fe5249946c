"""Checks of a part and its plan."""
