"""Celery as transport: the message is a job's id and nothing else."""

from __future__ import annotations

from celery import Celery

TASK = "reclamp.run"
SHARED, ALONE = "reclamp.shared", "reclamp.alone"


def celery_app(broker_url: str) -> Celery:
    """The Celery application, for the sender and for the worker.

    Early acknowledgement and no results: the database knows what runs and how it ended. A broker that is away is an
    error at once, not a wait of 19 s; the relay tries again.
    """
    app = Celery("reclamp", broker=broker_url, set_as_current=False)
    app.conf.update(
        task_ignore_result=True,
        task_acks_late=False,
        task_publish_retry=False,
        task_serializer="json",
        accept_content=["json"],
        task_default_queue=SHARED,
        worker_prefetch_multiplier=1,
        worker_disable_prefetch=True,  # a busy worker must not hold a message that an idle one could take
        worker_enable_remote_control=False,
        worker_hijack_root_logger=False,
        worker_cancel_long_running_tasks_on_connection_loss=False,
        broker_connection_retry_on_startup=True,
        broker_connection_max_retries=None,
        broker_transport_options={
            "visibility_timeout": 3600,
            "socket_timeout": 5,
            "socket_connect_timeout": 2,
            "socket_keepalive": True,
            "max_retries": 0,
        },
        redis_socket_timeout=5,
        redis_socket_connect_timeout=2,
        redis_retry_on_timeout=False,
    )
    return app


def publish(app: Celery, job_id: str, *, alone: bool) -> None:
    """Send the id of a job. Raises kombu's or redis' connection errors at once when the broker is away."""
    app.send_task(TASK, args=[job_id], queue=ALONE if alone else SHARED, ignore_result=True, retry=False)
