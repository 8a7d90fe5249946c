"""Headers that say what the client would like."""

from __future__ import annotations

import pytest

from service.checks.files import matches
from service.checks.formats import acceptable
from service.preferences import wait_seconds


@pytest.mark.parametrize(
    ("prefer", "seconds"),
    [
        (None, None),
        ("", None),
        ("respond-async", None),
        ("wait=10", 10.0),
        ('respond-async, wait="7"', 7.0),  # RFC 7240 2: a value may be quoted
        ("wait = 5; x=1", 5.0),
        ("wait=999999", 60.0),
        ("await=3", None),
        ("wait=-1", None),
        ("WAIT=2", 2.0),
    ],
)
def test_prefer_wait_is_read_as_rfc_7240_says(prefer: str | None, seconds: float | None) -> None:
    assert wait_seconds(prefer, 60.0) == seconds


@pytest.mark.parametrize(
    ("accept", "suffix"),
    [
        ("", "json"),
        ("*/*", "json"),
        ("text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8", "html"),  # what a browser sends
        ("application/*", "json"),
        ("application/json;q=0.2, application/junit+xml;q=0.7", "xml"),
        ("text/*;q=0.5, application/json;q=0.4", "html"),
        ("application/json;q=0, application/*", "sarif"),  # the more specific range counts (RFC 9110 12.5.1)
        ("image/png", None),
        ("application/json;q=nonsense", None),
    ],
)
def test_accept_is_read_as_rfc_9110_says(accept: str, suffix: str | None) -> None:
    found = acceptable(accept)
    assert (found.suffix if found else None) == suffix


@pytest.mark.parametrize(
    ("header", "same"), [('"a"', True), ('W/"a"', True), ('"b", "a"', True), ("*", True), ('"b"', False), ("", False)]
)
def test_if_none_match_is_read_as_rfc_9110_says(header: str, same: bool) -> None:
    assert matches(header, '"a"') is same
