"""What the API takes and says about webhooks."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from urllib.parse import urlsplit

import httpx
from pydantic import BaseModel, ConfigDict, Field, field_validator

from service.checks.schemas import when
from service.store.models import Delivery, Webhook


class WebhookRequest(BaseModel):
    """Where to send messages."""

    model_config = ConfigDict(
        extra="forbid", json_schema_extra={"examples": [{"url": "https://portal.example/hooks/reclamp"}]}
    )
    url: str = Field(
        min_length=8, max_length=2000, pattern=r"^https?://[!-~]+$", description="https URL that takes POST"
    )

    @field_validator("url")
    @classmethod
    def _is_a_url(cls, value: str) -> str:
        try:
            parts = urlsplit(value)
            host, _ = parts.hostname, parts.port
            httpx.URL(value)
        except (ValueError, httpx.InvalidURL):
            raise ValueError("this is no URL") from None
        if parts.scheme not in ("https", "http") or not host or not value.isascii() or not value.isprintable():
            raise ValueError("give an https URL with a host name")
        if parts.username or parts.password or parts.fragment or " " in value:
            raise ValueError("a URL for messages has no user, password or fragment")
        return value


class WebhookOut(BaseModel):
    """A webhook, without its secret."""

    id: str
    url: str
    created: datetime
    rotated: datetime | None = None


class WebhookCreated(WebhookOut):
    """A webhook as it is shown once, with the secret that its messages are signed with."""

    secret: str = Field(description="Standard Webhooks secret (whsec_...)")


class DeliveryOut(BaseModel):
    """One message and how its delivery went."""

    id: str = Field(description="the webhook-id header; the same in every attempt")
    check: str
    type: str
    state: str = Field(description="pending | sending | delivered | failed")
    attempts: int
    last_result: str | None
    created: datetime


def webhook_out(webhook: Webhook) -> WebhookOut:
    """The API's view of a webhook."""
    return WebhookOut.model_validate(_fields(webhook))


def webhook_created(webhook: Webhook, secret: str) -> WebhookCreated:
    """The same with its secret."""
    return WebhookCreated.model_validate({**_fields(webhook), "secret": secret})


def _fields(webhook: Webhook) -> dict[str, Any]:
    times = {"created": when(webhook.created), "rotated": when(webhook.rotated)}
    return {"id": webhook.id, "url": webhook.url, **times}


def delivery_out(delivery: Delivery) -> DeliveryOut:
    """The API's view of a delivery."""
    return DeliveryOut.model_validate(
        {
            "id": delivery.id,
            "check": delivery.job,
            "type": delivery.body["type"],
            "state": delivery.state,
            "attempts": delivery.attempts,
            "last_result": delivery.last_result,
            "created": when(delivery.created),
        }
    )
