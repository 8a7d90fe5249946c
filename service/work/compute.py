"""The geometry as the service's worker uses it: one killable child for each job, forked from a warm server."""

from __future__ import annotations

import hashlib
import hmac
import logging

from service.jobs.pulse import Abandoned, Pulse
from service.jobs.running import Inputs, Results
from service.settings import Settings
from worker.cache.store import Place
from worker.isolate import Limits
from worker.job import JobResult, run_check, run_features

MIB = 2**20
EXTRAS = ("report.html", "setup-sheet.pdf", "stages/*.png", "stages/*.glb")
"""Further files to make for each check, by the names that ``worker.extras`` knows."""
log = logging.getLogger("reclamp.geometry")


class Geometry:
    """Checks and recognitions within the limits of the settings."""

    def __init__(self, settings: Settings) -> None:
        seconds = settings.time_limit
        self._limits = Limits(wall=seconds, cpu=seconds * 1.2, memory=settings.memory_limit_mb * MIB)
        self._settings = settings

    def check(self, inputs: Inputs, pulse: Pulse) -> Results:
        """Check a plan. Raises Problem, Abandoned, RuntimeError for a fault of the program."""
        try:
            result = self._run(inputs, pulse, EXTRAS)
        except RuntimeError:  # a page that cannot be made costs the page, never the check
            log.exception("check broke; once more without page and sheet")
            result = self._run(inputs, pulse, ())
        return Results(result.report, result.stages, result.extras)

    def _run(self, inputs: Inputs, pulse: Pulse, extras: tuple[str, ...]) -> JobResult:
        return run_check(
            inputs.part,
            inputs.plan,
            inputs.files,
            self._limits,
            pulse.progress,
            extras=extras,
            method="forkserver",
            cancelled=lambda: _stop(pulse),
            cache=cache_of(self._settings, inputs.tenant),
        )

    def features(self, inputs: Inputs, pulse: Pulse) -> bytes:
        """Recognise a part's features. Raises as ``check``."""
        cache = cache_of(self._settings, inputs.tenant)
        return run_features(inputs.part, limits=self._limits, method="forkserver", cache=cache).document


def cache_of(settings: Settings, tenant: str) -> Place | None:
    """Where a tenant's checks leave what they found out. The key is the tenant's own: nobody can tell by the time that
    an answer takes whether another tenant has sent the same part, nor leave an entry that another would find.
    """
    if not settings.cache_mb:
        return None
    master = settings.secret.get_secret_value().encode()
    key = hmac.digest(master, f"reclamp cache of {tenant}".encode(), hashlib.sha256)
    return Place(str(settings.data.resolve() / "cache"), key, settings.cache_mb * MIB, settings.cache_hours * 3600.0)


def _stop(pulse: Pulse) -> bool:
    if pulse.over:
        raise Abandoned
    return False
