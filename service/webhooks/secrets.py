"""Signing secrets: derived from the master secret when they are needed, so that no database holds them."""

from __future__ import annotations

import base64
import hashlib
import hmac


def signing_secret(master: str, webhook: str, generation: int) -> str:
    """The Standard Webhooks secret of a webhook: HMAC-SHA-256 of its id under the master secret (32 bytes)."""
    key = hmac.new(master.encode(), f"webhook:{webhook}:{generation}".encode(), hashlib.sha256).digest()
    return "whsec_" + base64.b64encode(key).decode()
