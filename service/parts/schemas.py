"""What the API says about a part."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from pydantic import BaseModel, Field

from service.checks.schemas import ProgressOut, when
from service.jobs.states import State
from service.store.models import Job


class PartOut(BaseModel):
    """A stored part and the recognition of its features."""

    part: str = Field(description="sha256 of the part: names it in POST /v1/checks")
    state: State
    created: datetime
    finished: datetime | None = None
    progress: ProgressOut | None = None
    problem: dict[str, Any] | None = Field(default=None, description="why recognition failed, as RFC 9457")
    links: dict[str, str]


def part_out(job: Job) -> PartOut:
    """The API's view of a recognition job."""
    base = f"/v1/parts/{job.part}"
    links = {"self": base} | ({"features": f"{base}/features"} if job.state == "done" else {})
    return PartOut.model_validate(
        {
            "part": job.part,
            "state": job.state,
            "created": when(job.created),
            "finished": when(job.finished),
            "progress": job.progress if job.state == "running" else None,
            "problem": job.problem,
            "links": links,
        }
    )
