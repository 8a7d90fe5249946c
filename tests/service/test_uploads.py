"""Hostile uploads: each is refused with its own problem, nothing is stored, the service goes on."""

from __future__ import annotations

import io
import json
import random
import socket
import time
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.support.service_stack import PLAN, Stack, part

LIMIT = 300_000


@pytest.fixture(scope="module")
def stack(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stack]:
    limits = {"RECLAMP_MAX_PART_BYTES": "100000", "RECLAMP_MAX_REQUEST_BYTES": str(LIMIT), "RECLAMP_BODY_SECONDS": "2"}
    stack = Stack(tmp_path_factory.mktemp("uploads"), **limits)
    try:
        stack.start_broker()
        stack.start_api()
        yield stack
    finally:
        stack.stop()


@pytest.fixture
def client(stack: Stack) -> Iterator[httpx.Client]:
    with stack.client() as client:
        yield client


def _kind(answer: httpx.Response) -> tuple[int, str]:
    assert answer.headers["content-type"] == "application/problem+json", answer.text
    assert "Traceback" not in answer.text
    return answer.status_code, str(answer.json()["type"]).removeprefix("urn:reclamp:problem:")


def _post(client: httpx.Client, content: bytes = b"", plan: Any = PLAN, **names: tuple[str, bytes]) -> httpx.Response:
    text = plan if isinstance(plan, str | bytes) else json.dumps(plan)
    files: dict[str, Any] = {"part": ("p.step", content or part()), "plan": ("plan.json", text), **names}
    return client.post("/v1/checks", files=files)


def _stored(stack: Stack) -> list[Path]:
    return [path for path in (stack.folder / "store").rglob("*") if path.is_file()]


def _zip_bomb() -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("part.step", b"0" * 20_000_000)
    return buffer.getvalue()


BAD_PARTS = [
    (b"\n \t", 422, "part.empty"),
    (_zip_bomb(), 422, "part.not-step"),
    (b"solid ascii\nendsolid", 422, "part.not-step"),
    (b"\x7fELF" + b"\0" * 100, 422, "part.not-step"),
    (b"ISO-10303-21;" + b"x" * 150_000, 413, "part.too-large"),
    (b"ISO-10303-21;" + b"x" * 350_000, 413, "request.too-large"),
]


@pytest.mark.parametrize(("content", "status", "kind"), BAD_PARTS)
def test_bad_part_is_refused(stack: Stack, client: httpx.Client, content: bytes, status: int, kind: str) -> None:
    before = _stored(stack)
    assert _kind(_post(client, content)) == (status, kind)
    assert _stored(stack) == before


BAD_PLANS = [
    ("", 422, "plan.not-json"),
    (json.dumps(PLAN)[:-5], 422, "plan.not-json"),
    ("[" * 100_000, 422, "plan.not-json"),
    ('{"a":' * 40_000, 422, "plan.not-json"),
    ("[1, 2]", 422, "plan.not-json"),
    (json.dumps(PLAN).replace("10", "NaN", 1), 422, "plan.not-json"),
    (b"\xff\xfe\x00", 422, "plan.not-json"),
    (json.dumps({**PLAN, "surprise": 1}), 422, "plan.invalid"),
    ('{"plan_version": 1, "plan_version": 1}', 422, "plan.not-json"),
]


@pytest.mark.parametrize(("plan", "status", "kind"), BAD_PLANS)
def test_bad_plan_is_refused(client: httpx.Client, plan: Any, status: int, kind: str) -> None:
    assert _kind(_post(client, plan=plan)) == (status, kind)


@pytest.mark.parametrize(
    "name", ["../../etc/passwd", "/etc/passwd", "..", "a/b", "a\\b", "x\x00y", "n" * 65, "$(id)", "ü"]
)
def test_name_of_a_file_never_becomes_a_path(stack: Stack, client: httpx.Client, name: str) -> None:
    files = [("part", ("p.step", part())), ("plan", ("p.json", json.dumps(PLAN))), ("files", (name, part()))]
    assert _kind(client.post("/v1/checks", files=files))[1] in {"request.file-name", "request.form"}


def test_names_of_part_and_plan_are_ignored(stack: Stack, client: httpx.Client) -> None:
    files = {"part": ("../../../tmp/evil.step", part()), "plan": ("/etc/cron.d/evil", json.dumps(PLAN))}
    assert client.post("/v1/checks", files=files).status_code == 202
    assert not any("evil" in str(path) for path in stack.folder.rglob("*"))


def test_too_many_files_and_fields_are_refused(client: httpx.Client) -> None:
    many = [("files", (f"f{n}", part())) for n in range(40)]
    files = [("part", ("p.step", part())), ("plan", ("p.json", json.dumps(PLAN))), *many]
    assert _kind(client.post("/v1/checks", files=files))[0] in {400, 413}
    fields = {f"x{n}": "1" for n in range(500)}
    assert _kind(client.post("/v1/checks", data=fields, files={"part": ("p", part())}))[0] in {400, 413}


@pytest.mark.parametrize(
    ("headers", "content", "status", "kind"),
    [
        ({"Content-Type": "text/plain"}, b"hello", 415, "request.media-type"),
        ({"Content-Type": "multipart/form-data"}, b"hello", 400, "request.form"),
        ({"Content-Type": "multipart/form-data; boundary=x"}, b"--y\r\n", 400, "request.form"),
        ({"Content-Type": "application/json"}, b"{", 400, "request.not-json"),
        ({"Content-Type": "application/json"}, b"[" * 90_000, 400, "request.not-json"),
        ({"Content-Type": "application/json"}, b"[]", 422, "request.invalid"),
        ({"Content-Type": "application/json", "Content-Encoding": "gzip"}, b"\x1f\x8b", 415, "request.encoding"),
        ({"Content-Type": "application/json", "Idempotency-Key": "x" * 300}, b"{}", 422, "request.invalid"),
    ],
)
def test_wrong_kind_of_body_is_refused(
    client: httpx.Client, headers: dict[str, str], content: bytes, status: int, kind: str
) -> None:
    assert _kind(client.post("/v1/checks", content=content, headers=headers)) == (status, kind)


def test_large_body_is_refused_before_it_is_sent(stack: Stack) -> None:
    """RFC 9110 10.1.1: with Expect or a long Content-Length the server may answer before the body."""
    with socket.create_connection(("127.0.0.1", stack.port), 5) as line:
        head = f"POST /v1/checks HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer {stack.token}\r\n"
        line.sendall(
            f"{head}Content-Type: multipart/form-data; boundary=x\r\nContent-Length: {10**12}\r\n\r\n".encode()
        )
        assert line.recv(200).startswith(b"HTTP/1.1 413")


def test_endless_chunked_body_is_cut_off(stack: Stack) -> None:
    def chunks() -> Iterator[bytes]:
        yield b'--x\r\nContent-Disposition: form-data; name="part"; filename="p"\r\n\r\nISO-10303-21;'
        for _ in range(10_000):
            yield b"y" * 65_536

    with stack.client() as client:
        try:
            answer = client.post(
                "/v1/checks", content=chunks(), headers={"Content-Type": "multipart/form-data; boundary=x"}
            )
            assert _kind(answer) == (413, "request.too-large")
        except httpx.TransportError:
            pass  # the server answered and closed while we were still sending
    assert stack.answers()


def test_slow_body_is_cut_off(stack: Stack) -> None:
    with socket.create_connection(("127.0.0.1", stack.port), 10) as line:
        head = f"POST /v1/checks HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer {stack.token}\r\n"
        line.sendall(f"{head}Content-Type: multipart/form-data; boundary=x\r\nContent-Length: 1000\r\n\r\n--x".encode())
        begun = time.monotonic()
        assert line.recv(200).startswith(b"HTTP/1.1 408")
        assert time.monotonic() - begun < 5


def test_random_damage_to_a_form_never_breaks_the_service(stack: Stack) -> None:
    """Seeded: cut, flipped, doubled and inserted bytes in a good form; any answer but a 5xx will do."""
    request = httpx.Request(
        "POST", "http://x", files={"part": ("p.step", part()), "plan": ("p.json", json.dumps(PLAN)), "casting": part()}
    )
    good, chance = request.read(), random.Random(20260504)
    headers = {"Content-Type": request.headers["content-type"]}
    with stack.client() as client:
        for _ in range(250):
            answer = client.post("/v1/checks", content=_damaged(good, chance), headers=headers)
            assert answer.status_code < 500, answer.text
            assert answer.status_code == 202 or _kind(answer)
    assert stack.answers()


def _damaged(good: bytes, chance: random.Random) -> bytes:
    data = bytearray(good)
    for _ in range(chance.randint(1, 6)):
        at = chance.randrange(len(data))
        way = chance.randrange(4)
        if way == 0:
            data[at] ^= 1 << chance.randrange(8)
        elif way == 1:
            del data[at : at + chance.randint(1, 40)]
        elif way == 2:
            data[at:at] = data[at : at + chance.randint(1, 200)]
        else:
            data[at:at] = chance.randbytes(chance.randint(1, 20))
        if not data:
            return b""
    return bytes(data)
