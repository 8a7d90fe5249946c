"""Uploaded files of a tenant, kept once for each content."""

from __future__ import annotations

import time
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import IO

from sqlalchemy import CursorResult, select, update
from sqlalchemy.orm import Session

from service.ids import new_id
from service.store.artefacts import Artefacts
from service.store.database import Database
from service.store.models import StoredFile


class Swept(Exception):  # noqa: N818 - says what happened
    """A file that was there expired between the look and the use; look again."""


@dataclass(frozen=True, slots=True)
class Content:
    """Bytes to keep."""

    sha256: str
    size: int
    data: bytes | IO[bytes]


def known(session: Session, tenant: str, hashes: Iterable[str]) -> dict[str, str]:
    """Hash to object key of those contents that the tenant has stored."""
    wanted = sorted(set(hashes))
    columns = select(StoredFile.sha256, StoredFile.object)
    rows = session.execute(columns.where(StoredFile.tenant == tenant, StoredFile.sha256.in_(wanted)))
    return {row[0]: row[1] for row in rows}


@dataclass(frozen=True, slots=True)
class Kept:
    """Object key of each content; ``fresh`` maps those that were stored just now to their sizes."""

    objects: Mapping[str, str]
    fresh: Mapping[str, int]


def keep(database: Database, artefacts: Artefacts, tenant: str, contents: Iterable[Content]) -> Kept:
    """Put what is not there yet under fresh names.

    A fresh name each time: an expiry that runs at the same moment can only delete the object it knew.
    Raises StoreError.
    """
    by_hash = {content.sha256: content for content in contents}
    with database.read() as session:
        objects = known(session, tenant, by_hash)
    fresh = {sha256: content.size for sha256, content in by_hash.items() if sha256 not in objects}
    for sha256 in fresh:
        objects[sha256] = f"{tenant}/files/{new_id()}"
        artefacts.put(objects[sha256], by_hash[sha256].data)
    return Kept(objects, fresh)


def enter(session: Session, tenant: str, kept: Kept) -> dict[str, str]:
    """Write down, in the caller's transaction, that these contents are in use now; hash to the object that counts.

    Raises Swept when one expired since, IntegrityError when another request enters the same content now.
    """
    for sha256, key in sorted(kept.objects.items()):
        if not _touch(session, tenant, sha256):
            if sha256 not in kept.fresh:
                raise Swept(sha256)
            now, size = time.time(), kept.fresh[sha256]
            session.add(StoredFile(tenant=tenant, sha256=sha256, object=key, size=size, created=now, last_used=now))
            session.flush()
    return known(session, tenant, kept.objects)


def _touch(session: Session, tenant: str, sha256: str) -> bool:
    mine = update(StoredFile).where(StoredFile.tenant == tenant, StoredFile.sha256 == sha256)
    result = session.execute(mine.values(last_used=time.time()))
    return isinstance(result, CursorResult) and result.rowcount == 1
