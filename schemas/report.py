"""The report, version 1: mm inside, written in the plan's units by ``report_document``."""

from __future__ import annotations

import json
import math
from typing import Annotated, Any, Literal

from pydantic import Field, PlainSerializer, SerializationInfo

from schemas.base import Model
from schemas.feature import Feature
from schemas.finding import Finding, Level
from schemas.units import UnitName, Units, units

SIGNIFICANT = 12
"""Digits kept when a number is written: past the kernel's own noise, short of a processor's last bit."""


def rounded(value: float, decimals: int = 6) -> float:
    """A number as it is written: at most ``decimals`` decimals and 12 significant digits; never -0.0."""
    if value == 0 or not math.isfinite(value):
        return 0.0 if value == 0 else value
    digits = SIGNIFICANT - 1 - math.floor(math.log10(abs(value)))
    return round(value, min(decimals, digits)) + 0.0


def _units(info: SerializationInfo) -> Units:
    context: dict[str, Any] = info.context or {}
    return units(context.get("units", "mm"))


def _length(value: float, info: SerializationInfo) -> float:
    return rounded(_units(info).length(value))


def _volume(value: float, info: SerializationInfo) -> float:
    return rounded(_units(info).volume(value), 9 if _units(info).name == "inch" else 6)


def _plain(value: float) -> float:
    return rounded(value)


LengthOut = Annotated[float, PlainSerializer(_length, return_type=float)]
VolumeOut = Annotated[float, PlainSerializer(_volume, return_type=float)]
NumberOut = Annotated[float, PlainSerializer(_plain, return_type=float)]
PointOut = tuple[LengthOut, LengthOut, LengthOut]
DirectionOut = tuple[NumberOut, NumberOut, NumberOut]


class BoxOut(Model):
    """A bounding box in the part's frame."""

    min: PointOut
    max: PointOut


class PlacementOut(Model):
    """An axis placement in the part's frame."""

    location: PointOut
    axis: DirectionOut
    ref_direction: DirectionOut


class FeatureOut(Model):
    """A feature of the part, with the setups and steps that finish it. Names as in ``schemas.feature.Feature``."""

    id: str
    class_: str = Field(serialization_alias="class", validation_alias="class")
    faces: tuple[int, ...]
    placement: PlacementOut
    access: tuple[DirectionOut, ...]
    diameter: LengthOut | None = None
    depth: LengthOut | None = None
    length: LengthOut | None = None
    width: LengthOut | None = None
    height: LengthOut | None = None
    angle: NumberOut | None = None
    tip_angle: NumberOut | None = None
    bottom: str | None = None
    orthogonal_radius: LengthOut | None = None
    planar_radius: LengthOut | None = None
    slope: NumberOut | None = None
    radius: LengthOut | None = None
    top_diameter: LengthOut | None = None
    open_sides: int | None = None
    ends: str | None = None
    course_of_travel: str | None = None
    elements: tuple[str, ...] = ()
    parent: str | None = None
    bosses: tuple[str, ...] = ()
    thread: str | None = None
    pattern: str | None = None
    undercut: str | None = None
    finished_in: str | None = None


def feature_out(feature: Feature, finished_in: str | None = None) -> FeatureOut:
    """The written form of a recognised feature."""
    return FeatureOut.model_validate({**feature.model_dump(by_alias=True), "finished_in": finished_in})


class TimeOut(Model):
    """Estimated times of a workingstep, seconds."""

    cutting: NumberOut
    approach: NumberOut = 0.0
    tool_change: NumberOut = 0.0
    total: NumberOut
    estimate: Literal[True] = True
    assumptions: tuple[str, ...] = ()


class WorkingstepOut(Model):
    """What one workingstep did; ``stickout_margin`` is what the stated stick-out has over the least that works.

    ``room_below`` is what stays between a tool that comes through below and ``body_below``, which lies under it.
    """

    id: str
    name: str | None = None
    operation: str
    tool: str
    features: tuple[str, ...]
    enabled: bool = True
    removal: VolumeOut | None = Field(default=None, description="absent where no solid model gave it")
    reached: tuple[str, ...] = ()
    tip_z: LengthOut | None = Field(default=None, description="lowest point of the tool, in the setup's frame")
    least_stickout: LengthOut | None = None
    stickout_margin: LengthOut | None = None
    room_below: LengthOut | None = None
    body_below: str | None = None
    holder_checked: bool = False
    time: TimeOut | None = None
    estimate: dict[str, NumberOut] | None = Field(
        default=None, description="cutting speed, feed, power, torque, force, tip deflection; units in the names"
    )
    notes: tuple[str, ...] = ()


class StockOut(Model):
    """A stock state. ``mass`` in kg where the plan states a density; ``step`` names the stage file.

    Where no solid model gave the metal, ``volume`` is the dexel field's, if it knows, and the rest is absent.
    """

    volume: VolumeOut | None = None
    mass: NumberOut | None = None
    bounding_box: BoxOut | None = None
    solids: int | None = None
    step: str | None = None
    sha256: str | None = None


class LumpOut(Model):
    """One connected piece of metal."""

    volume: VolumeOut
    mass: NumberOut | None = None
    bounding_box: BoxOut
    features: tuple[str, ...] = ()


class HoldingOut(Model):
    """How the workholding stands to the as-is stock; heights in the setup's frame, what does not apply left out."""

    kind: Literal["vise", "fixture_plate", "bodies"]
    support_z: LengthOut = Field(description="lowest height of the stock, where it rests")
    stock_top_z: LengthOut | None = Field(default=None, description="top of the as-is stock")
    finished_top_z: LengthOut | None = Field(default=None, description="top of the stock when the setup is done")
    stock_min: PointOut | None = Field(default=None, description="lower corner of the as-is stock, setup's frame")
    stock_max: PointOut | None = Field(default=None, description="upper corner of the as-is stock, setup's frame")
    jaw_axis: Literal["X", "Y"] | None = None
    jaws: Literal["hard", "soft"] | None = None
    grip: LengthOut | None = None
    opening: LengthOut | None = None
    jaw_low: LengthOut | None = Field(default=None, description="jaw faces along jaw_axis, setup's frame")
    jaw_high: LengthOut | None = None
    jaw_width: LengthOut | None = None
    jaw_height: LengthOut | None = None
    jaw_top_z: LengthOut | None = None
    bed_z: LengthOut | None = None
    parallel_height: LengthOut | None = None
    clamping_force: NumberOut | None = Field(default=None, description="N")
    elements: tuple[str, ...] = Field(default=(), description="what stands and clamps on a fixture plate")


class SetupOut(Model):
    """One setup: what it started from, what was cut, what is left."""

    id: str
    name: str | None = None
    work_offset: str | None = None
    origin: PlacementOut
    workholding: str
    holding: HoldingOut | None = None
    instructions: str | None = None
    as_is: StockOut
    workingsteps: tuple[WorkingstepOut, ...]
    to_be: StockOut
    loose: tuple[LumpOut, ...] = ()
    time: NumberOut | None = Field(default=None, description="estimated seconds in this setup")


class ToolOut(Model):
    """A tool of the plan: what it is, where it works, and the least stick-out that serves all its steps."""

    id: str
    type: str
    name: str | None = None
    diameter: LengthOut
    thread: str | None = None
    corner_radius: LengthOut | None = None
    point_angle: NumberOut | None = None
    stickout: LengthOut
    least_stickout: LengthOut | None = None
    stickout_margin: LengthOut | None = None
    holder: bool = Field(description="the plan states the holder, so it is checked")
    steps: tuple[str, ...] = Field(default=(), description="setup/workingstep, in the plan's order")


class Residual(Model):
    """What is left on the part at the end; ``volume`` is absent where that is not known."""

    volume: VolumeOut | None = None
    lumps: tuple[LumpOut, ...] = ()


class Balance(Model):
    """The volume balance of a stage: as_is - removal - loose = to_be, and how well it closes."""

    setup: str
    as_is: VolumeOut
    removal: VolumeOut
    loose: VolumeOut
    to_be: VolumeOut
    relative_error: NumberOut = Field(description="rounded to 1e-12")
    carried: bool = Field(description="the stage starts from the very solid that the previous one left")


class Method(Model):
    """How the metal that a setup leaves was computed."""

    setup: str
    method: str


class Agreement(Model):
    """The two stock computations of a stage, one beside the other."""

    setup: str
    solid_volume: VolumeOut
    field_volume: VolumeOut
    relative_difference: NumberOut
    bound: NumberOut
    method: str


class RuleRun(Model):
    """A rule and where it ran; ``skipped`` says where it does not apply and why."""

    code: str
    findings: int
    ran: tuple[str, ...] = ()
    skipped: dict[str, str] = Field(default_factory=dict)


class Evidence(Model):
    """What the verdict stands on: inputs, versions, tolerances, balances."""

    inputs: dict[str, str] = Field(description="name of each input to its sha256")
    versions: dict[str, str]
    tolerances: dict[str, float]
    limits: dict[str, float] = Field(default_factory=dict)
    methods: tuple[Method, ...] = ()
    balance: tuple[Balance, ...] = ()
    agreement: tuple[Agreement, ...] = ()
    rules: tuple[RuleRun, ...] = ()
    notes: tuple[str, ...] = ()


class PartOut(Model):
    """The part that was checked."""

    volume: VolumeOut
    mass: NumberOut | None = None
    bounding_box: BoxOut
    faces: int
    material: str | None = Field(default=None, description="what the plan calls the material")


class CostOut(Model):
    """Estimate per lot from the shop's own rates; always an estimate."""

    currency: str
    lot_size: int
    per_part: NumberOut
    per_lot: NumberOut
    items: dict[str, NumberOut]
    assumptions: tuple[str, ...] = ()
    estimate: Literal[True] = True


class Report(Model):
    """The whole report. ``verdict`` is "pass" unless a finding has level "error"."""

    report_version: Literal[1] = 1
    name: str | None = None
    units: UnitName
    verdict: Literal["pass", "fail"]
    counts: dict[Level, int]
    part: PartOut
    features: tuple[FeatureOut, ...]
    tools: tuple[ToolOut, ...] = ()
    setups: tuple[SetupOut, ...]
    findings: tuple[Finding, ...]
    residual: Residual
    time: NumberOut | None = Field(default=None, description="estimated seconds for one part, all setups")
    cost: CostOut | None = None
    evidence: Evidence
    cautions: tuple[str, ...]


def report_document(report: Report) -> dict[str, Any]:
    """The report as JSON values, in the plan's units; keys without a value are left out."""
    document: dict[str, Any] = report.model_dump(
        mode="json", by_alias=True, exclude_none=True, context={"units": report.units}
    )
    document["findings"] = [finding_document(f, units(report.units)) for f in report.findings]
    return document


def report_bytes(document: dict[str, Any]) -> bytes:
    """The one way a report becomes bytes: two-space JSON in UTF-8 with a final newline."""
    return (json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n").encode()


_CONVERT = {"mm": ("length", "in"), "mm2": ("area", "in2"), "mm3": ("volume", "in3")}


def finding_document(finding: Finding, out: Units) -> dict[str, Any]:
    """A finding as JSON values in ``out`` units: measured, limit, remedy value and points converted."""
    document: dict[str, Any] = finding.model_dump(mode="json", exclude_none=True)
    _convert(document, ("measured", "limit"), out)
    if "remedy" in document:
        _convert(document["remedy"], ("value",), out)
    for frame, point in document.get("at", {}).items():
        document["at"][frame] = [rounded(out.length(c)) for c in point]
    return document


def _convert(document: dict[str, Any], keys: tuple[str, ...], out: Units) -> None:
    unit = document.get("unit")
    way, symbol = _CONVERT.get(unit or "", ("", ""))
    for key in keys:
        value = document.get(key)
        if isinstance(value, float):
            document[key] = rounded(getattr(out, way)(value) if way else value)
    if way and out.name == "inch":
        document["unit"] = symbol
