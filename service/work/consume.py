"""Runs the Celery worker of one process: one job at a time, from one queue."""

from __future__ import annotations

import os
import socket
from typing import Any

from celery import Celery
from celery.signals import worker_shutting_down

from service.broker.presence import announce
from service.jobs.running import Runner
from service.settings import Settings
from service.wiring import redis_client
from service.work.compute import cache_of
from worker.cache.store import keep_tidy


def consume(app: Celery, runner: Runner, settings: Settings, queue: str) -> None:
    """Take jobs until the process is told to end; then hand back what is under way.

    Threads, not prefork: the child that is thrown away is ours, and a fork of a process that has threads or has used
    the kernel is not to be trusted.
    """

    def stop(**_: Any) -> None:
        runner.stopping.set()

    worker_shutting_down.connect(stop, weak=False)
    name = f"{queue}-{os.getpid()}@{socket.gethostname()}"
    announce(redis_client(settings.broker()), name, runner.stopping)
    cache = cache_of(settings, "")
    if cache:
        keep_tidy(cache, runner.stopping)
    options = ["--pool=threads", "--concurrency=1", f"--queues={queue}", f"--hostname={name}", "--loglevel=WARNING"]
    app.worker_main(["--quiet", "worker", *options, "--without-gossip", "--without-mingle", "--without-heartbeat"])
