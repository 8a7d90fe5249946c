"""Create, list, rotate and revoke API keys. A key is shown once; only its hash is kept."""

from __future__ import annotations

import argparse
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from service.settings import Settings
    from service.store.database import Database
    from service.store.models import Key


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("--data", type=Path, metavar="DIR", help="the service's folder (default: reclamp-data)")
    actions = parser.add_subparsers(dest="action", required=True, metavar="ACTION")
    create = actions.add_parser("create", help="make a key and print it")
    create.add_argument("--tenant", default="main", help="whose checks it sees (default: main)")
    create.add_argument("--name", default="", help="what it is for")
    create.add_argument(
        "--scope", action="append", default=[], help="checks:read, checks:write, webhooks:write, ops:read"
    )
    create.add_argument("--rate", type=int, help="requests per minute")
    create.add_argument("--max-active", type=int, help="checks waiting or running at once")
    create.add_argument("--days", type=float, help="days until it expires (default: never)")
    listing = actions.add_parser("list", help="list keys, without their secrets")
    listing.add_argument("--tenant", help="of this tenant only")
    rotate = actions.add_parser("rotate", help="replace a key by a new one and print that")
    rotate.add_argument("id")
    rotate.add_argument("--grace-hours", type=float, default=24.0, help="the old key ends then (default: 24)")
    revoke = actions.add_parser("revoke", help="end a key now")
    revoke.add_argument("id")


def run(args: argparse.Namespace) -> int:
    """Do it."""
    from service.serving import prepare
    from service.settings import Settings
    from service.store.database import Database, migrate

    settings = prepare(Settings() if args.data is None else Settings(data=args.data))
    migrate(settings.database())
    database = Database(settings.database())
    try:
        _act(args, settings, database)
    finally:
        database.close()
    return 0


def _act(args: argparse.Namespace, settings: Settings, database: Database) -> None:
    from service.keys import service

    if args.action == "create":
        scopes = {"scopes": args.scope} if args.scope else {}
        limits = {"requests_per_minute": args.rate, "max_active": args.max_active, "days": args.days}
        name = args.name or f"key of {args.tenant}"
        print(service.create(database, settings, tenant=args.tenant, name=name, **scopes, **limits).token)
    elif args.action == "rotate":
        print(service.rotate(database, settings, args.id, grace_hours=args.grace_hours).token)
    elif args.action == "revoke":
        service.end(database, args.id)
        print(f"{args.id} is revoked")
    else:
        _list(database, args.tenant)


def _list(database: Database, tenant: str | None) -> None:
    from service.keys import repository

    with database.read() as session:
        for key in repository.all_keys(session, tenant):
            print(f"{key.id}  {key.tenant:<16} {_state(key):<28} {','.join(key.scopes)}  {key.name}")


def _state(key: Key) -> str:
    if key.revoked is not None:
        return f"revoked {_day(key.revoked)}"
    return "live" if key.expires is None else f"until {_day(key.expires)}"


def _day(seconds: float) -> str:
    return datetime.fromtimestamp(seconds, UTC).strftime("%Y-%m-%d %H:%M UTC")
