"""/v1/webhooks: only translation between HTTP and ``service.webhooks.service``."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request

from service.errors import responses
from service.keys.guard import require
from service.keys.schemas import Principal
from service.webhooks import service
from service.webhooks.schemas import (
    DeliveryOut,
    WebhookCreated,
    WebhookOut,
    WebhookRequest,
    delivery_out,
    webhook_created,
    webhook_out,
)
from service.wiring import Wired

router = APIRouter(prefix="/v1/webhooks", tags=["webhooks"])
Owner = Annotated[Principal, Depends(require("webhooks:write"))]


@router.post("", status_code=201, responses=responses())
def create_webhook(wanted: WebhookRequest, request: Request, wiring: Wired, who: Owner) -> WebhookCreated:
    """Register a URL for messages when a check ends. The secret is shown once."""
    return webhook_created(*service.add(wiring, who, wanted.url, request.state.request_id))


@router.get("", response_model_exclude_none=True, responses=responses())
def list_webhooks(wiring: Wired, who: Owner) -> list[WebhookOut]:
    """The webhooks."""
    return [webhook_out(webhook) for webhook in service.find_all(wiring, who)]


@router.post("/{webhook_id}/rotate", responses=responses(404))
def rotate_webhook(webhook_id: str, request: Request, wiring: Wired, who: Owner) -> WebhookCreated:
    """A new secret; for a day messages are signed with the former one as well."""
    return webhook_created(*service.rotate(wiring, who, webhook_id, request.state.request_id))


@router.get("/{webhook_id}/deliveries", responses=responses(404))
def list_deliveries(
    webhook_id: str, wiring: Wired, who: Owner, limit: Annotated[int, Query(ge=1, le=200)] = 50
) -> list[DeliveryOut]:
    """The newest messages and how their delivery went."""
    return [delivery_out(found) for found in service.deliveries(wiring, who, webhook_id, limit)]


@router.delete("/{webhook_id}", status_code=204, responses=responses(404))
def delete_webhook(webhook_id: str, request: Request, wiring: Wired, who: Owner) -> None:
    """Remove a webhook; messages under way are dropped."""
    service.remove(wiring, who, webhook_id, request.state.request_id)
