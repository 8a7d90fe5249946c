"""Webhooks: register, list, rotate the secret, remove."""

from __future__ import annotations

import time
from collections.abc import Sequence
from urllib.parse import urlsplit

from sqlalchemy.orm import Session

from schemas.problem import Problem
from service.errors import TooMany, not_found
from service.ids import new_id
from service.jobs.submit import audit_entry
from service.keys.schemas import Principal
from service.store.models import Delivery, Webhook
from service.webhooks import repository
from service.webhooks.guard import is_public
from service.webhooks.secrets import signing_secret
from service.wiring import Wiring

MOST = 10
"""Webhooks of one tenant."""
GRACE = 24 * 3600.0
"""Seconds for which messages carry the signature of the former secret as well."""


def add(wiring: Wiring, who: Principal, url: str, request: str | None) -> tuple[Webhook, str]:
    """Register a URL; the webhook and its secret, shown once. Raises Problem ``webhook.url``, ``limit.webhooks``."""
    _check(url, allow_private=wiring.settings.webhook_private_networks)
    webhook = Webhook(id=new_id(), tenant=who.tenant, url=url, generation=1, rotated=None, created=time.time())
    with wiring.database.write() as session:
        if repository.count(session, who.tenant) >= MOST:
            raise TooMany("limit.webhooks", "Too many webhooks", f"There are {MOST} webhooks already.", 3600)
        session.add(webhook)
        session.add(audit_entry(who, "webhook.create", webhook.id, request))
    return webhook, _secret(wiring, webhook)


def _check(url: str, *, allow_private: bool) -> None:
    """What can be said before a delivery; the delivery itself looks at the addresses again."""
    if allow_private:
        return
    parts = urlsplit(url)
    host = parts.hostname or ""
    numeric = host.replace(".", "").isdecimal() or ":" in host
    if parts.scheme != "https" or host == "localhost" or (numeric and not is_public(host)):
        raise Problem(
            "webhook.url",
            "The URL is not taken",
            "Messages go only to https URLs of public hosts.",
            pointer="/url",
            remedy="Give the public https URL of your portal.",
        )


def find_all(wiring: Wiring, who: Principal) -> Sequence[Webhook]:
    """The tenant's webhooks."""
    with wiring.database.read() as session:
        return repository.of_tenant(session, who.tenant)


def rotate(wiring: Wiring, who: Principal, webhook_id: str, request: str | None) -> tuple[Webhook, str]:
    """A new secret; for a day messages are signed with both. Raises Problem ``not-found``."""
    with wiring.database.write() as session:
        webhook = _own(session, who, webhook_id)
        webhook.generation, webhook.rotated = webhook.generation + 1, time.time()
        session.add(audit_entry(who, "webhook.rotate", webhook_id, request))
    return webhook, _secret(wiring, webhook)


def remove(wiring: Wiring, who: Principal, webhook_id: str, request: str | None) -> None:
    """Remove a webhook and its messages. Raises Problem ``not-found``."""
    with wiring.database.write() as session:
        repository.remove(session, _own(session, who, webhook_id))
        session.add(audit_entry(who, "webhook.delete", webhook_id, request))


def deliveries(wiring: Wiring, who: Principal, webhook_id: str, limit: int) -> Sequence[Delivery]:
    """The newest messages of a webhook. Raises Problem ``not-found``."""
    with wiring.database.read() as session:
        return repository.deliveries(session, _own(session, who, webhook_id).id, limit)


def _own(session: Session, who: Principal, webhook_id: str) -> Webhook:
    webhook = session.get(Webhook, webhook_id)
    if webhook is None or webhook.tenant != who.tenant:
        raise not_found("webhook")
    return webhook


def _secret(wiring: Wiring, webhook: Webhook) -> str:
    return signing_secret(wiring.settings.secret.get_secret_value(), webhook.id, webhook.generation)
