"""The OpenAPI document is true: generated requests never meet an answer that it does not describe."""

from __future__ import annotations

from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, settings

from tests.support.service_stack import Stack


@pytest.fixture(scope="module")
def api(stack: Stack) -> Any:
    token = stack.new_key(
        "fuzz", scopes=["checks:read", "checks:write", "webhooks:write", "ops:read"], requests_per_minute=10**6
    )
    found = schemathesis.openapi.from_url(f"{stack.url}/openapi.json")
    found.config.update(headers={"Authorization": f"Bearer {token}"})
    return found


schema = schemathesis.pytest.from_fixture("api")


@schema.exclude(path_regex="/events$").parametrize()
@settings(max_examples=15, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
def test_answers_are_as_described(case: Any) -> None:
    case.call_and_validate(timeout=20)


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
