"""What runs inside the killable child: bytes in, bytes out; the kernel is loaded here and nowhere before."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any

from schemas.report import feature_out, report_bytes, report_document, rounded
from schemas.units import UnitName, Units, units
from worker.bundle import pack, unpack
from worker.cache.results import CODE_PART
from worker.cache.store import Store, unpacked

if TYPE_CHECKING:
    from worker.cache.kept import Kept
    from worker.part import Part

Progress = Callable[[Mapping[str, Any]], None]
_FILE, _STAGE, _EXTRA = "file/", "stage/", "extra/"


def check(payload: bytes, progress: Progress) -> bytes:
    """A whole check: ``part``, ``plan``, ``file/NAME`` in; ``report``, ``stage/SETUP``, ``extra/NAME`` out.

    With a ``cache`` it says which ``code`` it was.
    """
    from worker.extras import make_extras
    from worker.pipeline import check_plan

    parts = unpack(payload)
    files = {name.removeprefix(_FILE): data for name, data in parts.items() if name.startswith(_FILE)}
    wanted = tuple(name.removeprefix(_EXTRA) for name in parts if name.startswith(_EXTRA))
    kept = _kept(parts)
    checked = check_plan(parts["part"], parts["plan"], files, progress, kept)
    document = report_document(checked.report)
    stages = {_STAGE + id: data for id, data in checked.stages.items()}
    extras = {_EXTRA + name: data for name, data in make_extras(wanted, document, checked, kept).items()}
    return pack({"report": report_bytes(document), **stages, **extras, **_code(parts)})


def _kept(parts: Mapping[str, bytes]) -> Kept:
    from worker.cache.kept import Kept

    return Kept(Store(unpacked(parts["cache"])) if "cache" in parts else None)


def _code(parts: Mapping[str, bytes]) -> dict[str, bytes]:
    """Which code gave the answer, for who keeps it."""
    if "cache" not in parts:
        return {}
    from worker.cache.code import CODE

    return {CODE_PART: CODE.encode()}


def features(payload: bytes, progress: Progress) -> bytes:
    """Recognition alone: ``part``, ``unit``, ``picture`` in; ``document``, ``table``, ``picture`` out."""
    from worker.cache.rooms import Rooms
    from worker.recognise.table import feature_table

    parts = unpack(payload)
    name: UnitName = "inch" if parts["unit"] == b"inch" else "mm"
    part, file = Rooms(_kept(parts)).part(parts["part"])
    out = units(name)
    document = {
        "units": name,
        "volume": rounded(out.volume(part.volume), 9),
        "bounding_box": {side: [rounded(out.length(c)) for c in getattr(part.box, side)] for side in ("min", "max")},
        "faces": part.face_count,
        "sha256": part.sha256,
        "notes": list(file.notes),
        "features": [
            feature_out(f).model_dump(mode="json", by_alias=True, exclude_none=True, context={"units": name})
            for f in part.features
        ],
    }
    data = (json.dumps(document, indent=2, ensure_ascii=False) + "\n").encode()
    return pack(
        {
            "document": data,
            "table": feature_table(part.features, name).encode(),
            "picture": _picture(part, parts["picture"], out),
        }
    )


def _picture(part: Part, form: bytes, out: Units) -> bytes:
    if not form:
        return b""
    from worker.present.numbered import numbered_sheet, sheet_png, sheet_svg
    from worker.scenery import part_mesh

    sheet = numbered_sheet(part_mesh(part), part.features, out)
    return sheet_svg(sheet) if form == b"svg" else sheet_png(sheet)


def rules(payload: bytes, progress: Progress) -> bytes:
    """The rule list, one rule explained, or the whole reference, as text."""
    from worker.checks.describe import rule_list, rule_page, rule_reference
    from worker.checks.registry import all_rules
    from worker.job import unknown_code

    parts = unpack(payload)
    known = all_rules()
    code = parts["code"].decode()
    if parts["markdown"]:
        return rule_reference(known).encode()
    if not code:
        return rule_list(known).encode()
    chosen = [one for one in known if one.code == code]
    if not chosen:
        raise unknown_code(code, get_close_matches(code, [one.code for one in known], n=3, cutoff=0.4))
    return "\n".join(rule_page(one) for one in chosen).encode()
