"""Past checks, filtered and in pages."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.store.models import Job


@dataclass(frozen=True, slots=True)
class Filters:
    """What to list. Times are seconds since 1970."""

    state: str | None = None
    verdict: str | None = None
    part: str | None = None
    name: str | None = None
    after: float | None = None
    before: float | None = None
    cursor: str | None = None


def newest(session: Session, tenant: str, filters: Filters, limit: int) -> list[Job]:
    """The tenant's newest checks older than the cursor."""
    statement = select(Job).where(Job.tenant == tenant, Job.kind == "check")
    for column, value in (
        (Job.state, filters.state),
        (Job.verdict, filters.verdict),
        (Job.part, filters.part),
        (Job.name, filters.name),
    ):
        statement = statement if value is None else statement.where(column == value)
    if filters.after is not None:
        statement = statement.where(Job.created >= filters.after)
    if filters.before is not None:
        statement = statement.where(Job.created < filters.before)
    if filters.cursor is not None:
        statement = statement.where(Job.id < filters.cursor)
    return list(session.scalars(statement.order_by(Job.id.desc()).limit(limit)))
