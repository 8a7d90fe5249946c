"""What the API says about a check."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any
from urllib.parse import quote

from pydantic import BaseModel, ConfigDict, Field

from service.jobs.states import State
from service.store.models import Job

_EXAMPLE: dict[str, Any] = {
    "id": "0193a1b2c3d4e5f60718293a4b5c6d7e",
    "state": "running",
    "name": "two setups",
    "part": "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08",
    "created": "2026-05-04T08:15:30Z",
    "started": "2026-05-04T08:15:31Z",
    "attempt": 1,
    "progress": {"setup": "S1", "phase": "cut", "done": 3, "of": 9},
    "links": {
        "self": "/v1/checks/0193a1b2c3d4e5f60718293a4b5c6d7e",
        "events": "/v1/checks/0193a1b2c3d4e5f60718293a4b5c6d7e/events",
    },
}


class ProgressOut(BaseModel):
    """Where a running check is."""

    model_config = ConfigDict(extra="ignore")
    setup: str | None = None
    phase: str
    done: int
    of: int


class CheckOut(BaseModel):
    """A check: its state, and where its results are. ``links`` grow when it is done."""

    model_config = ConfigDict(json_schema_extra={"examples": [_EXAMPLE]})
    id: str
    state: State
    name: str | None = None
    part: str = Field(description="sha256 of the part")
    created: datetime
    started: datetime | None = None
    finished: datetime | None = None
    attempt: int = Field(description="how often a worker took it up")
    progress: ProgressOut | None = None
    verdict: str | None = Field(default=None, description="pass | fail, once done")
    counts: dict[str, int] | None = Field(default=None, description="findings by level, once done")
    problem: dict[str, Any] | None = Field(default=None, description="why it failed, as RFC 9457")
    links: dict[str, Any]


class CheckPage(BaseModel):
    """A page of checks, newest first; ``next`` is the cursor of the page after it."""

    items: list[CheckOut]
    next: str | None = None


class CheckRequest(BaseModel):
    """A check of files that are stored already, named by their hashes."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={
            "examples": [{"part": _EXAMPLE["part"], "plan": {"plan_version": 1, "units": "mm"}, "files": {}}]
        },
    )
    part: str = Field(pattern=r"^[0-9a-f]{64}$", description="sha256 of a part sent before")
    plan: dict[str, Any] = Field(description="the setup plan, see /schemas/plan")
    files: dict[str, str] = Field(default_factory=dict, description="name in the plan to sha256 of a file sent before")


def when(seconds: float | None) -> datetime | None:
    """Seconds since 1970 as UTC."""
    return None if seconds is None else datetime.fromtimestamp(round(seconds, 3), UTC)


def check_out(job: Job) -> CheckOut:
    """The API's view of a job."""
    return CheckOut.model_validate(
        {
            "id": job.id,
            "state": job.state,
            "name": job.name,
            "part": job.part,
            "created": when(job.created),
            "started": when(job.started),
            "finished": when(job.finished),
            "attempt": job.attempt,
            "progress": job.progress if job.state == "running" else None,
            "verdict": job.verdict,
            "counts": job.counts,
            "problem": job.problem,
            "links": _links(job),
        }
    )


def _links(job: Job) -> dict[str, Any]:
    base = f"/v1/checks/{job.id}"
    links: dict[str, Any] = {"self": base, "events": f"{base}/events"}
    names = sorted(job.artefacts or {})
    if names:
        links["report"] = f"{base}/report"
        links["reports"] = {n.partition(".")[2]: f"{base}/{quote(n)}" for n in names if n.startswith("report.")}
        links |= {"setup-sheet": f"{base}/setup-sheet.pdf"} if "setup-sheet.pdf" in names else {}
        links["stages"] = {n.removeprefix("stages/"): f"{base}/{quote(n)}" for n in names if n.startswith("stages/")}
    return links
