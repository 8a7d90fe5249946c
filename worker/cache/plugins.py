"""What a shop's own rules consist of, for results that depend on them."""

from __future__ import annotations

import hashlib
import json
from importlib.metadata import Distribution, EntryPoint, entry_points

GROUP = "reclamp.rules"


def plugged_in() -> str | None:
    """A digest of all plug-in rules and the files they come from; None when their content cannot be told.

    That is so for a package installed for editing, one without a list of its files, or one whose rule lies elsewhere.
    """
    found = hashlib.sha256()
    for point in sorted(entry_points(group=GROUP), key=lambda p: (p.name, p.value)):
        content = _content(point)
        if content is None:
            return None
        found.update(f"{point.name}={point.value}\0{content}\0".encode())
    return found.hexdigest()


def _content(point: EntryPoint) -> str | None:
    owner = point.dist
    if owner is None or _is_edited(owner) or not _holds(owner, point.module):
        return None
    found = hashlib.sha256()
    for file in sorted(owner.files or (), key=str):
        if file.suffix == ".pyc":
            continue
        try:
            found.update(str(file).encode() + b"\0" + hashlib.sha256(file.read_binary()).digest())
        except OSError:
            return None
    return found.hexdigest()


def _is_edited(owner: Distribution) -> bool:
    """True for a package whose files lie where somebody writes them; also where that cannot be told."""
    try:
        stated = json.loads(owner.read_text("direct_url.json") or "{}")
        return bool(stated.get("dir_info", {}).get("editable"))
    except (AttributeError, ValueError):
        return True


def _holds(owner: Distribution, module: str) -> bool:
    """True when the module is one of the distribution's own files."""
    place = module.replace(".", "/")
    return any(str(file) in (f"{place}.py", f"{place}/__init__.py") for file in owner.files or ())
