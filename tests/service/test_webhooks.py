from __future__ import annotations

import json
import socket
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import httpcore
import httpx
import pytest
from standardwebhooks import Webhook, WebhookVerificationError

from service.webhooks.guard import Forbidden, GuardedBackend, GuardedTransport, is_public
from service.webhooks.repository import Due
from service.webhooks.secrets import signing_secret
from service.webhooks.sender import signed_headers
from tests.support.service_stack import Stack, eventually


class Receiver:
    """A portal that keeps what it gets and answers as told."""

    def __init__(self) -> None:
        self.messages: list[tuple[dict[str, str], bytes]] = []
        self.answers: list[int] = []
        receiver = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                body = self.rfile.read(int(self.headers["content-length"]))
                receiver.messages.append(({k.lower(): v for k, v in self.headers.items()}, body))
                status = receiver.answers.pop(0) if receiver.answers else 204
                self.send_response(status)
                if status == 302:
                    self.send_header("Location", receiver.url + "/elsewhere")
                self.end_headers()

            def log_message(self, *_: Any) -> None:
                pass

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.url = f"http://127.0.0.1:{self._server.server_address[1]}/hook"
        threading.Thread(target=self._server.serve_forever, daemon=True).start()

    def close(self) -> None:
        self._server.shutdown()
        self._server.server_close()


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    receiver = Receiver()
    yield receiver
    receiver.close()


def _register(stack: Stack, token: str, url: str) -> dict[str, Any]:
    with stack.client(token) as client:
        answer = client.post("/v1/webhooks", json={"url": url})
        assert answer.status_code == 201, answer.text
        found: dict[str, Any] = answer.json()
    return found


def _deliveries(stack: Stack, token: str, webhook: str) -> list[dict[str, Any]]:
    with stack.client(token) as client:
        found: list[dict[str, Any]] = client.get(f"/v1/webhooks/{webhook}/deliveries").json()
    return found


def test_end_of_a_check_is_told_signed_and_only_to_its_tenant(stack: Stack, receiver: Receiver) -> None:
    token = stack.new_key("hooked")
    hook = _register(stack, token, receiver.url)
    stack.final(stack.submit().json()["id"])  # another tenant's check
    with stack.client(token) as client:
        check = stack.submit("fail", client=client).json()["id"]
    headers, body = eventually(lambda: receiver.messages)[0]
    message = Webhook(hook["secret"]).verify(body, headers)
    assert message["type"] == "check.done"
    assert (message["data"]["id"], message["data"]["verdict"]) == (check, "fail")
    eventually(lambda: _deliveries(stack, token, hook["id"])[0]["state"] == "delivered")
    assert len(receiver.messages) == 1


def test_message_is_sent_again_until_it_is_taken_with_the_same_id(stack: Stack, receiver: Receiver) -> None:
    receiver.answers = [500, 302, 204]
    token = stack.new_key("patient")
    hook = _register(stack, token, receiver.url)
    with stack.client(token) as client:
        stack.submit(client=client)
    eventually(lambda: len(receiver.messages) == 3)
    assert len({headers["webhook-id"] for headers, _ in receiver.messages}) == 1
    state = eventually(lambda: [d for d in _deliveries(stack, token, hook["id"]) if d["state"] == "delivered"])[0]
    assert (state["attempts"], state["last_result"]) == (3, "204")


def test_rotated_secret_and_the_former_one_both_verify(stack: Stack, receiver: Receiver) -> None:
    token = stack.new_key("rotating")
    hook = _register(stack, token, receiver.url)
    with stack.client(token) as client:
        fresh = client.post(f"/v1/webhooks/{hook['id']}/rotate").json()
        assert fresh["secret"] != hook["secret"]
        stack.submit(client=client)
    headers, body = eventually(lambda: receiver.messages)[0]
    for secret in (hook["secret"], fresh["secret"]):
        assert Webhook(secret).verify(body, headers)["type"] == "check.done"


def test_secret_is_nowhere_in_the_database(stack: Stack, receiver: Receiver) -> None:
    hook = _register(stack, stack.new_key("secretive"), receiver.url)
    files = [path.read_bytes() for path in Path(stack.folder).glob("reclamp.db*")]
    assert not any(hook["secret"].removeprefix("whsec_").encode() in data for data in files)
    assert not any(stack.token.split("_", 2)[2].encode() in data for data in files)


def test_webhook_of_another_tenant_is_not_there(stack: Stack, receiver: Receiver) -> None:
    hook = _register(stack, stack.new_key("mine"), receiver.url)
    with stack.client(stack.new_key("theirs")) as client:
        assert client.get("/v1/webhooks").json() == []
        assert client.delete(f"/v1/webhooks/{hook['id']}").status_code == 404
        assert client.post(f"/v1/webhooks/{hook['id']}/rotate").status_code == 404


def test_replayed_or_altered_message_does_not_verify() -> None:
    secret, now = signing_secret("master", "w1", 1), datetime.now(UTC)
    due = Due("msg_1", 0, {}, "w1", "https://portal.example", 1, None)
    body = json.dumps({"type": "check.done"})
    old = signed_headers("master", due, body, now - timedelta(minutes=6))
    good = signed_headers("master", due, body, now)
    assert Webhook(secret).verify(body, good) == {"type": "check.done"}
    for headers, text in ((old, body), (good, body + " "), ({**good, "webhook-id": "msg_2"}, body)):
        with pytest.raises(WebhookVerificationError):
            Webhook(secret).verify(text, headers)


# Special-purpose ranges: IANA IPv4 and IPv6 special-purpose address registries (RFC 6890 and its updates).
PRIVATE = [
    "127.0.0.1",
    "10.1.2.3",
    "172.16.0.1",
    "192.168.1.1",
    "169.254.169.254",
    "100.64.0.1",
    "0.0.0.0",
    "198.18.0.1",
    "224.0.0.1",
    "255.255.255.255",
    "::1",
    "::",
    "fe80::1%eth0",
    "fd00::1",
    "ff02::1",
    "::ffff:127.0.0.1",
    "::ffff:10.0.0.1",
    "64:ff9b::7f00:1",
    "2002:7f00:1::",
    "2001:db8::1",
    "not an address",
]


@pytest.mark.parametrize("address", PRIVATE)
def test_private_addresses_are_not_public(address: str) -> None:
    assert not is_public(address)


@pytest.mark.parametrize("address", ["9.9.9.9", "2620:fe::fe", "::ffff:9.9.9.9", "64:ff9b::909:909"])
def test_public_addresses_are(address: str) -> None:
    assert is_public(address)


@pytest.mark.parametrize(
    "host", ["localhost", "127.1", "2130706433", "0x7f000001", "0177.0.0.1", "[::1]", "[::ffff:127.0.0.1]"]
)
def test_guard_connects_to_no_private_address_however_it_is_written(host: str, receiver: Receiver) -> None:
    port = receiver.url.rsplit(":", 1)[1].partition("/")[0]
    refusals = (Forbidden, httpcore.ConnectError, httpx.InvalidURL)
    with httpx.Client(transport=GuardedTransport(allow_private=False)) as client, pytest.raises(refusals):
        client.post(f"http://{host}:{port}/hook")
    assert receiver.messages == []


def test_name_that_changes_its_address_gains_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    answers = [["9.9.9.9", "127.0.0.1"], ["127.0.0.1"]]
    connected: list[str] = []

    def resolve(*_: Any, **__: Any) -> list[Any]:
        return [(socket.AF_INET, socket.SOCK_STREAM, 6, "", (a, 80)) for a in answers.pop(0)]

    backend = GuardedBackend(allow_private=False)
    monkeypatch.setattr(socket, "getaddrinfo", resolve)
    monkeypatch.setattr(backend._plain, "connect_tcp", lambda host, *_: connected.append(host))
    for _ in range(2):
        with pytest.raises(Forbidden):
            backend.connect_tcp("rebind.example", 80)
    answers.append(["9.9.9.9"])
    backend.connect_tcp("good.example", 80)
    assert connected == ["9.9.9.9"]  # the address that was judged, not the name, which could resolve anew
