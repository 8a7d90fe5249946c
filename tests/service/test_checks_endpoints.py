from __future__ import annotations

from tests.support.service_stack import Stack


def test_a_check_is_accepted_run_and_reported(stack: Stack) -> None:
    accepted = stack.submit()
    assert accepted.status_code == 202
    assert accepted.headers["location"] == f"/v1/checks/{accepted.json()['id']}"
    done = stack.final(accepted.json()["id"])
    assert (done["state"], done["verdict"], done["attempt"]) == ("done", "pass", 1)
    with stack.client() as client:
        report = client.get(done["links"]["report"])
        stage = client.get(done["links"]["stages"]["S1.step"])
    assert report.json()["verdict"] == "pass"
    assert stage.content.startswith(b"ISO-10303-21;")
