"""How the writers put numbers, levels and codes into words. The document is in the plan's units already."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from schemas.finding import CATALOGUE
from schemas.units import trimmed, volume_words

Document = Mapping[str, Any]
LEVELS = ("error", "warning", "note")
WHOLE_PLAN = "plan"
"""Where a finding belongs that names no setup."""
EVERYWHERE = "*"
"""Where a rule is skipped that the plan's policy switches off."""
EXACT = "exact solids"
"""How the method of a setup begins that needs no mention."""


def symbol(document: Document) -> str:
    """The unit of length that the document is written in: mm or in."""
    return "in" if document["units"] == "inch" else "mm"


def number(value: float, decimals: int = 3) -> str:
    """A number without trailing zeros."""
    return trimmed(value, decimals)


def length(document: Document, value: float) -> str:
    """A length with its symbol: three decimals in mm, four in inch."""
    return f"{bare_length(document, value)} {symbol(document)}"


def bare_length(document: Document, value: float) -> str:
    """A length without its symbol."""
    return number(value, 4 if document["units"] == "inch" else 3)


def volume(document: Document, value: float | None) -> str:
    """A volume: cm3 from 1000 mm3 up, in3 in inch plans; a report may not know it."""
    return "not known" if value is None else volume_words(value, document["units"])


def sizes(document: Document, box: Mapping[str, Sequence[float]]) -> str:
    """The edge lengths of a box: 104 x 64 x 38 mm."""
    edges = (high - low for low, high in zip(box["min"], box["max"], strict=True))
    return " x ".join(bare_length(document, e) for e in edges) + f" {symbol(document)}"


def point(document: Document, at: Sequence[float]) -> str:
    """A point: (1, 2.5, -3)."""
    return "(" + ", ".join(bare_length(document, c) for c in at) + ")"


def duration(seconds: float) -> str:
    """A time as people say it: 45 s, 12 min 30 s, 1 h 05 min."""
    whole = round(seconds)
    if whole < 60:
        return f"{number(seconds, 1)} s" if whole < 10 else f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60:02d} s"
    minutes = round(seconds / 60)
    return f"{minutes // 60} h {minutes % 60:02d} min"


def count(amount: int, noun: str) -> str:
    """An amount with its noun: 1 error, 2 errors, 3 pieces."""
    return f"{amount} {noun}" if amount == 1 else f"{amount} {noun}s"


def title(code: str) -> str:
    """What a code means, in a few words; a shop's own code stands for itself."""
    entry = CATALOGUE.get(code)
    return entry.title if entry else code


def counts(document: Document) -> str:
    """The findings counted: 2 errors, 1 warning, or 'no findings'."""
    found = [count(n, level) for level in LEVELS if (n := document["counts"].get(level, 0))]
    return ", ".join(found) or "no findings"


def finished(document: Document) -> str:
    """How many features are finished: '21 of 23 features finished'; a report may not know."""
    features = document["features"]
    if "volume" not in document["residual"]:
        return f"which of {count(len(features), 'feature')} are finished is not known"
    done = sum("finished_in" in f for f in features)
    return f"{done} of {count(len(features), 'feature')} finished"


def findings_of(document: Document, setup: str | None) -> list[Document]:
    """The findings of one setup (or of the plan itself, for None), the gravest first, else in the report's order."""
    found = [f for f in document["findings"] if f.get("setup") == setup]
    return sorted(found, key=lambda f: LEVELS.index(f["level"]))


def place(document: Document, finding: Document) -> str:
    """Where a finding is, in both frames; empty when it has no place."""
    at = finding.get("at")
    if not at:
        return ""
    text = f"part {point(document, at['part'])}"
    return f"{text}, setup {point(document, at['setup'])} {symbol(document)}" if "setup" in at else text


def measured(finding: Document) -> str:
    """What was measured against which limit: '12.5 mm, limit 15 mm'."""
    unit = finding.get("unit", "")
    pairs = (("measured", ""), ("limit", "limit "))
    return ", ".join(f"{word}{_quantity(finding[key], unit)}" for key, word in pairs if key in finding)


def _quantity(value: float, unit: str) -> str:
    if unit in ("mm3", "in3"):
        return volume_words(value, "mm" if unit == "mm3" else "inch")
    return number(value, 4) + ("" if unit in ("", "1") else f" {unit}")


def remedy(finding: Document) -> str:
    """What mends it, with the plan's value to change: 'Stick out further. [/tools/3/stickout = 42.5 mm]'."""
    mend = finding.get("remedy")
    if not mend:
        return ""
    return f"{mend['text']} [{change}]" if (change := change_of(mend)) else str(mend["text"])


def change_of(mend: Document) -> str:
    """The plan's value to change: '/tools/3/stickout = 42.5 mm'; empty when there is none."""
    if "pointer" not in mend:
        return ""
    if "value" not in mend:
        return str(mend["pointer"])
    value = mend["value"]
    shown = number(value, 4) if isinstance(value, float | int) and not isinstance(value, bool) else str(value)
    shown = shown.lower() if isinstance(value, bool) else shown  # as JSON writes it
    unit = mend.get("unit", "")
    return f"{mend['pointer']} = {shown}{'' if unit in ('', '1') else ' ' + unit}"


def cutter(document: Document, tool: Document) -> str:
    """A tool in a few words: 'endmill 10 mm', 'tapping_cutting_tool M12x1.75'."""
    size = tool.get("thread") or length(document, tool["diameter"])
    radius = f" R{bare_length(document, tool['corner_radius'])}" if "corner_radius" in tool else ""
    point_angle = f" {number(tool['point_angle'])} deg" if "point_angle" in tool else ""
    return f"{tool['type'].replace('_', ' ')} {size}{radius}{point_angle}"


def least(document: Document, stated: Document) -> str:
    """The least stick-out of a step or tool, rounded up: what is set by it must serve."""
    decimals = 2 if document["units"] == "mm" else 3
    return number(math.ceil(round(stated["least_stickout"] * 10**decimals, 6)) / 10**decimals, decimals)


def margin(document: Document, step: Document) -> str:
    """The least stick-out of a step and what the stated one has over it: '32.1 (+3.9)'."""
    if "least_stickout" not in step:
        return "-" if step.get("holder_checked") else "no holder"
    if "stickout_margin" not in step:
        return least(document, step)
    return f"{least(document, step)} ({step['stickout_margin']:+.{2 if document['units'] == 'mm' else 3}f})"


def tip(document: Document, step: Document) -> str:
    """The height of a step's lowest point; empty where none is known or the plan fixes none, as along edges."""
    if "tip_z" not in step or step["operation"] == "edge_breaking":
        return ""
    return bare_length(document, step["tip_z"])


def room_below(document: Document, step: Document) -> str:
    """Under a tool that comes through, the room left and over what: '3.25 bed'; empty for other steps."""
    if "room_below" not in step:
        return ""
    return f"{number(step['room_below'], 2 if document['units'] == 'mm' else 3)} {step['body_below']}"


def comes_through(setup: Document) -> bool:
    """True when a step of the setup comes out of the stock over something."""
    return any("room_below" in step for step in setup["workingsteps"])


def inexact(document: Document) -> list[str]:
    """The setups that were not cut as exact solids, each with what stood in."""
    found = document["evidence"].get("methods", ())
    return [f"{m['setup']} was not cut exactly: {m['method']}" for m in found if not m["method"].startswith(EXACT)]


def switched_off(document: Document) -> list[str]:
    """Codes of the rules that the plan's policy switches off."""
    return [r["code"] for r in document["evidence"].get("rules", ()) if EVERYWHERE in r.get("skipped", {})]


def comma(words: Iterable[str]) -> str:
    """Words in a row."""
    return ", ".join(words)


def material(document: Document) -> tuple[str, ...]:
    """What the plan calls the material; nothing where it names none."""
    return (document["part"]["material"],) if "material" in document["part"] else ()


def direction(axis: Sequence[float]) -> str:
    """A direction of the part's frame: +X, -Z, or its three numbers where it follows no axis."""
    for name, value in zip("XYZ", axis, strict=True):
        if abs(abs(value) - 1) < 1e-9:
            return f"{'+' if value > 0 else '-'}{name}"
    return "(" + ", ".join(number(c) for c in axis) + ")"
