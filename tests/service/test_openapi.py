"""The OpenAPI document is true: generated requests never meet an answer that it does not describe.

The library that generates them takes seconds to load: only the process that runs these tests does so.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.app import create_app
from service.settings import Settings
from tests.support.service_stack import Stack

DOCUMENT = create_app(Settings()).openapi()
LABELS = sorted(
    f"{method.upper()} {path}"
    for path, methods in DOCUMENT["paths"].items()
    for method in methods
    if not path.endswith("/events")
)


@cache
def operations() -> dict[str, Any]:
    """What the library reads of the document, by method and path."""
    import schemathesis

    found = [read.ok() for read in schemathesis.openapi.from_dict(DOCUMENT).get_all_operations()]
    return {one.label: one for one in found if not one.path.endswith("/events")}


@pytest.fixture(scope="module")
def token(stack: Stack) -> str:
    scopes = ["checks:read", "checks:write", "webhooks:write", "ops:read"]
    return stack.new_key("fuzz", scopes=scopes, requests_per_minute=10**6)


def test_each_operation_is_tried() -> None:
    assert sorted(operations()) == LABELS


@pytest.mark.parametrize("label", LABELS)
def test_answers_are_as_described(stack: Stack, token: str, label: str) -> None:
    """A schema cannot say what is STEP or a plan, so generated bodies that fit it are refused all the same."""
    from schemathesis.specs.openapi.checks import positive_data_acceptance

    operation = operations()[label]

    @given(data=st.data())
    @settings(max_examples=20, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck))
    def run(data: Any) -> None:
        case = data.draw(operation.as_strategy())
        headers = {"Authorization": f"Bearer {token}"}
        case.call_and_validate(
            base_url=stack.url, headers=headers, timeout=20, excluded_checks=[positive_data_acceptance]
        )

    run()


def test_every_operation_is_described_with_its_problems(stack: Stack) -> None:
    with stack.client() as client:
        document = client.get("/openapi.json").json()
    operations = [
        (path, method, operation) for path, item in document["paths"].items() for method, operation in item.items()
    ]
    assert len(operations) >= 20
    for path, method, operation in operations:
        assert operation.get("summary"), (method, path)
        assert operation.get("description"), (method, path)
        if path.startswith("/v1/"):
            problem = operation["responses"]["401"]["content"]
            assert list(problem) == ["application/problem+json"], (method, path)
    assert document["components"]["schemas"]["CheckOut"]["examples"]
    assert document["components"]["schemas"]["Problem"]["examples"]
