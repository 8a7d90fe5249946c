"""Result files over HTTP: a strong ETag from the content, 304 when the client has it."""

from __future__ import annotations

from urllib.parse import quote

from fastapi import Request, Response
from fastapi.responses import StreamingResponse

from service.checks.service import Artefact
from service.errors import not_found
from service.store.artefacts import Gone
from service.wiring import Wiring

FILE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox"
"""What a browser may do with a file that is no page of ours: show it, run nothing."""
PAGE_POLICY = (
    "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data:; sandbox allow-scripts"
)
"""The report page may run the script that its own policy names by hash, without this service's origin."""


def file_response(wiring: Wiring, request: Request, artefact: Artefact, name: str) -> Response:
    """The file, or 304. Raises Problem ``not-found`` when it has expired, StoreError."""
    headers = _headers(artefact, name.rpartition("/")[2])
    if matches(request.headers.get("if-none-match", ""), headers["ETag"]):
        return Response(status_code=304, headers=headers)
    try:
        pieces = wiring.artefacts.stream(artefact.object)
    except Gone:
        raise not_found("result (any more)") from None
    headers["Content-Length"] = str(artefact.size)
    return StreamingResponse(pieces, headers=headers, media_type=artefact.media_type)


def matches(if_none_match: str, etag: str) -> bool:
    """Whether an If-None-Match header names this ETag (RFC 9110 13.1.2, weak comparison)."""
    tags = [tag.strip().removeprefix("W/") for tag in if_none_match.split(",")]
    return etag in tags or tags == ["*"]


def _headers(artefact: Artefact, file_name: str) -> dict[str, str]:
    return {
        "ETag": f'"{artefact.sha256}"',
        "Cache-Control": "private, max-age=0, must-revalidate",
        "X-Content-Type-Options": "nosniff",
        "Content-Security-Policy": PAGE_POLICY if artefact.media_type.startswith("text/html") else FILE_POLICY,
        "Content-Disposition": f"inline; filename*=UTF-8''{quote(file_name)}",
    }
