"""The OpenAPI document is true: generated requests never meet an answer that it does not describe."""

from __future__ import annotations

from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis.specs.openapi.checks import positive_data_acceptance

from service.app import create_app
from service.settings import Settings
from tests.support.service_stack import Stack

SCHEMA = schemathesis.openapi.from_dict(create_app(Settings()).openapi())
BEYOND = positive_data_acceptance
"""A schema cannot say what is STEP or a plan, so generated bodies that fit it are refused all the same."""
OPERATIONS = {
    found.ok().label: found.ok() for found in SCHEMA.get_all_operations() if not found.ok().path.endswith("/events")
}


@pytest.fixture(scope="module")
def token(stack: Stack) -> str:
    scopes = ["checks:read", "checks:write", "webhooks:write", "ops:read"]
    return stack.new_key("fuzz", scopes=scopes, requests_per_minute=10**6)


@pytest.mark.parametrize("label", sorted(OPERATIONS))
def test_answers_are_as_described(stack: Stack, token: str, label: str) -> None:
    operation = OPERATIONS[label]

    @given(data=st.data())
    @settings(max_examples=20, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck))
    def run(data: Any) -> None:
        case = data.draw(operation.as_strategy())
        headers = {"Authorization": f"Bearer {token}"}
        case.call_and_validate(base_url=stack.url, headers=headers, timeout=20, excluded_checks=[BEYOND])

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
