"""Storage that fills up, goes away or comes back; and clocks that jump."""

from __future__ import annotations

import os
import subprocess
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import text

from service.errors import TooMany
from service.jobs import repository
from service.jobs.repository import Outcome
from service.jobs.submit import Submission, submit
from service.keys.schemas import SCOPES, Principal
from service.settings import Settings
from service.store.artefacts import Artefacts, Gone, StoreError
from service.store.database import Database, migrate
from service.store.expiry import Expiry
from service.store.files import Content
from service.store.models import Job, StoredFile
from service.wiring import Wiring, wire
from tests.support.service_outside import Bucket, Postgres
from tests.support.service_stack import Stack, eventually

WHO = Principal("acme", "none", frozenset(SCOPES), 1000)
DAY = 86400.0


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 2 MB."""
    folder = tmp_path / "small"
    folder.mkdir()
    if os.getuid() != 0 or subprocess.run(["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", folder]).returncode:
        pytest.skip("a small file system cannot be mounted here")
    yield folder
    subprocess.run(["umount", "-l", folder], check=True)


@pytest.fixture
def wiring(tmp_path: Path) -> Iterator[Wiring]:
    """The service's parts without its processes: no broker, no relay thread."""
    settings = Settings(data=tmp_path)
    migrate(settings.database())
    wiring = wire(settings)
    yield wiring
    wiring.database.close()


def _submission(data: bytes = b"ISO-10303-21;", key: str | None = None) -> Submission:
    import hashlib

    sha256 = hashlib.sha256(data).hexdigest()
    return Submission("features", sha256, (Content(sha256, len(data), data),), idempotency_key=key)


def _run(wiring: Wiring, job: Job) -> None:
    with wiring.database.write() as session:
        claimed = repository.claim(session, job.id, "w")
        assert claimed is not None
        wiring.artefacts.put(f"x/{job.id}", b"result")
        kept = {"r": {"object": f"x/{job.id}", "media_type": "a/b", "size": 6, "sha256": "0" * 64}}
        assert repository.finish(session, job.id, claimed.attempt, Outcome(artefacts=kept))


def test_full_disk_refuses_new_checks_and_loses_no_old_ones(tmp_path: Path, small_disk: Path) -> None:
    stack = Stack(tmp_path / "data", RECLAMP_STORE_URL=small_disk.as_uri())
    try:
        stack.start(alone=False)
        before = stack.submit().json()["id"]
        assert stack.final(before)["state"] == "done"
        answers = [stack.submit("size 3", f"pad {'x' * 300_000}{n}") for n in range(9)]
        refused = [answer for answer in answers if answer.status_code != 202]
        assert refused and {answer.status_code for answer in refused} == {507}
        assert refused[0].json()["type"] == "urn:reclamp:problem:storage.full"
        waiting = stack.submit("size 900000")  # small to send, but its result finds no room
        accepted = [answer.json()["id"] for answer in (*answers, waiting) if answer.status_code == 202]
        time.sleep(1)
        with stack.client() as client:
            assert client.get(f"/v1/checks/{before}/report").status_code == 200
        subprocess.run(["mount", "-o", "remount,size=64m", small_disk], check=True)
        assert {stack.final(check)["state"] for check in accepted} == {"done"}
    finally:
        stack.stop()


def test_full_database_is_told_as_full(wiring: Wiring) -> None:
    """max_page_count makes SQLite answer SQLITE_FULL as a full disk does (sqlite.org/rescode.html#full)."""
    from service.errors import database_problem

    with wiring.database.write() as session:
        pages = session.execute(text("PRAGMA page_count")).scalar_one()
        session.execute(text(f"PRAGMA max_page_count={pages}"))
        with pytest.raises(Exception, match="full") as caught:
            for number in range(200):
                session.add(_row(f"{number:032x}"))
                session.flush()
        assert database_problem(caught.value).status == 507
        session.rollback()


def _row(job_id: str) -> Job:
    empty = {"part": "p", "plan": None, "files": {}}
    common = {"tenant": "acme", "key": "none", "kind": "check", "fingerprint": "f" * 64, "part": "p", "inputs": empty}
    return Job(id=job_id, state="queued", created=0.0, name="n" * 200, **common)


@pytest.fixture(scope="module")
def postgres(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Postgres]:
    server = Postgres(tmp_path_factory.mktemp("postgres"))
    yield server
    server.stop()


@pytest.fixture(scope="module")
def bucket() -> Iterator[Bucket]:
    bucket = Bucket()
    yield bucket
    bucket.stop()


def test_database_gone_for_a_while_loses_nothing(tmp_path: Path, postgres: Postgres, bucket: Bucket) -> None:
    """PostgreSQL and S3 in place of SQLite and a folder; the database crashes while a check runs."""
    env = {"RECLAMP_DATABASE_URL": postgres.url, "RECLAMP_STORE_URL": bucket.url, **bucket.env}
    stack = Stack(tmp_path, **env)
    try:
        stack.start(alone=False)
        first = stack.submit("sleep 1.5").json()["id"]
        second = stack.submit().json()["id"]
        eventually(lambda: stack.state(first)["state"] == "running")
        postgres.stop()
        refused = stack.submit()
        assert refused.status_code == 503
        assert refused.json()["type"] == "urn:reclamp:problem:service.unavailable"
        with stack.client() as client:
            assert client.get("/readyz").json()["parts"]["database"] == "away"
        time.sleep(2.5)  # longer than the lease, and the check ends meanwhile
        postgres.start()
        done = stack.final(first)
        assert (done["state"], done["attempt"]) == ("done", 1)
        assert stack.final(second)["state"] == "done"
        with stack.client() as client:
            stage = client.get(done["links"]["stages"]["S1.step"])
        assert stage.content.startswith(b"ISO-10303-21;")
    finally:
        stack.stop()


def test_bucket_keeps_gives_and_deletes(bucket: Bucket, monkeypatch: pytest.MonkeyPatch) -> None:
    for name, value in bucket.env.items():
        monkeypatch.setenv(name, value)
    _keeps_gives_and_deletes(Artefacts(bucket.url))


def test_folder_keeps_gives_and_deletes(tmp_path: Path) -> None:
    _keeps_gives_and_deletes(Artefacts(tmp_path.as_uri()))


def _keeps_gives_and_deletes(artefacts: Artefacts) -> None:
    artefacts.ping()
    artefacts.put("t/a", b"one")
    artefacts.put("t/a", b"two")  # written once: the first stays
    assert artefacts.get("t/a") == b"one"
    assert b"".join(artefacts.stream("t/a")) == b"one"
    artefacts.delete("t/a", "t/a")
    with pytest.raises(Gone):
        artefacts.get("t/a")
    with pytest.raises(Gone):
        artefacts.stream("t/a")


def test_store_that_is_away_is_an_error_of_its_own(tmp_path: Path) -> None:
    artefacts = Artefacts((tmp_path / "store").as_uri())
    (tmp_path / "store").rmdir()
    (tmp_path / "store").write_text("no folder any more")
    with pytest.raises(StoreError):
        artefacts.put("t/a", b"one")


def test_failed_acceptance_leaves_no_file_behind(wiring: Wiring, tmp_path: Path) -> None:
    with wiring.database.write() as session:
        session.execute(text("DROP TABLE audit"))
    with pytest.raises(Exception, match="audit"):
        submit(wiring, WHO, _submission())
    assert [path for path in (tmp_path / "store").rglob("*") if path.is_file()] == []


def test_tenant_has_only_so_much_room(wiring: Wiring) -> None:
    wiring = replace(wiring, settings=Settings(data=wiring.settings.data, max_tenant_bytes=100))
    submit(wiring, WHO, _submission(b"ISO-10303-21;" + b"a" * 60))
    with pytest.raises(TooMany) as caught:
        submit(wiring, WHO, _submission(b"ISO-10303-21;" + b"b" * 60))
    assert caught.value.type == "limit.storage"
    submit(wiring, replace(WHO, tenant="other"), _submission(b"ISO-10303-21;" + b"b" * 60))


def test_expiry_deletes_what_is_old_and_nothing_that_waits(wiring: Wiring, tmp_path: Path) -> None:
    settings = Settings(data=tmp_path, retention_days=1)
    old = submit(wiring, WHO, _submission(b"ISO-10303-21;old")).job
    _run(wiring, old)
    waiting = submit(wiring, WHO, _submission(b"ISO-10303-21;waiting")).job
    now = [time.time()]
    expiry = Expiry(settings, wiring.database, wiring.artefacts, lambda: now[0], lambda: now[0])
    assert expiry.sweep() == 0
    now[0] += 3 * DAY
    assert expiry.sweep() >= 1
    with wiring.database.read() as session:
        assert session.get(Job, old.id) is None
        assert session.get(Job, waiting.id) is not None
        assert wiring.artefacts.get(str(waiting.inputs["part"])) == b"ISO-10303-21;waiting"
    with pytest.raises(Gone):
        wiring.artefacts.get(f"x/{old.id}")
    _run(wiring, waiting)
    now[0] += 3 * DAY
    expiry.sweep()
    assert [path for path in (tmp_path / "store").rglob("*") if path.is_file()] == []


def test_clock_that_jumps_ahead_deletes_nothing(wiring: Wiring, tmp_path: Path) -> None:
    _run(wiring, submit(wiring, WHO, _submission()).job)
    wall, steady = [time.time()], [0.0]
    expiry = Expiry(Settings(data=tmp_path), wiring.database, wiring.artefacts, lambda: wall[0], lambda: steady[0])
    assert expiry.sweep() == 0
    wall[0] += 400 * DAY
    assert expiry.sweep() == 0
    wall[0] -= 400 * DAY
    steady[0] += 2 * DAY
    wall[0] += 2 * DAY
    assert expiry.sweep() == 0


def test_clock_that_jumps_loses_no_running_job(wiring: Wiring, monkeypatch: pytest.MonkeyPatch) -> None:
    """A lease is measured by the relay's own steady clock: only silence for a whole lease makes a job lost."""
    from service.broker.relay import Relay

    job = submit(wiring, WHO, _submission()).job
    with wiring.database.write() as session:
        assert repository.claim(session, job.id, "w") is not None
    steady, real = [0.0], time.time
    relay = Relay(wiring.settings, wiring.database, wiring.celery, wiring.redis, lambda: steady[0])
    for jump in (10 * 365 * DAY, -10 * 365 * DAY):
        monkeypatch.setattr(time, "time", lambda jump=jump: real() + jump)
        for _ in range(3):
            steady[0] += wiring.settings.lease * 0.9
            with wiring.database.write() as session:
                assert repository.beat(session, job.id, 1, None)
            relay._recover()
        assert _state(wiring.database, job.id) == ("running", 1)
    steady[0] += wiring.settings.lease * 1.1
    relay._recover()
    assert _state(wiring.database, job.id) == ("queued", 1)


def test_blind_spell_of_the_relay_is_not_held_against_a_worker(wiring: Wiring, monkeypatch: pytest.MonkeyPatch) -> None:
    from service.broker.relay import Relay

    job = submit(wiring, WHO, _submission()).job
    with wiring.database.write() as session:
        assert repository.claim(session, job.id, "w") is not None
    steady = [0.0]
    relay = Relay(wiring.settings, wiring.database, wiring.celery, wiring.redis, lambda: steady[0])
    relay.round()

    def away(*_: object) -> None:
        raise OSError("the database is away")

    with monkeypatch.context() as patch:
        patch.setattr(repository, "running", away)
        steady[0] += 10 * wiring.settings.lease
        relay.round()
    relay.round()
    assert _state(wiring.database, job.id) == ("running", 1)


def _state(database: Database, job_id: str) -> tuple[str, int]:
    with database.read() as session:
        job = session.get_one(Job, job_id)
        return job.state, job.attempt


def test_file_that_expires_while_it_is_sent_again_is_stored_again(wiring: Wiring) -> None:
    """The expiry takes the file out between the look (it is there) and the use."""
    _run(wiring, submit(wiring, WHO, _submission()).job)
    from service.jobs import submit as module

    real, raced = module.enter, []

    def racing(session, tenant, kept):  # type: ignore[no-untyped-def]
        if not raced:
            raced.append(True)
            session.query(StoredFile).delete()
        return real(session, tenant, kept)

    module.enter = racing
    try:
        job = submit(wiring, WHO, _submission()).job
    finally:
        module.enter = real
    assert wiring.artefacts.get(str(job.inputs["part"])) == b"ISO-10303-21;"
