from __future__ import annotations

import json
import threading
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import httpx
import pytest

from tests.support.service_stack import PLAN, Stack, eventually, part


def _kind(response: httpx.Response) -> str:
    assert response.headers["content-type"] == "application/problem+json", response.text
    return str(response.json()["type"]).removeprefix("urn:reclamp:problem:")


def _files(plan: Any = PLAN, content: bytes | None = None, **more: bytes) -> dict[str, Any]:
    files = {"part": ("p.step", part() if content is None else content), "plan": ("plan.json", json.dumps(plan))}
    return files | {name: (f"{name}.step", data) for name, data in more.items()}


def test_a_check_is_accepted_run_and_reported(stack: Stack) -> None:
    accepted = stack.submit()
    assert accepted.status_code == 202
    assert accepted.headers["location"] == f"/v1/checks/{accepted.json()['id']}"
    done = stack.final(accepted.json()["id"])
    assert (done["state"], done["verdict"], done["attempt"]) == ("done", "pass", 1)
    assert done["counts"] == {"error": 0, "warning": 0, "note": 0}
    with stack.client() as client:
        report = client.get(done["links"]["report"])
        stage = client.get(done["links"]["stages"]["S1.step"])
    assert report.json()["verdict"] == "pass"
    assert stage.content == b"ISO-10303-21;" + b" " * 100
    assert stage.headers["content-type"] == "model/step"


def test_prefer_wait_answers_with_the_report(stack: Stack) -> None:
    answer = stack.submit("fail", Prefer="respond-async, wait=20")
    assert answer.status_code == 200
    assert answer.headers["preference-applied"] == "wait=20"
    assert answer.json()["verdict"] == "fail"
    assert answer.headers["location"].startswith("/v1/checks/")


def test_prefer_wait_ends_in_time_with_the_record(stack: Stack) -> None:
    answer = stack.submit("sleep 5", Prefer="wait=1")
    assert answer.status_code == 202
    with stack.client() as client:
        client.delete(answer.headers["location"])


def test_prefer_wait_answers_with_the_problem_of_a_bad_part(stack: Stack) -> None:
    answer = stack.submit("problem", Prefer="wait=20")
    assert answer.status_code == 422
    assert _kind(answer) == "part.no-solid"


def test_same_idempotency_key_is_one_check_even_when_sent_at_once(stack: Stack) -> None:
    with ThreadPoolExecutor(12) as pool:
        answers = list(pool.map(lambda _: stack.submit(**{"Idempotency-Key": "order-7"}), range(12)))
    assert {answer.status_code for answer in answers} == {202}
    assert len({answer.json()["id"] for answer in answers}) == 1
    other = stack.submit("fail", **{"Idempotency-Key": "order-7"})
    assert (other.status_code, _kind(other)) == (422, "idempotency.mismatch")


def test_known_part_is_checked_by_its_hash(stack: Stack) -> None:
    first = stack.submit("size 11").json()
    body = {"part": first["part"], "plan": PLAN}
    with stack.client() as client:
        answer = client.post("/v1/checks", json=body, headers={"Prefer": "wait=20"})
        assert answer.status_code == 200
        unknown = client.post("/v1/checks", json={**body, "part": "0" * 64})
    assert (unknown.status_code, _kind(unknown)) == (404, "part.unknown")


def test_events_tell_the_progress_and_the_end(stack: Stack) -> None:
    check = stack.submit("sleep 1").json()["id"]
    names, phases, last = [], set(), ""
    with stack.client() as client, client.stream("GET", f"/v1/checks/{check}/events") as stream:
        assert stream.headers["content-type"].startswith("text/event-stream")
        for line in stream.iter_lines():
            if line.startswith("event: "):
                names.append(line.removeprefix("event: "))
            if line.startswith("data: "):
                last = line.removeprefix("data: ")
                phases.add(json.loads(last).get("progress", {}).get("phase"))
    assert names[-1] == "end"
    assert set(names[:-1]) == {"state"}
    assert "cut" in phases
    assert json.loads(last)["state"] == "done"


def test_events_go_on_after_the_last_one_heard(stack: Stack) -> None:
    check = stack.submit().json()["id"]
    stack.final(check)
    with stack.client() as client:
        whole = client.get(f"/v1/checks/{check}/events").text
        last = [line.removeprefix("id: ") for line in whole.splitlines() if line.startswith("id: ")][-1]
        rest = client.get(f"/v1/checks/{check}/events", headers={"Last-Event-ID": last}).text
    assert "event: end" in whole
    assert "event:" not in rest


def test_finished_check_is_deleted_with_its_results(stack: Stack) -> None:
    check = stack.submit().json()["id"]
    report = stack.final(check)["links"]["report"]
    with stack.client() as client:
        assert client.delete(f"/v1/checks/{check}").status_code == 204
        assert _kind(client.get(f"/v1/checks/{check}")) == "not-found"
        assert client.get(report).status_code == 404


def test_report_before_the_end_is_a_conflict(stack: Stack) -> None:
    check = stack.submit("sleep 5").json()["id"]
    with stack.client() as client:
        answer = client.get(f"/v1/checks/{check}/report")
        assert (answer.status_code, _kind(answer)) == (409, "check.not-ready")
        assert client.delete(f"/v1/checks/{check}").json()["state"] == "cancelled"
        answer = client.get(f"/v1/checks/{check}/report")
        assert (answer.status_code, _kind(answer)) == (409, "check.cancelled")


def test_stage_has_an_etag_and_is_not_sent_twice(stack: Stack) -> None:
    links = stack.final(stack.submit().json()["id"])["links"]
    with stack.client() as client:
        first = client.get(links["stages"]["S1.step"])
        again = client.get(links["stages"]["S1.step"], headers={"If-None-Match": first.headers["etag"]})
        other = client.get(links["stages"]["S1.step"], headers={"If-None-Match": '"else"'})
    assert (again.status_code, again.content) == (304, b"")
    assert other.content == first.content


@pytest.mark.parametrize(
    ("accept", "status", "kind"),
    [
        ("", 200, "application/json"),
        ("application/sarif+json", 200, "application/sarif+json"),
        ("application/sarif+json;q=0.5, application/json", 200, "application/json"),
        ("application/json;q=0, */*;q=0.1", 404, "application/problem+json"),  # the page: the double makes none
        ("image/png", 406, "application/problem+json"),
    ],
)
def test_report_comes_in_the_form_that_accept_asks_for(stack: Stack, accept: str, status: int, kind: str) -> None:
    check = stack.submit().json()["id"]
    stack.final(check)
    with stack.client() as client:
        answer = client.get(f"/v1/checks/{check}/report", headers={"Accept": accept})
    assert (answer.status_code, answer.headers["content-type"].split(";")[0]) == (status, kind)


def test_past_checks_are_filtered_and_paged(stack: Stack) -> None:
    token = stack.new_key("pages")
    with stack.client(token) as client:
        ids = [stack.submit(*(["fail"] if n % 2 else []), client=client).json()["id"] for n in range(7)]
        eventually(lambda: len(client.get("/v1/checks", params={"state": "done"}).json()["items"]) == 7)
        seen: list[str] = []
        cursor: str | None = None
        while True:
            query = {"limit": 3} | ({"cursor": cursor} if cursor else {})
            page = client.get("/v1/checks", params=query).json()
            seen += [item["id"] for item in page["items"]]
            if (cursor := page.get("next")) is None:
                break
        assert seen == sorted(ids, reverse=True)
        failed = client.get("/v1/checks", params={"verdict": "fail"}).json()["items"]
        assert {item["id"] for item in failed} == set(ids[1::2])
        assert client.get("/v1/checks", params={"before": "2020-01-01T00:00:00Z"}).json()["items"] == []


def test_parts_are_recognised_once(stack: Stack) -> None:
    with stack.client() as client:
        content = {"part": ("p.step", part("sleep 0.3", "size 5"))}
        first = client.post("/v1/parts", files=content)
        assert first.status_code == 202
        known = client.post("/v1/parts", files=content, headers={"Prefer": "wait=20"})
        assert known.status_code == 200
        assert known.json() == {"features": []}
        location = first.headers["location"]
        assert client.get(location).json()["state"] == "done"
        assert client.get(f"{location}/features").json() == {"features": []}
        assert client.delete(location).status_code == 204
        assert client.get(location).status_code == 404


def test_tenants_do_not_see_each_other(stack: Stack) -> None:
    mine = stack.final(stack.submit("size 77").json()["id"])
    with stack.client(stack.new_key("rival")) as rival:
        for path in ("", "/report", "/events", "/stages/S1.step"):
            assert rival.get(f"/v1/checks/{mine['id']}{path}").status_code == 404
        assert rival.delete(f"/v1/checks/{mine['id']}").status_code == 404
        assert rival.get("/v1/checks").json()["items"] == []
        answer = rival.post("/v1/checks", json={"part": mine["part"], "plan": PLAN})
        assert _kind(answer) == "part.unknown"
        assert rival.get(f"/v1/parts/{mine['part']}").status_code == 404
    assert stack.state(mine["id"])["state"] == "done"


def test_quota_of_a_key_is_kept(stack: Stack) -> None:
    with stack.client(stack.new_key("small", max_active=2)) as client:
        running = [stack.submit("sleep 4", client=client) for _ in range(2)]
        refused = stack.submit(client=client)
        assert (refused.status_code, _kind(refused)) == (429, "limit.active")
        assert int(refused.headers["retry-after"]) > 0
        for answer in running:
            client.delete(answer.headers["location"])
        assert stack.submit(client=client).status_code == 202


def test_plan_faults_are_told_before_anything_is_stored(stack: Stack) -> None:
    with stack.client(stack.new_key("strict")) as client:
        broken = {**PLAN, "units": "furlong"}
        answer = client.post("/v1/checks", files=_files(broken))
        assert (answer.status_code, _kind(answer), answer.json()["pointer"]) == (422, "plan.invalid", "/units")
        needs = {**PLAN, "workpiece": {"rawpiece": {"step": "casting"}}}
        answer = client.post("/v1/checks", files=_files(needs))
        assert (_kind(answer), answer.json()["pointer"]) == ("plan.file-missing", "/workpiece/rawpiece/step")
        assert _kind(client.post("/v1/checks", files=_files(casting=part()))) == "request.file-unused"
        assert client.post("/v1/checks", files=_files(needs, casting=part())).status_code == 202
        several = [("files", ("casting", part())), *((n, v) for n, v in _files(needs).items())]
        assert client.post("/v1/checks", files=several).status_code == 202
        assert len(client.get("/v1/checks").json()["items"]) == 2


def test_many_submissions_at_once_all_end(stack: Stack) -> None:
    lock, ids = threading.Lock(), set()

    def one(number: int) -> None:
        answer = stack.submit(f"size {number}")
        assert answer.status_code == 202
        with lock:
            ids.add(answer.json()["id"])

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(one, range(40)))
    assert len(ids) == 40
    assert {stack.final(check)["state"] for check in ids} == {"done"}
