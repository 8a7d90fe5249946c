from __future__ import annotations

from pathlib import Path

import pytest

from schemas.problem import Problem
from service.cli.main import main
from service.keys import service
from service.settings import Settings
from service.store.database import Database, migrate
from tests.support.service_stack import Stack, eventually


@pytest.fixture
def database(tmp_path: Path) -> Database:
    url = f"sqlite:///{tmp_path / 'keys.db'}"
    migrate(url)
    return Database(url)


def test_only_the_whole_token_is_let_in(database: Database) -> None:
    new = service.create(database, Settings(), tenant="acme", name="x")
    found = service.verify(database, new.token)
    assert found is not None
    assert (found.tenant, found.id) == ("acme", new.id)
    other = service.create(database, Settings(), tenant="acme", name="y")
    mixed = f"rck_{new.id}_{other.token.split('_', 2)[2]}"
    for wrong in (mixed, new.token[:-1], new.token + "a", new.token.upper(), "", "rck__", f"rck_{new.id}_" + "A" * 43):
        assert service.verify(database, wrong) is None


def test_expired_and_revoked_keys_are_not_let_in(database: Database) -> None:
    expired = service.create(database, Settings(), tenant="acme", name="x", days=-1)
    revoked = service.create(database, Settings(), tenant="acme", name="y")
    service.end(database, revoked.id)
    assert service.verify(database, expired.token) is None
    assert service.verify(database, revoked.token) is None


def test_rotation_keeps_the_old_key_for_the_grace_and_its_rights(database: Database) -> None:
    old = service.create(database, Settings(), tenant="acme", name="x", scopes=["checks:read"], max_active=3)
    new = service.rotate(database, Settings(), old.id, grace_hours=1)
    found = service.verify(database, new.token)
    assert found is not None
    assert (found.scopes, found.max_active) == (["checks:read"], 3)
    assert service.verify(database, old.token) is not None
    service.rotate(database, Settings(), old.id, grace_hours=0)
    assert service.verify(database, old.token) is None


@pytest.mark.parametrize(("tenant", "scope"), [("../etc", "checks:read"), ("", "checks:read"), ("acme", "root")])
def test_bad_tenants_and_scopes_are_refused(database: Database, tenant: str, scope: str) -> None:
    with pytest.raises(Problem):
        service.create(database, Settings(), tenant=tenant, name="x", scopes=[scope])


def test_keys_command_makes_lists_rotates_and_revokes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    data = ["--data", str(tmp_path)]
    assert main(["keys", *data, "create", "--tenant", "acme", "--name", "portal"]) == 0
    token = capsys.readouterr().out.strip()
    key_id = token.split("_")[1]
    assert main(["keys", *data, "rotate", key_id, "--grace-hours", "0"]) == 0
    fresh = capsys.readouterr().out.strip()
    assert main(["keys", *data, "list"]) == 0
    listing = capsys.readouterr().out
    assert token.split("_", 2)[2] not in listing
    assert [line.split()[0] for line in listing.splitlines()] == [key_id, fresh.split("_")[1]]
    assert main(["keys", *data, "revoke", "nobody"]) == 2


def test_door_tells_missing_wrong_and_weak_keys_apart(stack: Stack) -> None:
    with stack.client("rck_" + "0" * 12 + "_" + "A" * 43) as client:
        wrong = client.get("/v1/checks")
        missing = client.get("/v1/checks", headers={"Authorization": ""})
    with stack.client(stack.new_key("reader", scopes=["checks:read"])) as client:
        weak = stack.submit(client=client)
        assert client.get("/v1/checks").status_code == 200
        assert client.get("/metrics").status_code == 403
        assert client.get("/v1/audit").status_code == 403
    assert [answer.status_code for answer in (wrong, missing, weak)] == [401, 401, 403]
    assert wrong.headers["www-authenticate"] == "Bearer"
    assert weak.json()["type"] == "urn:reclamp:problem:auth.scope"


def test_unknown_key_is_refused_before_its_body_is_read(stack: Stack) -> None:
    with stack.client("nobody") as client:
        answer = client.post("/v1/checks", content=b"x" * 1000, headers={"Content-Type": "multipart/form-data"})
    assert answer.status_code == 401


def test_rate_of_a_key_is_kept(stack: Stack) -> None:
    with stack.client(stack.new_key("hasty", requests_per_minute=10)) as client:
        answers = [client.get("/v1/checks") for _ in range(14)]
    assert [answer.status_code for answer in answers[:10]] == [200] * 10
    assert {answer.status_code for answer in answers[10:]} == {429}
    assert 1 <= int(answers[-1].headers["retry-after"]) <= 60


def test_audit_names_key_action_and_object(stack: Stack) -> None:
    token = stack.new_key("audited", scopes=["checks:read", "checks:write", "ops:read"])
    with stack.client(token) as client:
        check = stack.submit("sleep 3", client=client, **{"X-Request-Id": "portal-4711-abc"}).json()["id"]
        client.delete(f"/v1/checks/{check}")
        log = client.get("/v1/audit").json()
    assert [(line["action"], line["object"]) for line in log] == [("check.cancel", check), ("check.create", check)]
    assert {line["key"] for line in log} == {token.split("_")[1]}
    assert log[1]["request"] == "portal-4711-abc"


def test_metrics_count_jobs_and_requests_without_naming_anybody(stack: Stack) -> None:
    stack.final(stack.submit().json()["id"])
    with stack.client(stack.new_key("operator", scopes=["ops:read"])) as client:
        # the second worker may still start when the first has done the job; a killed one's sign takes 10 s to fade
        eventually(lambda: "reclamp_workers 2.0" in client.get("/metrics").text)
        text = client.get("/metrics").text
    assert 'reclamp_jobs{kind="check",state="done"}' in text
    assert 'reclamp_http_requests_total{method="POST",route="/v1/checks",status="202"}' in text
    assert "acme" not in text
