"""Report documents made of the report's own models, for tests of the writers."""

from __future__ import annotations

from typing import Any

from schemas.finding import Finding, Place, Remedy
from schemas.report import Report, report_document
from worker.present.cautions import CAUTIONS

UP = {"location": [0.0, 0.0, 30.0], "axis": [0.0, 0.0, 1.0], "ref_direction": [1.0, 0.0, 0.0]}
DOWN = {"location": [0.0, 60.0, 0.0], "axis": [0.0, 0.0, -1.0], "ref_direction": [1.0, 0.0, 0.0]}

STICKOUT = Finding(
    code="reach.stickout",
    level="error",
    setup="S1",
    workingstep="30",
    features=("closed_pocket-1",),
    message="The holder of T2 meets the wall of the boss before the tip is down.",
    measured=36.0,
    limit=38.25,
    unit="mm",
    at=Place(part=(50.0, 30.0, 18.0), setup=(50.0, 30.0, -12.0)),
    remedy=Remedy(text="Stick T2 out at least 38.3 mm.", pointer="/tools/1/stickout", value=38.3, unit="mm"),
)
THIN = Finding(
    code="wall.thin",
    level="warning",
    setup="S1",
    workingstep="30",
    features=("closed_pocket-1",),
    message="A wall of 0.8 mm stands beside the pocket & the <outer> side while it is cut.",
    measured=0.8,
    limit=1.0,
    unit="mm",
    at=Place(part=(10.0, 30.0, 20.0), setup=(10.0, 30.0, -10.0)),
)
MARKED = Finding(
    code="hold.marked", level="note", setup="S2", message="The jaws bear on a finished face.", features=("plane-2",)
)
LEFT = Finding(
    code="left.feature",
    level="error",
    features=("round_hole-2",),
    message="No step finishes round_hole-2.",
    remedy=Remedy(text="Add a step to S2 that drills 6.6 mm."),
)
FINDINGS = (STICKOUT, THIN, MARKED, LEFT)


def feature(id: str, class_: str, **more: Any) -> dict[str, Any]:
    """One feature as the report holds it."""
    return {"id": id, "class": class_, "faces": [1], "placement": UP, "access": [[0.0, 0.0, 1.0]], **more}


def workingstep(id: str, operation: str, tool: str, removal: float, **more: Any) -> dict[str, Any]:
    """One workingstep as the report holds it."""
    return {"id": id, "operation": operation, "tool": tool, "features": [], "removal": removal, **more}


def stock(volume: float, low: list[float], high: list[float], **more: Any) -> dict[str, Any]:
    """One stock state."""
    box = {"min": low, "max": high}
    return {"volume": volume, "mass": round(volume * 2.7e-6, 4), "bounding_box": box, "solids": 1, **more}


def _time(cutting: float) -> dict[str, Any]:
    return {"cutting": cutting, "approach": 4.0, "tool_change": 5.0, "total": cutting + 9.0, "assumptions": ["vc 300"]}


def _setups() -> list[dict[str, Any]]:
    first = [
        workingstep(
            "10", "plane_finish_milling", "T1", 13312.0, reached=["planar_face-1"], least_stickout=28.0,
            stickout_margin=12.0, holder_checked=True, tip_z=0.0, time=_time(41.0),
        ),
        workingstep(
            "30", "bottom_and_side_rough_milling", "T2", 35678.0972, reached=["closed_pocket-1", "edge_round-1"],
            least_stickout=38.25, stickout_margin=-2.25, holder_checked=True, tip_z=-12.0, time=_time(95.5),
        ),
        workingstep("40", "drilling", "T4", 0.0, enabled=False),
    ]  # fmt: skip
    second = [workingstep("10", "plane_rough_milling", "T1", 26624.0, reached=["planar_face-2"], tip_z=0.5)]
    holding = {
        "kind": "vise", "support_z": -36.0, "stock_top_z": 2.0, "finished_top_z": 0.0, "jaw_axis": "Y", "jaws": "hard",
        "stock_min": [-2.0, -2.0, -36.0], "stock_max": [102.0, 62.0, 2.0], "grip": 5.0, "opening": 64.0,
        "jaw_low": -2.0, "jaw_high": 62.0,
        "jaw_width": 150.0, "jaw_height": 45.0, "jaw_top_z": -31.0, "bed_z": -76.0, "parallel_height": 40.0,
        "clamping_force": 20000.0,
    }  # fmt: skip
    vise = "vise, jaws along Y, grip 5 mm on parallels of 40 mm"
    raw = stock(252928.0, [-2.0, -2.0, -6.0], [102.0, 62.0, 32.0])
    carried = stock(203937.9, [-2.0, -2.0, -6.0], [102.0, 62.0, 30.0], step="stages/S1.step", sha256="a" * 64)
    done = stock(177313.9, [0.0, 0.0, 0.0], [100.0, 60.0, 30.0], step="stages/S2.step", sha256="b" * 64)
    base = {"workholding": vise}
    return [
        {**base, "id": "S1", "name": "top", "work_offset": "G54", "origin": UP, "as_is": raw, "to_be": carried,
         "workingsteps": first, "time": 136.5, "holding": holding, "instructions": "Deburr before unclamping."},
        {**base, "id": "S2", "name": "bottom", "work_offset": "G55", "origin": DOWN, "as_is": carried, "to_be": done,
         "workingsteps": second,
         "loose": [{"volume": 50.0, "bounding_box": {"min": [0.0, 0.0, 0.0], "max": [5.0, 5.0, 2.0]}}]},
    ]  # fmt: skip


def report(units: str = "mm", findings: tuple[Finding, ...] = FINDINGS, **more: Any) -> Report:
    """A small report of two setups; lengths in mm inside whatever ``units`` it is written in."""
    counts = {level: sum(f.level == level for f in findings) for level in ("error", "warning", "note")}
    document: dict[str, Any] = {
        "name": "valve body, two setups",
        "units": units,
        "verdict": "fail" if counts["error"] else "pass",
        "counts": counts,
        "part": {"volume": 177263.9, "mass": 0.4786, "faces": 40, "material": "EN AW-6082 T6",
                 "bounding_box": {"min": [0.0, 0.0, 0.0], "max": [100.0, 60.0, 30.0]}},
        "features": [
            feature("planar_face-1", "planar_face", finished_in="S1/10"),
            feature("planar_face-2", "planar_face", finished_in="S2/10"),
            feature("closed_pocket-1", "closed_pocket", depth=12.0, finished_in="S1/30"),
            feature("edge_round-1", "edge_round", radius=2.0, finished_in="S1/30"),
            feature("round_hole-2", "round_hole", diameter=6.6, depth=30.0, bottom="through"),
        ],
        "tools": [
            {"id": "T1", "type": "facemill", "diameter": 50.0, "stickout": 40.0, "least_stickout": 28.0,
             "stickout_margin": 12.0, "holder": True, "steps": ["S1/10", "S2/10"]},
            {"id": "T2", "type": "endmill", "diameter": 10.0, "stickout": 36.0, "least_stickout": 38.25,
             "stickout_margin": -2.25, "holder": True, "steps": ["S1/30"]},
            {"id": "T4", "type": "twist_drill", "diameter": 6.6, "point_angle": 118.0, "stickout": 70.0,
             "holder": False, "steps": ["S1/40"]},
        ],
        "setups": _setups(),
        "findings": [f.model_dump() for f in findings],
        "residual": {"volume": 50.0, "lumps": [{"volume": 50.0, "features": ["round_hole-2"],
                     "bounding_box": {"min": [10.0, 10.0, 0.0], "max": [16.6, 16.6, 30.0]}}]},
        "time": 136.5,
        "cost": {"currency": "EUR", "lot_size": 50, "per_part": 7.25, "per_lot": 362.5, "items": {"cutting": 2.6},
                 "assumptions": ["machine hour 68 EUR"]},
        "evidence": {
            "inputs": {"part": "1" * 64, "plan": "2" * 64},
            "versions": {"reclamp": "0.1.0", "kernel": "7.9"},
            "tolerances": {"length": 0.001},
            "agreement": [{"setup": "S1", "solid_volume": 203937.9, "field_volume": 203930.0,
                           "relative_difference": 3.9e-5, "bound": 2e-4, "method": "columns of 0.2 mm"}],
            "rules": [
                {"code": "reach.stickout", "findings": 1, "ran": ["S1", "S2"]},
                {"code": "hold.slip", "findings": 0, "skipped": {"S2": "the plan states no clamping force"}},
                {"code": "hold.grip", "findings": 0, "ran": ["S1", "S2"]},
                {"code": "cut.gouge", "findings": 0, "ran": ["S1/10"], "skipped": {"S1/30": "no", "S2/10": "off"}},
                {"code": "left.stock", "findings": 0, "ran": ["plan"]},
                {"code": "order.entry", "findings": 0, "skipped": {"*": "switched off by the plan's policy"}},
            ],
        },
        "cautions": CAUTIONS,
    }  # fmt: skip
    return Report.model_validate({**document, **more})


def document(units: str = "mm", findings: tuple[Finding, ...] = FINDINGS, **more: Any) -> dict[str, Any]:
    """The same as JSON values."""
    return report_document(report(units, findings, **more))
