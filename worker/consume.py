"""Runs the Celery worker of one process: one job at a time, from one queue."""

from __future__ import annotations

import os
import socket

from celery import Celery
from celery.signals import worker_shutting_down

from service.jobs.running import Runner


def consume(app: Celery, runner: Runner, queue: str) -> None:
    """Take jobs until the process is told to end; then hand back what is under way.

    Threads, not prefork: the child that is thrown away is ours, and a fork of a process that has threads or has used
    the kernel is not to be trusted.
    """

    def stop(**_: object) -> None:
        runner.stopping.set()

    worker_shutting_down.connect(stop, weak=False)
    name = f"{queue}-{os.getpid()}@{socket.gethostname()}"
    options = ["--pool=threads", "--concurrency=1", f"--queues={queue}", f"--hostname={name}", "--loglevel=WARNING"]
    app.worker_main(["worker", *options, "--without-gossip", "--without-mingle", "--without-heartbeat"])
