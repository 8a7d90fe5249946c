"""Keeps webhook deliveries out of private networks: each address is looked at before it is connected to.

The address that was looked at is the one connected to, so a name that resolves differently the second time gains
nothing."""

from __future__ import annotations

import socket
import ssl
from collections.abc import Iterable
from ipaddress import IPv4Address, IPv6Address, IPv6Network, ip_address
from typing import Any

import httpcore
import httpx

_NAT64 = IPv6Network("64:ff9b::/96")
_6TO4 = IPv6Network("2002::/16")


class Forbidden(Exception):  # noqa: N818 - says what it is
    """The address must not be delivered to."""


def is_public(address: str) -> bool:
    """True for a globally reachable unicast address, whatever it is wrapped in (RFC 4291, 6052, 3056)."""
    try:
        found = ip_address(address.partition("%")[0])
    except ValueError:
        return False
    if isinstance(found, IPv6Address):
        inner = _embedded(found)
        if inner is not None:
            return is_public(str(inner))
    return found.is_global and not found.is_multicast and not found.is_reserved and not found.is_unspecified


def _embedded(address: IPv6Address) -> IPv4Address | None:
    if address.ipv4_mapped is not None:
        return address.ipv4_mapped
    if address in _NAT64:
        return IPv4Address(address.packed[-4:])
    if address in _6TO4:
        return IPv4Address(address.packed[2:6])
    return address.teredo[1] if address.teredo is not None else None


class GuardedBackend(httpcore.NetworkBackend):
    """Connects only to public addresses; TLS still checks the certificate against the name in the URL."""

    def __init__(self, *, allow_private: bool) -> None:
        self._plain, self._allow_private = httpcore.SyncBackend(), allow_private

    def connect_tcp(
        self,
        host: str,
        port: int,
        timeout: float | None = None,
        local_address: str | None = None,
        socket_options: Iterable[Any] | None = None,
    ) -> httpcore.NetworkStream:
        """Resolve, judge every address, connect to the first. Raises Forbidden, httpcore.ConnectError."""
        addresses = _resolve(host, port)
        if not self._allow_private and not all(is_public(address) for address in addresses):
            raise Forbidden(host)
        return self._plain.connect_tcp(addresses[0], port, timeout, local_address, socket_options)

    def connect_unix_socket(self, path: str, *_: Any, **__: Any) -> httpcore.NetworkStream:
        """Never. Raises Forbidden."""
        raise Forbidden(path)

    def sleep(self, seconds: float) -> None:
        """Wait."""
        self._plain.sleep(seconds)


def _resolve(host: str, port: int) -> list[str]:
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError) as error:
        raise httpcore.ConnectError(str(error)) from error
    return [str(entry[4][0]) for entry in found]


class GuardedTransport(httpx.BaseTransport):
    """An httpx transport over the guarded backend: no proxy, no redirect, no connection kept."""

    def __init__(self, *, allow_private: bool) -> None:
        self._pool = httpcore.ConnectionPool(
            ssl_context=ssl.create_default_context(),
            max_connections=8,
            max_keepalive_connections=0,
            network_backend=GuardedBackend(allow_private=allow_private),
        )

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        """Send one request. Raises Forbidden, httpcore's errors."""
        url = httpcore.URL(
            scheme=request.url.raw_scheme,
            host=request.url.raw_host,
            port=request.url.port,
            target=request.url.raw_path,
        )
        plain = httpcore.Request(
            request.method, url, headers=request.headers.raw, content=request.read(), extensions=request.extensions
        )
        answer = self._pool.handle_request(plain)
        return httpx.Response(
            answer.status, headers=answer.headers, stream=_Stream(answer), extensions=answer.extensions
        )

    def close(self) -> None:
        """Close all connections."""
        self._pool.close()


class _Stream(httpx.SyncByteStream):
    def __init__(self, answer: httpcore.Response) -> None:
        self._answer = answer

    def __iter__(self) -> Any:
        return iter(self._answer.iter_stream())

    def close(self) -> None:
        self._answer.close()
