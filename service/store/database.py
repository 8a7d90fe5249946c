"""The database: SQLite for one machine, PostgreSQL for more; the same statements for both."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, create_engine, event, make_url, text
from sqlalchemy.orm import Session

MIGRATIONS = Path(__file__).parent / "migrations"
_MIGRATION_LOCK = 7_215_031


class Database:
    """Short transactions on one engine."""

    def __init__(self, url: str) -> None:
        self.url = url
        self.engine = _engine(url)
        self._writes = self.engine.execution_options(writes=True)

    @contextmanager
    def read(self) -> Iterator[Session]:
        """A transaction that only reads."""
        with Session(self.engine) as session:
            yield session

    @contextmanager
    def write(self) -> Iterator[Session]:
        """A transaction that writes; committed when the block ends, undone when it raises."""
        with Session(self._writes, expire_on_commit=False) as session, session.begin():
            yield session

    def ping(self) -> None:
        """Raise what the driver raises when the database cannot be reached."""
        with self.engine.connect() as connection:
            connection.execute(text("SELECT 1"))

    def close(self) -> None:
        """Give all connections back."""
        self.engine.dispose()


def _engine(url: str) -> Engine:
    if make_url(url).get_backend_name() != "sqlite":
        return create_engine(url, pool_pre_ping=True, pool_size=8, max_overflow=8, pool_timeout=10)
    engine = create_engine(url, connect_args={"timeout": 15, "check_same_thread": False}, pool_size=8, max_overflow=24)
    event.listen(engine, "connect", _on_sqlite_connect)
    event.listen(engine, "begin", _on_sqlite_begin)
    return engine


def _on_sqlite_connect(connection: Any, _record: Any) -> None:
    connection.isolation_level = None  # we say BEGIN ourselves: the driver's own would start writes as reads
    for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON", "busy_timeout=15000"):
        connection.execute(f"PRAGMA {pragma}")


def _on_sqlite_begin(connection: Any) -> None:
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def migrate(url: str) -> None:
    """Bring the tables up to date. Safe to run from several processes at once on PostgreSQL (advisory lock)."""
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    config.set_main_option("sqlalchemy.url", url.replace("%", "%%"))
    engine = _engine(url)
    try:
        with engine.execution_options(writes=True).begin() as connection:
            if engine.dialect.name == "postgresql":
                connection.execute(text(f"SELECT pg_advisory_xact_lock({_MIGRATION_LOCK})"))
            config.attributes["connection"] = connection
            command.upgrade(config, "head")
    finally:
        engine.dispose()
