"""The worker's Celery application: load, compute in the killable child, store."""

from __future__ import annotations

from celery import Celery

from service.broker.queue import TASK, celery_app
from service.jobs.running import Compute, Runner
from service.settings import Settings
from service.store.artefacts import Artefacts
from service.store.database import Database
from service.work.promptly import Promptly


def make_app(settings: Settings, compute: Compute) -> tuple[Celery, Runner]:
    """The application and the runner behind its one task."""
    app = celery_app(settings.broker())
    app.steps["consumer"].add(Promptly)
    runner = Runner(settings, Database(settings.database()), Artefacts(settings.store()), compute)

    @app.task(name=TASK, ignore_result=True)
    def run(job_id: str) -> None:
        """Carry one job out."""
        runner.run(job_id)

    return app, runner
