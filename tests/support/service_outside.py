"""Servers outside the service for its tests: PostgreSQL where it is installed, and an S3 look-alike."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from service.broker.processes import end, spawn
from tests.support.service_stack import eventually, free_port


class Postgres:
    """A PostgreSQL server of our own in a folder; the test is skipped where there is none."""

    def __init__(self, folder: Path) -> None:
        initdb, server = shutil.which("initdb"), shutil.which("postgres")
        if initdb is None or server is None:
            pytest.skip("PostgreSQL is not installed")
        self._server, self._data, self._port = server, folder / "pg", free_port()
        self._user = _plain_user()
        self._data.mkdir()
        if self._user is not None:
            os.chown(self._data, self._user.pw_uid, self._user.pw_gid)
            for parent in (folder, *folder.parents[:3]):
                parent.chmod(parent.stat().st_mode | 0o055)
        options = ["-D", str(self._data), "-U", "reclamp", "--auth=trust", "--no-sync", "-E", "UTF8"]
        subprocess.run([initdb, *options], check=True, capture_output=True, preexec_fn=self._become)
        self.url = f"postgresql+psycopg://reclamp@127.0.0.1:{self._port}/postgres"
        self.start()

    def _become(self) -> None:
        if self._user is not None:
            os.setgid(self._user.pw_gid)
            os.setuid(self._user.pw_uid)

    def start(self) -> None:
        command = [self._server, "-D", str(self._data), "-p", str(self._port), "-h", "127.0.0.1", "-k", str(self._data)]
        self._process = subprocess.Popen(
            [*command, "-F"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, preexec_fn=self._become
        )
        eventually(self._answers, 20)

    def _answers(self) -> bool:
        from sqlalchemy import create_engine, text
        from sqlalchemy.exc import OperationalError

        engine = create_engine(self.url)
        try:
            with engine.connect() as connection:
                connection.execute(text("SELECT 1"))
        except OperationalError:
            return False
        finally:
            engine.dispose()
        return True

    def stop(self) -> None:
        """Immediate shutdown: connections are cut, as in a crash."""
        self._process.send_signal(3)
        self._process.wait(15)


def _plain_user() -> pwd.struct_passwd | None:
    """PostgreSQL refuses to run as root."""
    if os.getuid() != 0:
        return None
    return pwd.getpwnam("postgres")


class Bucket:
    """An S3 look-alike on loopback with one bucket."""

    def __init__(self) -> None:
        port = free_port()
        self._process = spawn([sys.executable, "-m", "moto.server", "-p", str(port)], dict(os.environ), quiet=True)
        self.url = "s3://reclamp/artefacts"
        self.env = {
            "AWS_ENDPOINT": f"http://127.0.0.1:{port}",
            "AWS_ALLOW_HTTP": "true",
            "AWS_ACCESS_KEY_ID": "test",
            "AWS_SECRET_ACCESS_KEY": "test",
            "AWS_REGION": "us-east-1",
        }
        self._make(port)

    def _make(self, port: int) -> None:
        import httpx

        deadline = time.monotonic() + 20
        while time.monotonic() < deadline:
            try:
                if httpx.put(f"http://127.0.0.1:{port}/reclamp").status_code == 200:
                    return
            except httpx.HTTPError:
                time.sleep(0.1)
        raise AssertionError("the bucket does not answer")

    def stop(self) -> None:
        end(self._process, 5)
