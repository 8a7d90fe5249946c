"""Two revisions of a part under one plan: which features are new, gone or changed, which setups they touch, and the
findings that differ. A pure function of two feature lists and two report documents; imports no kernel.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from worker.present.baseline import new_findings

Document = Mapping[str, Any]
SIZES = (
    "diameter",
    "top_diameter",
    "length",
    "width",
    "height",
    "depth",
    "angle",
    "tip_angle",
    "orthogonal_radius",
    "planar_radius",
    "radius",
    "slope",
    "bottom",
    "open_sides",
    "ends",
    "thread",
)
"""What a feature is measured by; a change of any of them is told."""
NEAR = 0.15
"""A feature has moved, rather than gone, within this share of the part's diagonal (our own choice)."""
SAME_PLACE = 1e-5
"""Places are the same within this share of the part's diagonal."""


def compare_revisions(
    old_part: Document, new_part: Document, old: Document | None, new: Document | None
) -> dict[str, Any]:
    """What differs. ``old_part`` and ``new_part`` hold ``features`` and ``bounding_box`` in the same units.

    ``old`` and ``new`` are the report documents, None where the plan cannot be carried out on that revision.
    """
    pairs, gone, fresh = match_features(old_part, new_part)
    reach = _diagonal(new_part)
    changed = [_change(a, b, reach) for a, b in pairs if a["id"] != b["id"]]
    renamed = {change["old"]: change["new"] for change in changed}
    before = _touched(old, "old", [c["old"] for c in changed] + [f["id"] for f in gone])
    after = _touched(new, "new", [c["new"] for c in changed] + [f["id"] for f in fresh])
    result: dict[str, Any] = {
        "features": {
            "same": sum(a["id"] == b["id"] for a, b in pairs),
            "changed": changed,
            "gone": [_named(f) for f in gone],
            "new": [_named(f) for f in fresh],
        },
        "setups": _merged([*before, *after]),
        "verdict": {side: report["verdict"] for side, report in (("old", old), ("new", new)) if report is not None},
    }
    if old is not None and new is not None:
        known = _renamed(old, renamed)
        result["findings"] = {"new": new_findings(new, known), "gone": new_findings(known, new)}
    return result


def match_features(
    old: Document, new: Document
) -> tuple[list[tuple[Document, Document]], list[Document], list[Document]]:
    """Pairs of the same feature in both revisions, those only in the old one, those only in the new one.

    Equal ids are the same feature: an id says class, size and place. Of the others, those of one class and
    direction that lie nearest to each other are one feature that was changed or moved.
    """
    olds, news = {f["id"]: f for f in old["features"]}, {f["id"]: f for f in new["features"]}
    pairs = [(f, news[id]) for id, f in olds.items() if id in news]
    left = [f for id, f in olds.items() if id not in news]
    right = [f for id, f in news.items() if id not in olds]
    limit = NEAR * max(_diagonal(old), _diagonal(new))
    candidates = sorted(
        (_distance(a, b), _unlikeness(a, b), i, j)
        for i, a in enumerate(left)
        for j, b in enumerate(right)
        if a["class"] == b["class"] and _same_direction(a, b) and _distance(a, b) <= limit
    )
    taken_left: set[int] = set()
    taken_right: set[int] = set()
    for _, _, i, j in candidates:
        if i not in taken_left and j not in taken_right:
            taken_left.add(i)
            taken_right.add(j)
            pairs.append((left[i], right[j]))
    gone = [f for i, f in enumerate(left) if i not in taken_left]
    return pairs, gone, [f for j, f in enumerate(right) if j not in taken_right]


def _change(old: Document, new: Document, reach: float) -> dict[str, Any]:
    sizes = {key: [old.get(key), new.get(key)] for key in SIZES if _differs(old.get(key), new.get(key))}
    change: dict[str, Any] = {"old": old["id"], "new": new["id"], "class": new["class"], "sizes": sizes}
    moved = [b - a for a, b in zip(old["placement"]["location"], new["placement"]["location"], strict=True)]
    if math.hypot(*moved) > SAME_PLACE * reach:
        change["moved"] = [round(c, 6) + 0.0 for c in moved]
    return change


def _differs(a: object, b: object) -> bool:
    if isinstance(a, int | float) and isinstance(b, int | float):
        return not math.isclose(a, b, rel_tol=1e-5, abs_tol=1e-5)
    return a != b


def _named(feature: Document) -> dict[str, Any]:
    sizes = {key: feature[key] for key in SIZES if key in feature}
    return {"id": feature["id"], "class": feature["class"], "sizes": sizes, "at": feature["placement"]["location"]}


def _distance(a: Document, b: Document) -> float:
    return math.dist(a["placement"]["location"], b["placement"]["location"])


def _unlikeness(a: Document, b: Document) -> int:
    return sum(_differs(a.get(key), b.get(key)) for key in SIZES)


def _same_direction(a: Document, b: Document) -> bool:
    pairs = zip(a["placement"]["axis"], b["placement"]["axis"], strict=True)
    return bool(sum(p * q for p, q in pairs) > 1 - 1e-4)


def _diagonal(part: Document) -> float:
    return math.dist(part["bounding_box"]["min"], part["bounding_box"]["max"])


def _touched(report: Document | None, side: str, ids: Iterable[str]) -> list[dict[str, Any]]:
    """The workingsteps of a report that name or reach one of the features."""
    wanted = set(ids)
    found = []
    for setup in report["setups"] if report else ():
        for step in setup["workingsteps"]:
            hit = [id for id in dict.fromkeys((*step["features"], *step.get("reached", ()))) if id in wanted]
            if hit:
                found.append({"setup": setup["id"], "workingstep": step["id"], side: hit})
    return found


def _merged(touched: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """One entry a workingstep, with what it met in the old and what it meets in the new revision."""
    found: dict[tuple[str, str], dict[str, Any]] = {}
    for entry in touched:
        found.setdefault((entry["setup"], entry["workingstep"]), {}).update(entry)
    return list(found.values())


def _renamed(report: Document, names: Mapping[str, str]) -> dict[str, Any]:
    """The report with the new names of changed features, so that their findings can be recognised."""
    findings = [
        {**f, "features": [names.get(id, id) for id in f["features"]]} if "features" in f else f
        for f in report["findings"]
    ]
    return {**report, "findings": findings}
