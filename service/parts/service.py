"""Parts: send one, ask for its features, delete it."""

from __future__ import annotations

import contextlib

from schemas.problem import Problem
from service.checks.service import Artefact, artefact, artefact_objects
from service.errors import not_found
from service.jobs.submit import Accepted, Submission, audit_entry, submit
from service.keys.schemas import Principal
from service.parts import repository
from service.store.artefacts import StoreError
from service.store.files import Content
from service.store.models import Job
from service.uploads import Upload
from service.wiring import Wiring


def add(wiring: Wiring, who: Principal, upload: Upload, key: str | None, request: str | None) -> Accepted:
    """Store the part and recognise its features; a part whose features are known or under way is not done again."""
    with wiring.database.read() as session:
        earlier = repository.newest(session, who.tenant, upload.sha256)
    if earlier is not None and earlier.state in ("queued", "running", "done"):
        return Accepted(earlier, new=False)
    contents = (Content(upload.sha256, upload.size, upload.file),)
    wanted = Submission("features", upload.sha256, contents, idempotency_key=key, request=request)
    return submit(wiring, who, wanted)


def get(wiring: Wiring, who: Principal, part: str) -> Job:
    """The newest recognition of the part. Raises Problem ``not-found``."""
    with wiring.database.read() as session:
        job = repository.newest(session, who.tenant, part)
    if job is None:
        raise not_found("part")
    return job


def features(wiring: Wiring, who: Principal, part: str) -> Artefact:
    """Where the features are kept. Raises Problem."""
    return artefact(get(wiring, who, part), "features.json")


def remove(wiring: Wiring, who: Principal, part: str, request: str | None) -> None:
    """Delete the part's file and features; checks keep their reports. Raises Problem ``not-found``, ``part.in-use``."""
    with wiring.database.write() as session:
        if repository.in_use(session, who.tenant, part):
            raise Problem(
                "part.in-use",
                "The part is in use",
                "A check of this part has not ended.",
                remedy="Cancel it, or wait for its end.",
                status=409,
            )
        jobs = repository.recognitions(session, who.tenant, part)
        key = repository.take_out(session, who.tenant, part)
        if key is None and not jobs:
            raise not_found("part")
        objects = [o for job in jobs for o in artefact_objects(job)] + ([key] if key else [])
        for job in jobs:
            session.delete(job)
        session.add(audit_entry(who, "part.delete", part, request))
    with contextlib.suppress(StoreError):  # the record is gone; what is left is only wasted room
        wiring.artefacts.delete(*objects)
