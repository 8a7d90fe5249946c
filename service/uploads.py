"""Reads a multipart form: files to spooled temporary files, nothing named by a client touches a path."""

from __future__ import annotations

import hashlib
import re
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from typing import IO

from fastapi import Request
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException

from schemas.plan import MAX_PLAN_BYTES
from schemas.problem import Problem

NAME = re.compile(r"^[A-Za-z0-9][A-Za-z0-9._ -]{0,63}$")
SHA256 = re.compile(r"^[0-9a-f]{64}$")
_STEP_START = b"ISO-10303-21"
_SNIFFED = 512
MANY = "files"
"""The form field that may stand several times; each file's own name is then the plan's name for it."""


@dataclass(frozen=True, slots=True)
class Upload:
    """Bytes that arrived: their content hash, and where they wait to be stored."""

    sha256: str
    size: int
    file: IO[bytes]


@asynccontextmanager
async def form(request: Request, max_files: int) -> AsyncIterator[FormData]:
    """The parsed form; its temporary files are gone afterwards.

    Raises Problem ``request.media-type`` or ``request.form``.
    """
    if not request.headers.get("content-type", "").lower().startswith("multipart/form-data"):
        raise Problem(
            "request.media-type",
            "This kind of body is not taken",
            "The body is not multipart/form-data.",
            remedy="Send a multipart form.",
            status=415,
        )
    try:
        parsed = await request.form(max_files=max_files + 2, max_fields=max_files + 2, max_part_size=MAX_PLAN_BYTES)
    except HTTPException as error:
        raise _bad_form(f"The form cannot be read: {error.detail}") from None
    except (UnicodeDecodeError, KeyError, ValueError, AssertionError):
        raise _bad_form("The form cannot be read.") from None
    try:
        yield parsed
    finally:
        await parsed.close()


def _bad_form(detail: str) -> Problem:
    return Problem(
        "request.form", "The form is not valid", detail, remedy="Send a well-formed multipart form.", status=400
    )


async def step_file(value: UploadFile | str | None, name: str, max_bytes: int) -> Upload:
    """A STEP file of the form, hashed. Only its first bytes are looked at here; it is read in the limited child.

    Raises Problem ``request.form``, ``part.too-large``, ``part.empty`` or ``part.not-step``.
    """
    if value is None:
        raise _bad_form(f"The form has no file '{name}'.")
    if isinstance(value, str):
        raise _bad_form(f"'{name}' is not sent as a file.")
    size = value.size or 0
    if size > max_bytes:
        raise Problem(
            "part.too-large",
            "The file is too large",
            f"The file has {size} bytes.",
            pointer=name,
            remedy=f"Keep it below {max_bytes} bytes.",
            status=413,
        )
    return await run_in_threadpool(_hashed, value.file, size, name)


def _hashed(file: IO[bytes], size: int, name: str) -> Upload:
    file.seek(0)
    _sniff(file.read(_SNIFFED), name)
    file.seek(0)
    digest = hashlib.sha256()
    while piece := file.read(256 * 1024):
        digest.update(piece)
    file.seek(0)
    return Upload(digest.hexdigest(), size, file)


def _sniff(start: bytes, name: str) -> None:
    if not start.strip():
        raise Problem("part.empty", "The file is empty", "The file holds nothing.", pointer=name)
    if not start.removeprefix(b"\xef\xbb\xbf").lstrip().startswith((_STEP_START, b"/*")):
        raise Problem(
            "part.not-step",
            "The file is not STEP",
            "The file does not begin as an ISO 10303-21 file does.",
            pointer=name,
            remedy="Export the part as STEP (AP203, AP214 or AP242), not compressed.",
        )


async def text_field(value: UploadFile | str | None, name: str) -> bytes:
    """A JSON field of the form, sent as a file or as text.

    Raises Problem ``request.form`` or ``plan.too-large``.
    """
    if value is None:
        raise _bad_form(f"The form has no field '{name}'.")
    if isinstance(value, str):
        return value.encode()
    data = await value.read(MAX_PLAN_BYTES + 1)
    if len(data) > MAX_PLAN_BYTES:
        raise Problem(
            "plan.too-large",
            "The plan is too large",
            f"The plan has more than {MAX_PLAN_BYTES} bytes.",
            pointer=name,
            remedy=f"Keep it below {MAX_PLAN_BYTES} bytes.",
            status=413,
        )
    return data


def other_files(parsed: FormData, known: frozenset[str], max_files: int) -> dict[str, UploadFile]:
    """The further files of a form by the plan's name for them.

    Raises Problem ``request.form``, ``request.file-name`` or ``request.too-many-files``.
    """
    found: dict[str, UploadFile] = {}
    for field, value in parsed.multi_items():
        if field in known:
            continue
        if isinstance(value, str):
            raise _bad_form(f"The field '{field[:64]}' is not known here.")
        name = (value.filename or "") if field == MANY else field
        _check_name(name, found)
        found[name] = value
    if len(found) > max_files:
        raise Problem(
            "request.too-many-files",
            "Too many files",
            f"The form has {len(found)} further files.",
            remedy=f"Send at most {max_files}.",
            status=413,
        )
    return found


def _check_name(name: str, found: dict[str, UploadFile]) -> None:
    if not NAME.match(name) or ".." in name:
        raise Problem(
            "request.file-name",
            "A file's name is not valid",
            "A file's name holds signs that a name in a plan must not have.",
            remedy="Use letters, digits, dots, dashes, underscores and blanks.",
            status=422,
        )
    if name in found:
        raise _bad_form(f"The file '{name}' is sent twice.")
