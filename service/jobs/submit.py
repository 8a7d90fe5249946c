"""Accepting a job: accepted means stored, files and record both, before anybody is told."""

from __future__ import annotations

import contextlib
import hashlib
import json
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from schemas.problem import Problem
from service.errors import TooMany, not_found
from service.ids import new_id
from service.jobs.states import ACTIVE, Kind
from service.keys.schemas import Principal
from service.store.artefacts import StoreError
from service.store.files import Content, Kept, Swept, enter, keep, known
from service.store.models import AuditEntry, Job, StoredFile
from service.wiring import Wiring

_TRIES = 4
_RETRY_AFTER = 10


@dataclass(frozen=True, slots=True)
class Submission:
    """What a client asks for. ``named`` are contents by hash that the tenant must have stored already."""

    kind: Kind
    part: str
    contents: tuple[Content, ...]
    named: tuple[str, ...] = ()
    plan: str | None = None
    files: Mapping[str, str] = field(default_factory=dict)
    name: str | None = None
    idempotency_key: str | None = None
    request: str | None = None

    def fingerprint(self) -> str:
        """A hash of all that the result depends on."""
        words = json.dumps([self.kind, self.part, self.plan, sorted(self.files.items())])
        return hashlib.sha256(words.encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class Accepted:
    """The job; ``new`` is False when the same request had been accepted before."""

    job: Job
    new: bool


def submit(wiring: Wiring, who: Principal, submission: Submission) -> Accepted:
    """Store the files and the job, and announce it to the relay.

    Raises Problem ``idempotency.mismatch``, ``part.unknown``, ``limit.active``, or StoreError; then nothing is stored.
    """
    for attempt in range(_TRIES):
        earlier = _earlier(wiring, who, submission)
        if earlier is not None:
            return Accepted(earlier, new=False)
        try:
            job = _store(wiring, who, submission)
        except (IntegrityError, Swept):
            # another request with the same content or Idempotency-Key won, or an expiry did: look again
            if attempt == _TRIES - 1:
                raise
            continue
        wiring.relay.announce(job.id)
        return Accepted(job, new=True)
    raise AssertionError("unreachable")


def _earlier(wiring: Wiring, who: Principal, submission: Submission) -> Job | None:
    if submission.idempotency_key is None:
        return None
    mine = select(Job).where(Job.tenant == who.tenant, Job.idempotency_key == submission.idempotency_key)
    with wiring.database.read() as session:
        job = session.scalar(mine)
    if job is not None and job.fingerprint != submission.fingerprint():
        raise Problem(
            "idempotency.mismatch",
            "The Idempotency-Key was used before",
            "The same Idempotency-Key was sent with another part, plan or files.",
            remedy="Use a fresh key for each new check.",
        )
    return job


def _store(wiring: Wiring, who: Principal, submission: Submission) -> Job:
    with wiring.database.read() as session:
        _check_quota(session, who)
        _check_room(session, who, submission, wiring.settings.max_tenant_bytes)
        named = _named(session, who.tenant, submission.named)
    kept = keep(wiring.database, wiring.artefacts, who.tenant, submission.contents)
    everything = Kept({**named, **kept.objects}, kept.fresh)
    try:
        with wiring.database.write() as session:
            objects = enter(session, who.tenant, everything)
            job = _job(who, submission, objects)
            session.add(job)
            session.add(_audit(who, job))
    except BaseException:
        _drop(wiring, kept, {})
        raise
    _drop(wiring, kept, objects)
    return job


def _check_quota(session: Session, who: Principal) -> None:
    active = session.scalar(select(func.count()).where(Job.key == who.key, Job.state.in_(ACTIVE))) or 0
    if active >= who.max_active:
        raise TooMany(
            "limit.active", "Too many checks at once", f"{active} checks of this key wait or run.", _RETRY_AFTER
        )


def _check_room(session: Session, who: Principal, submission: Submission, most: int) -> None:
    stored = session.scalar(select(func.sum(StoredFile.size)).where(StoredFile.tenant == who.tenant)) or 0
    if stored + sum(content.size for content in submission.contents) > most:
        raise TooMany("limit.storage", "No room left", "The files of this tenant take all the room they may.", 3600)


def _named(session: Session, tenant: str, hashes: tuple[str, ...]) -> dict[str, str]:
    found = known(session, tenant, hashes)
    for sha256 in hashes:
        if sha256 not in found:
            raise Problem(
                "part.unknown",
                "The file is not known",
                f"No file with the hash {sha256} is stored.",
                pointer="/part",
                remedy="Send the file itself, or POST it to /v1/parts first.",
                status=404,
            )
    return found


def _drop(wiring: Wiring, kept: Kept, used: Mapping[str, str]) -> None:
    """Remove what was put but is not used after all; what cannot be removed now is only wasted room."""
    unused = [kept.objects[sha256] for sha256 in kept.fresh if used.get(sha256) != kept.objects[sha256]]
    with contextlib.suppress(StoreError):
        wiring.artefacts.delete(*unused)


def _job(who: Principal, submission: Submission, objects: Mapping[str, str]) -> Job:
    inputs: dict[str, Any] = {
        "part": objects[submission.part],
        "plan": objects[submission.plan] if submission.plan else None,
        "files": {name: objects[sha256] for name, sha256 in sorted(submission.files.items())},
        "hashes": {"plan": submission.plan, "files": dict(sorted(submission.files.items()))},
    }
    return Job(
        id=new_id(),
        tenant=who.tenant,
        key=who.key,
        kind=submission.kind,
        state="queued",
        version=0,
        name=submission.name,
        idempotency_key=submission.idempotency_key,
        fingerprint=submission.fingerprint(),
        part=submission.part,
        inputs=inputs,
        attempt=0,
        beat=0,
        losses=0,
        crashes=0,
        request=submission.request,
        created=time.time(),
    )


def _audit(who: Principal, job: Job) -> AuditEntry:
    return audit_entry(who, f"{job.kind}.create", job.id, job.request)


def audit_entry(who: Principal, action: str, object: str, request: str | None) -> AuditEntry:
    """A line of the audit log."""
    return AuditEntry(at=time.time(), tenant=who.tenant, key=who.key, action=action, object=object, request=request)


def own_job(session: Session, who: Principal, job_id: str, kind: Kind) -> Job:
    """The job, if it is the tenant's own. Raises Problem ``not-found``, the same for absent and for foreign."""
    job = session.get(Job, job_id)
    if job is None or job.tenant != who.tenant or job.kind != kind:
        raise not_found(kind)
    return job
