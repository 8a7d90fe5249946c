"""The tables. Times are seconds since 1970 (UTC) and are only shown; no decision about a lease rests on them."""

from __future__ import annotations

from typing import Any

from sqlalchemy import JSON, Float, ForeignKey, Index, Integer, String, UniqueConstraint
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column


class Base(DeclarativeBase):
    """Root of the tables."""

    type_annotation_map = {dict[str, Any]: JSON, list[str]: JSON}  # noqa: RUF012 - SQLAlchemy's own declaration


class Key(Base):
    """An API key: the secret is kept as a hash only."""

    __tablename__ = "keys"
    id: Mapped[str] = mapped_column(String(16), primary_key=True)
    tenant: Mapped[str] = mapped_column(String(64), index=True)
    name: Mapped[str] = mapped_column(String(200))
    hash: Mapped[str] = mapped_column(String(64))
    scopes: Mapped[list[str]]
    requests_per_minute: Mapped[int] = mapped_column(Integer)
    max_active: Mapped[int] = mapped_column(Integer)
    created: Mapped[float] = mapped_column(Float)
    expires: Mapped[float | None] = mapped_column(Float)
    revoked: Mapped[float | None] = mapped_column(Float)


class StoredFile(Base):
    """An uploaded file of one tenant, by content hash. ``object`` is a fresh name for each time it is stored."""

    __tablename__ = "files"
    tenant: Mapped[str] = mapped_column(String(64), primary_key=True)
    sha256: Mapped[str] = mapped_column(String(64), primary_key=True)
    object: Mapped[str] = mapped_column(String(200))
    size: Mapped[int] = mapped_column(Integer)
    created: Mapped[float] = mapped_column(Float)
    last_used: Mapped[float] = mapped_column(Float, index=True)


class Job(Base):
    """One check, or one recognition of a part's features. The truth about it; the queue only carries its id."""

    __tablename__ = "jobs"
    id: Mapped[str] = mapped_column(String(32), primary_key=True)
    tenant: Mapped[str] = mapped_column(String(64))
    key: Mapped[str] = mapped_column(String(16))
    kind: Mapped[str] = mapped_column(String(16))
    state: Mapped[str] = mapped_column(String(16))
    version: Mapped[int] = mapped_column(Integer, default=0)
    name: Mapped[str | None] = mapped_column(String(200))
    idempotency_key: Mapped[str | None] = mapped_column(String(255))
    fingerprint: Mapped[str] = mapped_column(String(64))
    part: Mapped[str] = mapped_column(String(64))
    inputs: Mapped[dict[str, Any]]
    attempt: Mapped[int] = mapped_column(Integer, default=0)
    beat: Mapped[int] = mapped_column(Integer, default=0)
    worker: Mapped[str | None] = mapped_column(String(100))
    losses: Mapped[int] = mapped_column(Integer, default=0)
    crashes: Mapped[int] = mapped_column(Integer, default=0)
    progress: Mapped[dict[str, Any] | None]
    verdict: Mapped[str | None] = mapped_column(String(8))
    counts: Mapped[dict[str, Any] | None]
    problem: Mapped[dict[str, Any] | None]
    artefacts: Mapped[dict[str, Any] | None]
    request: Mapped[str | None] = mapped_column(String(64))
    created: Mapped[float] = mapped_column(Float)
    started: Mapped[float | None] = mapped_column(Float)
    finished: Mapped[float | None] = mapped_column(Float)
    __table_args__ = (
        UniqueConstraint("tenant", "idempotency_key", name="uq_jobs_tenant_idempotency_key"),
        Index("ix_jobs_tenant_kind_id", "tenant", "kind", "id"),
        Index("ix_jobs_state", "state", "id"),
        Index("ix_jobs_part", "tenant", "part"),
    )


class Webhook(Base):
    """Where a tenant wants to be told. The signing secret is derived, never stored."""

    __tablename__ = "webhooks"
    id: Mapped[str] = mapped_column(String(32), primary_key=True)
    tenant: Mapped[str] = mapped_column(String(64), index=True)
    url: Mapped[str] = mapped_column(String(2000))
    generation: Mapped[int] = mapped_column(Integer, default=1)
    rotated: Mapped[float | None] = mapped_column(Float)
    created: Mapped[float] = mapped_column(Float)


class Delivery(Base):
    """One message to one webhook; written in the same transaction as the job's final state."""

    __tablename__ = "deliveries"
    id: Mapped[str] = mapped_column(String(32), primary_key=True)
    webhook: Mapped[str] = mapped_column(ForeignKey("webhooks.id", ondelete="CASCADE"))
    job: Mapped[str] = mapped_column(String(32))
    body: Mapped[dict[str, Any]]
    state: Mapped[str] = mapped_column(String(16))
    attempts: Mapped[int] = mapped_column(Integer, default=0)
    next_at: Mapped[float] = mapped_column(Float)
    last_result: Mapped[str | None] = mapped_column(String(200))
    created: Mapped[float] = mapped_column(Float)
    __table_args__ = (
        UniqueConstraint("webhook", "job", name="uq_deliveries_webhook_job"),
        Index("ix_deliveries_due", "state", "next_at"),
    )


class AuditEntry(Base):
    """Who did what, when. Rows are only ever added (until they expire)."""

    __tablename__ = "audit"
    id: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=True)
    at: Mapped[float] = mapped_column(Float, index=True)
    tenant: Mapped[str] = mapped_column(String(64), index=True)
    key: Mapped[str] = mapped_column(String(16))
    action: Mapped[str] = mapped_column(String(40))
    object: Mapped[str] = mapped_column(String(80))
    request: Mapped[str | None] = mapped_column(String(64))
