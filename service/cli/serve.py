"""Start API, workers and broker on this machine; Ctrl-C ends all. Settings come from RECLAMP_ variables."""

from __future__ import annotations

import argparse
import ipaddress
import os
from pathlib import Path
from typing import TYPE_CHECKING

from schemas.problem import Problem
from service.broker.processes import MODULE

if TYPE_CHECKING:
    from service.settings import Settings

WORKER = (*MODULE, "service.work.main")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("--host", default="127.0.0.1", help="address to listen on (default: 127.0.0.1)")
    parser.add_argument("--port", type=int, default=8000, help="port to listen on (default: 8000)")
    parser.add_argument("--data", type=Path, metavar="DIR", help="folder for everything (default: reclamp-data)")
    parser.add_argument("--workers", type=int, default=0, help="worker processes (default: one for each core but one)")
    parser.add_argument("--no-auth", action="store_true", help="take requests without a key; only on loopback")
    parser.add_argument(
        "--only", choices=("api", "worker", "worker-alone", "migrate"), help="run one process alone, as containers do"
    )


def run(args: argparse.Namespace) -> int:
    """Serve until a signal comes."""
    from service.logs import configure
    from service.store.database import migrate

    settings = _settings(args)
    configure(settings.log_level)
    if args.only is None:
        return _serve(args, settings)
    if args.only in ("api", "migrate"):
        migrate(settings.database())
    return 0 if args.only == "migrate" else _replace(args, settings)


def _settings(args: argparse.Namespace) -> Settings:
    from service.serving import prepare
    from service.settings import Settings

    changes: dict[str, object] = {} if args.data is None else {"data": args.data}
    if args.no_auth:
        if not _is_loopback(args.host):
            raise Problem(
                "serve.no-auth",
                "Keys are needed",
                "--no-auth is only for loopback addresses.",
                pointer="--no-auth",
                remedy="Leave --host at 127.0.0.1, or leave --no-auth out.",
            )
        changes["auth"] = False
    return prepare(Settings(**changes))  # type: ignore[arg-type]


def _is_loopback(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def _serve(args: argparse.Namespace, settings: Settings) -> int:
    from service.serving import claim_folder, claim_port, family
    from service.settings import Settings
    from service.store.database import migrate

    own_broker = not Settings().broker_url.get_secret_value()
    lock = claim_folder(settings.data)
    claim_port(args.host, args.port)
    migrate(settings.database())
    _first_key(settings)
    workers = args.workers or max(1, (os.cpu_count() or 2) - 1)
    print(f"Reclamp at http://{args.host}:{args.port}  (docs: /docs)  data: {settings.data.resolve()}", flush=True)
    print("Ctrl-C ends it.", flush=True)
    with lock:
        family(settings, args.host, args.port, workers, WORKER, own_broker=own_broker).run()
    return 0


def _first_key(settings: Settings) -> None:
    """Show a first key, once: when keys are needed and there is none yet."""
    from service.keys import repository, service
    from service.keys.schemas import SCOPES
    from service.store.database import Database

    database = Database(settings.database())
    with database.read() as session:
        any_key = bool(repository.all_keys(session))
    if settings.auth and not any_key:
        new = service.create(database, settings, tenant="main", name="first key", scopes=SCOPES)
        print(f"First API key, shown this once:  {new.token}", flush=True)
    database.close()


def _replace(args: argparse.Namespace, settings: Settings) -> int:
    """Become the process that was asked for."""
    from service.broker.queue import ALONE, SHARED
    from service.serving import environment

    commands = {
        "api": [*MODULE, "service.api", "--host", args.host, "--port", str(args.port)],
        "worker": [*WORKER, SHARED],
        "worker-alone": [*WORKER, ALONE],
    }
    command = commands[args.only]
    os.execve(command[0], command, environment(settings))
