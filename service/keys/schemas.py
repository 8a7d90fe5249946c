"""What a key may do."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from pydantic import BaseModel, Field

Scope = Literal["checks:read", "checks:write", "webhooks:write", "ops:read"]
SCOPES: tuple[Scope, ...] = ("checks:read", "checks:write", "webhooks:write", "ops:read")
USUAL_SCOPES: tuple[Scope, ...] = ("checks:read", "checks:write", "webhooks:write")


@dataclass(frozen=True, slots=True)
class Principal:
    """Who asks."""

    tenant: str
    key: str
    scopes: frozenset[str]
    max_active: int


class KeyOut(BaseModel):
    """The key that was used, without its secret."""

    id: str
    tenant: str
    name: str
    scopes: list[str]
    requests_per_minute: int = Field(description="1/min")
    max_active: int = Field(description="checks waiting or running at once")
    created: datetime
    expires: datetime | None = None
