"""Making, checking, rotating and revoking keys."""

from __future__ import annotations

import hashlib
import hmac
import re
import secrets
import time
from collections.abc import Sequence
from dataclasses import dataclass

from schemas.problem import Problem
from service.keys import repository
from service.keys.schemas import SCOPES, USUAL_SCOPES
from service.settings import Settings
from service.store.database import Database
from service.store.models import Key

PREFIX = "rck"
_FORM = re.compile(r"^rck_([0-9a-f]{12})_([A-Za-z0-9_-]{43})$")
_TENANT = re.compile(r"^[a-z0-9][a-z0-9-]{0,62}$")
_NOTHING = hashlib.sha256(b"").hexdigest()
DAY = 86400.0


@dataclass(frozen=True, slots=True)
class NewKey:
    """A key as it is shown once."""

    id: str
    token: str


def create(
    database: Database,
    settings: Settings,
    *,
    tenant: str,
    name: str,
    scopes: Sequence[str] = USUAL_SCOPES,
    requests_per_minute: int | None = None,
    max_active: int | None = None,
    days: float | None = None,
) -> NewKey:
    """Make a key. The token is 256 random bits, so a plain SHA-256 of it is all that need be kept.

    Raises Problem ``key.invalid``.
    """
    _check(tenant, scopes)
    secret, key_id, now = secrets.token_urlsafe(32), secrets.token_hex(6), time.time()
    key = Key(
        id=key_id,
        tenant=tenant,
        name=name,
        hash=_hash(secret),
        scopes=list(scopes),
        requests_per_minute=requests_per_minute or settings.requests_per_minute,
        max_active=max_active or settings.max_active,
        created=now,
        expires=None if days is None else now + days * DAY,
    )
    with database.write() as session:
        repository.add(session, key)
    return NewKey(key_id, f"{PREFIX}_{key_id}_{secret}")


def _check(tenant: str, scopes: Sequence[str]) -> None:
    if not _TENANT.match(tenant):
        raise Problem(
            "key.invalid", "The key cannot be made", f"'{tenant}' is no tenant.", remedy="Use a-z, 0-9 and dashes."
        )
    unknown = sorted(set(scopes) - set(SCOPES))
    if unknown:
        raise Problem(
            "key.invalid",
            "The key cannot be made",
            f"There is no scope {', '.join(unknown)}.",
            remedy=f"Use: {', '.join(SCOPES)}.",
        )


def verify(database: Database, token: str) -> Key | None:
    """The live key of a token, or None. Takes the same time for a wrong secret as for an unknown key."""
    match = _FORM.match(token)
    if match is None:
        return None
    with database.read() as session:
        key = repository.find(session, match[1])
    same = hmac.compare_digest(_hash(match[2]), key.hash if key is not None else _NOTHING)
    return key if key is not None and same and _is_live(key) else None


def _is_live(key: Key) -> bool:
    return key.revoked is None and (key.expires is None or key.expires > time.time())


def rotate(database: Database, settings: Settings, key_id: str, *, grace_hours: float) -> NewKey:
    """A new key like the old one; the old one ends after ``grace_hours``. Raises Problem ``not-found``."""
    with database.read() as session:
        old = _existing(repository.find(session, key_id), key_id)
    new = create(
        database,
        settings,
        tenant=old.tenant,
        name=old.name,
        scopes=old.scopes,
        requests_per_minute=old.requests_per_minute,
        max_active=old.max_active,
    )
    end(database, key_id, after_hours=grace_hours)
    return new


def end(database: Database, key_id: str, *, after_hours: float = 0.0) -> None:
    """Revoke a key, now or after some hours. Raises Problem ``not-found``."""
    with database.write() as session:
        key = _existing(repository.find(session, key_id), key_id)
        if after_hours > 0:
            until = time.time() + after_hours * 3600
            key.expires = until if key.expires is None else min(until, key.expires)
        else:
            key.revoked = time.time()


def _existing(key: Key | None, key_id: str) -> Key:
    if key is None:
        raise Problem("not-found", "Not found", f"There is no key '{key_id}'.", status=404)
    return key


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
