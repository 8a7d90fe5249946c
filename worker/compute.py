"""The geometry as the service's worker uses it: one killable child for each job, forked from a warm server."""

from __future__ import annotations

import logging

from service.jobs.pulse import Abandoned, Pulse
from service.jobs.running import Inputs, Results
from service.settings import Settings
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
        )

    def features(self, inputs: Inputs, pulse: Pulse) -> bytes:
        """Recognise a part's features. Raises as ``check``."""
        return run_features(inputs.part, limits=self._limits, method="forkserver").document


def _stop(pulse: Pulse) -> bool:
    if pulse.over:
        raise Abandoned
    return False
