"""What was meant by a key that is not known where it stands: the object that has it, or the nearest spelling."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from pydantic import BaseModel

Homes = Mapping[str, frozenset[str]]
"""Key to the names of the objects, or lists of objects, that have it; the document itself has no name."""
MOST_HOMES = 2
"""A key that more kinds of objects have (an id, a name, a diameter) tells nothing of where it belongs."""
SYMBOLS = {
    "diameter": "DC", "cutting_diameter": "DC", "edge_length": "APMX", "cutting_length": "APMX", "flute_length": "APMX",
    "usable_length": "LU", "shank_diameter": "DMM", "shank": "DMM", "neck_diameter": "DN", "corner_radius": "RE",
    "point_angle": "SIG", "included_angle": "SIG", "edge_angle": "KAPR", "overall_length": "OAL", "flutes": "NOF",
    "teeth": "NOF", "pitch": "TP",
}  # fmt: skip
"""The trade's words for a tool's dimensions, and the symbols of ISO 13399 that a plan has for them."""


def homes_of(model: type[BaseModel]) -> Homes:
    """All keys of a model and of those within it."""
    schema = model.model_json_schema()
    found: dict[str, set[str]] = {}
    for home, keys in _objects(schema, schema.get("$defs", {}), "", frozenset()):
        for key in keys:
            found.setdefault(key, set()).add(home)
    return {key: frozenset(places) for key, places in found.items()}


def _objects(
    schema: Any, defs: Mapping[str, Any], home: str, inside: frozenset[str]
) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Each object of a schema by its name, with its keys; what holds itself is gone into once."""
    if isinstance(schema, list):
        for branch in schema:
            yield from _objects(branch, defs, home, inside)
        return
    if not isinstance(schema, dict):
        return
    name = str(schema.get("$ref", "")).rpartition("/")[2]
    if name and name not in inside:
        yield from _objects(defs[name], defs, home, inside | {name})
    properties = schema.get("properties", {})
    yield home, tuple(properties)
    for key, value in properties.items():
        yield from _objects(value, defs, key, inside)
    for word in ("anyOf", "oneOf", "allOf", "items", "prefixItems"):
        yield from _objects(schema.get(word), defs, home, inside)


def remedy_for(key: str, path: Sequence[str], homes: Homes) -> str:
    """One sentence for a key that the object at a path of names does not have; empty where nothing near is known."""
    home = path[-1] if path else ""
    if home == "tools" and key.lower() in SYMBOLS:
        return f"Write {SYMBOLS[key.lower()]!r}, its symbol in ISO 13399, or remove it; nothing is ignored silently."
    known = homes.get(key, frozenset())
    places = sorted(known.difference(path, {""})) if len(known) <= MOST_HOMES else []
    if places:
        return f"Put it into {' or '.join(repr(place) for place in places)}, or remove it; nothing is ignored silently."
    own = sorted(k for k, objects in homes.items() if home in objects and k != key)
    near = difflib.get_close_matches(key, own, n=1, cutoff=0.75) or _sharing_a_word(key, own)
    return f"Write {near[0]!r}, if that is meant, or remove it; nothing is ignored silently." if len(near) == 1 else ""


def _sharing_a_word(key: str, others: Sequence[str]) -> list[str]:
    return [other for other in others if set(other.split("_")) <= set(key.split("_"))]
