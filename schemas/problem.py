"""Bad input said plainly: where it is, what is wrong, what to do (RFC 9457 in the service, one sentence on stderr)."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from schemas.known_keys import homes_of, remedy_for

TYPE_PREFIX = "urn:reclamp:problem:"
M = TypeVar("M", bound=BaseModel)
_UNPRINTED = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
"""What would break the line, or turn it about, where a plan's own text is told."""


class Problem(Exception):  # noqa: N818 - the RFC's own word
    """Input that cannot be checked.

    ``type`` is a stable slug such as ``plan.invalid`` or ``part.no-solid``; ``pointer`` is an RFC 6901 JSON
    pointer into the plan, or the name of the file; ``status`` is the HTTP status the service answers with.
    """

    def __init__(
        self,
        type: str,
        title: str,
        detail: str,
        *,
        pointer: str = "",
        remedy: str = "",
        status: int = 422,
        errors: Iterable[Mapping[str, Any]] = (),
    ) -> None:
        super().__init__(type, title, detail, pointer, remedy, status, tuple(errors))
        self.type = type
        self.title = title
        self.detail = detail
        self.pointer = pointer
        self.remedy = remedy
        self.status = status
        self.errors: tuple[Mapping[str, Any], ...] = tuple(dict(e) for e in errors)

    def __reduce__(self) -> tuple[Any, ...]:
        return (_rebuild, (self.type, self.title, self.detail, self.pointer, self.remedy, self.status, self.errors))

    def sentence(self) -> str:
        """The words for stderr: place, fault and remedy in one line."""
        place = f"{self.pointer}: " if self.pointer else ""
        remedy = f" {self.remedy}" if self.remedy else ""
        return _UNPRINTED.sub("?", f"{place}{self.detail}{remedy}")

    def sentences(self) -> tuple[str, ...]:
        """One such line for each fault of the input, the most telling first; at least one."""
        others = [
            Problem(self.type, self.title, e["detail"], pointer=e["pointer"], remedy=e["remedy"])
            for e in self.errors[1:]
        ]
        return (self.sentence(), *(other.sentence() for other in others))

    def document(self, instance: str = "") -> dict[str, Any]:
        """The problem+json members of RFC 9457, with our ``pointer``, ``remedy`` and ``errors``."""
        found: dict[str, Any] = {
            "type": TYPE_PREFIX + self.type,
            "title": self.title,
            "status": self.status,
            "detail": self.detail,
            "pointer": self.pointer,
            "remedy": self.remedy,
            "errors": [dict(e) for e in self.errors],
        }
        if instance:
            found["instance"] = instance
        return {key: value for key, value in found.items() if value not in ("", [])}


def _rebuild(
    type: str, title: str, detail: str, pointer: str, remedy: str, status: int, errors: tuple[Mapping[str, Any], ...]
) -> Problem:
    return Problem(type, title, detail, pointer=pointer, remedy=remedy, status=status, errors=errors)


def json_pointer(path: Iterable[str | int]) -> str:
    """RFC 6901 pointer of a path of keys and indices."""
    return "".join("/" + str(part).replace("~", "~0").replace("/", "~1") for part in path)


_REMEDIES = {
    "extra_forbidden": "Remove this key or correct its spelling; nothing is ignored silently.",
    "missing": "Add it.",
    "finite_number": "Give a finite number.",
    "greater_than": "Give a larger value.",
    "greater_than_equal": "Give a larger value.",
    "less_than": "Give a smaller value.",
    "less_than_equal": "Give a smaller value.",
    "float_type": "Give a JSON number, without quotes.",
    "int_type": "Give a whole JSON number, without quotes.",
    "literal_error": "Use one of those listed.",
    "string_type": "Give a JSON string.",
    "string_too_short": "Give it at least one character.",
    "string_too_long": "Shorten it.",
    "string_unicode": "Use characters of Unicode; lone surrogates are none.",
    "tuple_type": "Give a JSON list: [...].",
    "list_type": "Give a JSON list: [...].",
    "model_type": "Give a JSON object: {...}.",
    "model_attributes_type": "Give a JSON object: {...}.",
    "dict_type": "Give a JSON object: {...}.",
    "string_pattern_mismatch": "Use letters, digits, dots, dashes, underscores and blanks.",
    "union_tag_invalid": "Use one of those listed.",
    "union_tag_not_found": "Add the key that names the kind.",
    "bool_type": "Give true or false, without quotes.",
    "too_short": "Add what is absent.",
    "too_long": "Leave out what is too much.",
}
_WORDS = {
    "tuple_type": "a list is needed here",
    "list_type": "a list is needed here",
    "model_type": "an object is needed here",
    "model_attributes_type": "an object is needed here",
    "dict_type": "an object is needed here",
    "string_unicode": "the text is not valid Unicode",
}
"""Said instead of what the validating library says in its own language."""
LONGEST = 300
"""Characters of a fault that are told: what the plan itself holds may be any size."""
_OTHER_KIND = {"string_type", "model_type", "model_attributes_type", "dict_type", "tuple_type", "list_type"}
"""Faults that only say: this alternative is of another JSON kind than what is there."""


def _clean_path(loc: tuple[str | int, ...], data: Any, missing: bool) -> tuple[str | int, ...]:
    """The location without the names pydantic adds for union branches: only keys and indices that are in the data."""
    path: list[str | int] = []
    here = data
    tagged: Any = None
    for position, part in enumerate(loc):
        if _is_kind(here, part) and here is not tagged:
            tagged = here  # the kind "bodies" has a key of that name too
            continue
        if isinstance(here, dict) and part in here:
            here = here[part]
        elif isinstance(here, list) and isinstance(part, int) and part < len(here):
            here = here[part]
        elif not (missing and position == len(loc) - 1):
            continue
        path.append(part)
    return tuple(path)


def _is_kind(here: Any, part: str | int) -> bool:
    """True for the name of an alternative that an object says itself to be: in a location it comes before its keys."""
    return isinstance(here, dict) and here.get("type") == part


def from_validation(
    error: ValidationError, data: Any, *, what: str, type: str, model: type[BaseModel] | None = None
) -> Problem:
    """The Problem of a failed validation: each fault with JSON pointer and remedy, the deepest one in the sentence.

    With the ``model`` a key that is not known is told with the place, or the spelling, that is.
    """
    items = [item for item in error.errors(include_url=False) if not _follows(item)]
    faults = [_fault(item, data) for item in _meant(items, data)]
    faults = _with_homes(_most_telling(faults), model)
    first = faults[0]
    more = f" ({len(faults) - 1} more)" if len(faults) > 1 else ""
    return Problem(
        type,
        f"The {what} is not valid",
        f"{first['detail']}{more}",
        pointer=first["pointer"] or "/",
        remedy=first["remedy"],
        errors=faults,
    )


def _follows(item: Any) -> bool:
    """A list told as too short only because its faulty elements, each told for itself, were not counted."""
    return item["type"] == "too_short" and bool(len(item["input"]) >= item["ctx"]["min_length"])


def _meant(items: list[Any], data: Any) -> list[Any]:
    """Where alternatives were tried, only the faults of the one that fits best: the one that was meant."""
    scores: dict[tuple[Any, ...], dict[Any, int]] = {}
    for item in items:
        place, branch = _branch(tuple(item["loc"]), data)
        if branch is not None:
            badness = 100 if item["type"] in _OTHER_KIND else int(item["type"] in ("missing", "extra_forbidden"))
            tried = scores.setdefault(place, {})
            tried[branch] = tried.get(branch, 0) + badness
    best = {place: min(tried.values()) for place, tried in scores.items()}
    return [i for i in items if _kept(*_branch(tuple(i["loc"]), data), scores, best)]


def _kept(place: Any, branch: Any, scores: Mapping[Any, Mapping[Any, int]], best: Mapping[Any, int]) -> bool:
    return branch is None or scores[place][branch] == best[place]


def _branch(loc: tuple[str | int, ...], data: Any) -> tuple[tuple[str | int, ...], str | int | None]:
    """The place of the first union in a location and the alternative tried there; None where there was none."""
    here = data
    for position, part in enumerate(loc):
        if _is_kind(here, part):
            return loc[:position], part
        if (isinstance(here, dict) and part in here) or (
            isinstance(here, list) and isinstance(part, int) and part < len(here)
        ):
            here = here[part]  # type: ignore[index]
        else:
            return loc[:position], part if position < len(loc) - 1 or isinstance(here, (str, dict, list)) else None
    return loc, None


def _fault(item: Any, data: Any) -> dict[str, Any]:
    kind = str(item["type"])
    context = item.get("ctx") or {}
    message = str(context["error"]) if kind == "value_error" and "error" in context else str(item["msg"])
    missing = kind in ("missing", "union_tag_not_found")
    path = _clean_path(tuple(item["loc"]), data, kind == "missing")
    if kind == "missing":
        message = f"'{item['loc'][-1]}' is required but absent"
    if kind == "missing" and isinstance(item["loc"][-1], int):
        path, message = path[:-1], f"element {item['loc'][-1]} of the list is absent"
    if kind == "too_short":
        message = f"give at least {context['min_length']}, not {context['actual_length']}"
    if kind == "union_tag_not_found":
        message = f"{context['discriminator']} is required but absent"
    if kind == "union_tag_invalid":
        message = f"'{context['tag']}' is none of: {context['expected_tags']}"
    if kind == "extra_forbidden":
        message = f"'{item['loc'][-1]}' is not known here"
    message = _WORDS.get(kind, message[:1].lower() + message[1:] if not missing else message)
    message = message if len(message) <= LONGEST else message[:LONGEST] + " ..."
    return {"pointer": json_pointer(path), "detail": message + ".", "remedy": _REMEDIES.get(kind, ""), "kind": kind}


def _with_homes(faults: list[dict[str, Any]], model: type[BaseModel] | None) -> list[dict[str, Any]]:
    unknown = [f for f in faults if f["kind"] == "extra_forbidden"]
    if not unknown or model is None:
        return faults
    homes = homes_of(model)
    for fault in unknown:
        *path, key = fault["pointer"].split("/")
        names = [part for part in path if part and not part.isdigit()]
        fault["remedy"] = remedy_for(key, names, homes) or fault["remedy"]
    return faults


def _most_telling(faults: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """One fault per place; the deepest places first are the ones to mend."""
    seen: dict[str, dict[str, Any]] = {}
    for fault in faults:
        seen.setdefault(fault["pointer"] + fault["kind"], fault)
    return sorted(seen.values(), key=lambda f: -f["pointer"].count("/"))


def validated(model: type[M], data: Any, *, what: str, kind: str, context: Any = None) -> M:
    """``data`` as ``model``, or a Problem of type ``kind`` that names the JSON pointer."""
    try:
        return model.model_validate(data, context=context)
    except ValidationError as error:
        raise from_validation(error, data, what=what, type=kind, model=model) from None
