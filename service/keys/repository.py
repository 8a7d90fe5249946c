"""Keys in the database."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.store.models import Key


def find(session: Session, key_id: str) -> Key | None:
    """The key of that id."""
    return session.get(Key, key_id)


def add(session: Session, key: Key) -> None:
    """Store a key."""
    session.add(key)


def all_keys(session: Session, tenant: str | None = None) -> Sequence[Key]:
    """All keys, oldest first, of one tenant when it is given."""
    statement = select(Key).order_by(Key.created, Key.id)
    return session.scalars(statement if tenant is None else statement.where(Key.tenant == tenant)).all()
