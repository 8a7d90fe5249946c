"""Webhooks: signed messages when a check ends."""
