"""Recognition jobs of a tenant's parts."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from service.jobs.states import ACTIVE
from service.store.models import Job, StoredFile


def newest(session: Session, tenant: str, part: str) -> Job | None:
    """The latest recognition of the part that may still be of use: waiting, running or ended."""
    mine = select(Job).where(Job.tenant == tenant, Job.kind == "features", Job.part == part)
    return session.scalar(mine.order_by(Job.id.desc()).limit(1))


def in_use(session: Session, tenant: str, part: str) -> bool:
    """Whether a job of the tenant that has not ended needs the file."""
    mine = select(Job.id).where(Job.tenant == tenant, Job.part == part, Job.state.in_(ACTIVE))
    return session.scalar(mine.limit(1)) is not None


def recognitions(session: Session, tenant: str, part: str) -> Sequence[Job]:
    """All recognitions of the part."""
    return session.scalars(select(Job).where(Job.tenant == tenant, Job.kind == "features", Job.part == part)).all()


def take_out(session: Session, tenant: str, part: str) -> str | None:
    """Remove the file's row; its object key, or None when there is none."""
    mine = (StoredFile.tenant == tenant, StoredFile.sha256 == part)
    key = session.scalar(select(StoredFile.object).where(*mine))
    session.execute(delete(StoredFile).where(*mine))
    return key
