"""Webhooks and their deliveries. A delivery is taken by compare-and-swap on (id, attempts)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import CursorResult, delete, func, select, update
from sqlalchemy.orm import Session

from service.store.models import Delivery, Webhook


@dataclass(frozen=True, slots=True)
class Due:
    """A message to send now, and where to."""

    id: str
    attempts: int
    body: dict[str, Any]
    webhook: str
    url: str
    generation: int
    rotated: float | None


def of_tenant(session: Session, tenant: str) -> Sequence[Webhook]:
    """The tenant's webhooks, oldest first."""
    return session.scalars(select(Webhook).where(Webhook.tenant == tenant).order_by(Webhook.id)).all()


def count(session: Session, tenant: str) -> int:
    """How many webhooks the tenant has."""
    return session.scalar(select(func.count()).where(Webhook.tenant == tenant)) or 0


def remove(session: Session, webhook: Webhook) -> None:
    """Remove a webhook and its messages."""
    session.execute(delete(Delivery).where(Delivery.webhook == webhook.id))
    session.delete(webhook)


def deliveries(session: Session, webhook: str, limit: int) -> Sequence[Delivery]:
    """The newest messages of a webhook."""
    mine = select(Delivery).where(Delivery.webhook == webhook).order_by(Delivery.created.desc(), Delivery.id.desc())
    return session.scalars(mine.limit(limit)).all()


def due(session: Session, now: float, limit: int) -> list[Due]:
    """Messages whose time has come. One that a sender took and never ended is due again as well."""
    rows = session.execute(
        select(Delivery, Webhook)
        .join(Webhook, Webhook.id == Delivery.webhook)
        .where(Delivery.state.in_(("pending", "sending")), Delivery.next_at <= now)
        .order_by(Delivery.next_at)
        .limit(limit)
    )
    return [Due(d.id, d.attempts, d.body, w.id, w.url, w.generation, w.rotated) for d, w in rows]


def take(session: Session, found: Due, until: float) -> bool:
    """Take a message for sending until ``until``; False when another sender was faster."""
    mine = update(Delivery).where(
        Delivery.id == found.id, Delivery.attempts == found.attempts, Delivery.state.in_(("pending", "sending"))
    )
    return _changed(session, mine.values(state="sending", attempts=found.attempts + 1, next_at=until))


def settle(session: Session, found: Due, state: str, result: str, next_at: float) -> bool:
    """Write how the attempt that ``take`` began ended."""
    mine = update(Delivery).where(Delivery.id == found.id, Delivery.attempts == found.attempts + 1)
    return _changed(session, mine.values(state=state, last_result=result[:200], next_at=next_at))


def _changed(session: Session, statement: Any) -> bool:
    result = session.execute(statement, execution_options={"synchronize_session": False})
    return isinstance(result, CursorResult) and result.rowcount == 1
