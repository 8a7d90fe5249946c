"""Obvious plans, checked end to end: for each part all that a straight tool sees is cut, from as few sides as will do.

No plan of a person: every feature gets the cutter of its own form, out of a block that is the part's box and MARGIN, on
a plate far away. What is left in sharp corners is told by left.stock, rightly. But the two computations must agree, no
rule may break off, nothing may be cut into, whatever crosses what and however the part is turned: such lines are told.
"""

from __future__ import annotations

import argparse
import json
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from bench.crossed_parts import crossed
from bench.forked import answer_of
from bench.rewrites import MOVED, UPRIGHT
from schemas.base import Vec3, any_frame
from schemas.feature import Feature
from worker import entry
from worker.bundle import pack, unpack
from worker.cache.kept import Kept
from worker.cache.rooms import Rooms
from worker.kernel.stepio import write_step
from worker.part import Part

Json = dict[str, Any]
MARGIN = 2.0
"""How much larger than the part's box the block is at each side (mm)."""
LONG = 150.0
"""Length of edge and stick-out of every tool (mm): reach is not looked at here."""
SMALL, LARGE = 3.0, 12.0
"""Diameters (mm) of cutters for sharp corners, and the largest."""
NEVER = frozenset({"evidence.disagreement", "rule.failed", "cut.gouge"})
ORDER = (
    "planar_face", "step", "open_pocket", "closed_pocket", "slot", "round_hole", "countersunk_hole", "region",
    "chamfer",
)  # fmt: skip
"""In which a shop cuts them; compounds are cut by their elements, bosses and profiles by what stands round them."""
PLATE: Json = {"type": "plate", "box": {"min": [-2e3, -2e3, -1.9e3], "max": [2e3, 2e3, -1.8e3]}}


def _mill(diameter: float, corner: float = 0.0) -> Json:
    cutter: Json = {"DC": round(diameter, 4), "APMX": LONG, "stickout": LONG}
    if corner <= 0.0:
        return {"type": "endmill", **cutter}
    if corner >= diameter / 2 - 1e-6:
        return {"type": "ballnose_endmill", **cutter, "RE": cutter["DC"] / 2}
    return {"type": "bullnose_endmill", **cutter, "RE": corner}


def _recess_mill(feature: Feature) -> Json:
    """As wide as the slot or the corners at most, with the floor's own round."""
    sharp = feature.class_.endswith("pocket") and not feature.orthogonal_radius
    wide = min(LARGE, SMALL if sharp else LARGE, 2 * (feature.orthogonal_radius or LARGE), feature.width or LARGE)
    return _mill(wide, min(wide / 2, feature.planar_radius or 0.0))


def _drill(feature: Feature) -> Json:
    point = feature.tip_angle or (118.0 if feature.bottom == "through" else 180.0)
    return {"type": "twist_drill", "DC": feature.diameter, "SIG": min(point, 180.0), "LU": LONG, "stickout": LONG}


def _pointed(type: str, diameter: float, angle: float) -> Json:
    edge = {"LU": LONG} if type == "countersink" else {"APMX": diameter / 2}
    return {"type": type, "DC": diameter, "SIG": angle, "stickout": LONG, **edge}


def work_for(feature: Feature) -> tuple[str, Json] | None:
    """The operation and the tool that a feature asks for; None for what no step names."""
    if not feature.access or feature.slope or feature.class_ not in ORDER:
        return None
    if feature.class_ == "round_hole" and feature.bottom == "spherical":
        return "bottom_and_side_finish_milling", _mill(feature.diameter or 1.0, (feature.diameter or 1.0) / 2)
    if feature.class_ == "round_hole":
        return "drilling", _drill(feature)
    if feature.class_ == "countersunk_hole":
        return "counter_sinking", _pointed("countersink", (feature.top_diameter or 1.0) + 1.0, feature.angle or 90.0)
    if feature.class_ == "chamfer":
        return "chamfering", _pointed("chamfer_mill", 20.0, round(2 * (feature.angle or 45.0), 6))
    if feature.class_ == "planar_face":
        return "plane_finish_milling", _mill(LARGE)
    if feature.class_ == "region":
        return "freeform_operation", _mill(SMALL, SMALL / 2)
    return "bottom_and_side_finish_milling", _recess_mill(feature)


def _sides(features: Sequence[Feature]) -> Iterator[tuple[Vec3, list[Feature]]]:
    """The way from which most features are seen, with these; then of the others, until none is left."""
    rest = list(features)
    while rest:
        seen = Counter(way for f in rest for way in {_rounded(w) for w in f.access})
        most = max(seen, key=lambda way: (seen[way], way))
        mine = [f for f in rest if most in map(_rounded, f.access)]
        yield next(way for way in mine[0].access if _rounded(way) == most), mine
        rest = [f for f in rest if f not in mine]


def _rounded(way: Vec3) -> Vec3:
    return round(way[0], 5), round(way[1], 5), round(way[2], 5)


def obvious(part: Part, raw: bool = False) -> Json:
    """A plan that cuts all features that a straight tool sees, without setups where there are none; ``raw``: all but
    plane faces, so that the others stand in metal."""
    low, high = part.box.min, part.box.max
    blank = {"min": [c - MARGIN for c in low], "max": [c + MARGIN for c in high]}
    tools: list[Json] = []
    sides = _sides([f for f in part.features if work_for(f) and not (raw and f.class_ == "planar_face")])
    middle = [(a + b) / 2 for a, b in zip(low, high, strict=True)]
    setups = [_setup(f"S{n}", middle, way, mine, tools) for n, (way, mine) in enumerate(sides, start=1)]
    return {
        "plan_version": 1,
        "units": "mm",
        "workpiece": {"rawpiece": {"box": blank}},
        "tools": tools,
        "setups": setups,
    }


def _setup(id: str, middle: list[float], way: Vec3, features: Sequence[Feature], tools: list[Json]) -> Json:
    frame = any_frame((0.0, 0.0, 0.0), way)
    steps: list[Json] = []
    for feature in sorted(features, key=lambda f: (ORDER.index(f.class_), -(f.width or f.diameter or 0.0), f.id)):
        operation, cutter = work_for(feature) or ("", {})
        tools.append({"id": f"T{len(tools) + 1}", **cutter})
        step = {"id": str(10 * (len(steps) + 1)), "operation": operation, "tool": tools[-1]["id"]}
        steps.append({**step, "features": [feature.id], "overcut_length": 1.0 if feature.bottom == "through" else 0.0})
    origin = {"location": middle, "axis": list(frame.z), "ref_direction": list(frame.x)}
    return {"id": id, "origin": origin, "workholding": {"type": "fixture_plate", "elements": [PLATE]},
            "workingsteps": steps}  # fmt: skip


def _judged(part: bytes, raw: bool) -> Json:
    """Counts, processor seconds and what must not be, of one part; for a child of its own."""
    start = time.process_time()
    plan = obvious(Rooms(Kept(None)).part(part)[0], raw)
    if not plan["setups"]:
        return {"setups": 0, "steps": 0, "seconds": time.process_time() - start, "told": []}
    answer = unpack(entry.check(pack({"part": part, "plan": json.dumps(plan).encode()}), lambda _: None))
    report = json.loads(answer["report"])
    told = [f"{f['code']}: {f['message']}" for f in report["findings"] if f["code"] in NEVER]
    told += [a["method"] for a in report["evidence"]["agreement"] if "solid model" in a["method"]]
    told += [f"{m['setup']}: {m['method']}" for m in report["evidence"]["methods"] if m["method"] != "exact solids"]
    steps = sum(len(setup["workingsteps"]) for setup in plan["setups"])
    return {"setups": len(plan["setups"]), "steps": steps, "seconds": time.process_time() - start, "told": told}


def _drawn(seeds: range, way: str) -> Iterator[tuple[str, bytes]]:
    """Drawn parts by seed, written some way; the empty word stands for as they are drawn."""
    rewrite = {**UPRIGHT, **MOVED}.get(way)
    for seed in seeds:
        part = crossed(seed)
        yield part.name, write_step(rewrite(part.body, seed) if rewrite else part.body, name=part.name)


def main() -> None:
    """Judge drawn parts, or the STEP files of a folder; a line for each with what must not be, and the sum."""
    asked = argparse.ArgumentParser(prog="python -m bench.planned", description=__doc__)
    asked.add_argument("folder", nargs="?", type=Path, help="STEP files to plan; drawn parts where none is named")
    asked.add_argument("--first", type=int, default=0, help="seed of the first drawn part")
    asked.add_argument("--count", type=int, default=12, help="how many drawn parts")
    asked.add_argument("--written", choices=[*UPRIGHT, *MOVED], default="", help="how the drawn parts are written")
    asked.add_argument("--raw", action="store_true", help="leave plane faces uncut, so that all else stands in metal")
    wish, _ = asked.parse_known_args()
    drawn = _drawn(range(wish.first, wish.first + wish.count), wish.written)
    named = ((p.stem, p.read_bytes()) for p in sorted(wish.folder.glob("*.st*p"))) if wish.folder else drawn
    faulty, seconds = 0, []
    for name, part in named:
        found = answer_of(partial(_judged, part, wish.raw))
        seconds.append(found["seconds"])
        faulty += bool(found["told"])
        print(f"{name}: {found['setups']} setups, {found['steps']} steps, {found['seconds']:.1f} s")
        print(*(f"    {line}" for line in found["told"]), sep="\n", end="\n" if found["told"] else "")
    print(f"{len(seconds)} parts, {faulty} with a fault, slowest {max(seconds, default=0.0):.1f} s")


if __name__ == "__main__":
    main()
