"""The setup plan, version 1: what the shop means to do, converted to mm while it is read."""

from __future__ import annotations

import json
from typing import Annotated, Any, Literal, Self

from pydantic import Field, model_validator

from schemas.base import Direction, Identifier, Length, Model, NotNegative, Number, Point, Positive, spans_a_frame
from schemas.problem import Problem, json_pointer, validated
from schemas.selector import Selector
from schemas.tool import Tool
from schemas.units import UnitName, units
from schemas.workholding import BoxSpec, Cylinder, Workholding

Operation = Literal[
    "plane_rough_milling",
    "plane_finish_milling",
    "side_rough_milling",
    "side_finish_milling",
    "bottom_and_side_rough_milling",
    "bottom_and_side_finish_milling",
    "freeform_operation",
    "drilling",
    "multistep_drilling",
    "center_drilling",
    "counter_sinking",
    "boring",
    "reaming",
    "tapping",
    "back_boring",
    "chamfering",
    "edge_breaking",
]
ROUGH = frozenset({"plane_rough_milling", "side_rough_milling", "bottom_and_side_rough_milling"})
DRILLING = frozenset({"drilling", "multistep_drilling"})
ON_AXIS = DRILLING | {"center_drilling", "counter_sinking", "boring", "reaming", "tapping", "back_boring"}
"""Operations that feed along a hole's axis, unless a milling cutter does them."""
DEPTH_FROM_THE_FACE = ON_AXIS - {"back_boring"}
"""Operations that may state ``cutting_depth`` (ISO 14649-11)."""
MAX_PLAN_BYTES = 4 * 1024 * 1024


class Allowance(Model):
    """Metal on each side of the part's bounding box: [[x-, x+], [y-, y+], [z-, z+]]."""

    allowance: tuple[tuple[NotNegative, NotNegative], tuple[NotNegative, NotNegative], tuple[NotNegative, NotNegative]]


class Rawpiece(Model):
    """The blank: exactly one of box, cylinder, step."""

    box: BoxSpec | Allowance | None = None
    cylinder: Cylinder | None = None
    step: Identifier | None = None

    @model_validator(mode="after")
    def _one_shape(self) -> Self:
        if sum(shape is not None for shape in (self.box, self.cylinder, self.step)) != 1:
            raise ValueError("give exactly one of 'box', 'cylinder', 'step'")
        return self


class Material(Model):
    """What the part is made of. ``iso513_group`` picks cutting data; density gives the masses."""

    name: str = Field(min_length=1, max_length=200)
    iso513_group: Literal["P", "M", "K", "N", "S", "H"] | None = None
    density_kg_m3: Number | None = Field(default=None, gt=0)


class Workpiece(Model):
    """Material and blank."""

    material: Material | None = None
    rawpiece: Rawpiece


class StepFile(Model):
    """A STEP file sent along under this name."""

    step: Identifier


class BoxPoint(Model):
    """A point of a bounding box taken in the setup's axes."""

    on: Literal["as_is", "part"]
    at: tuple[Literal["min", "mid", "max"], Literal["min", "mid", "max"], Literal["min", "mid", "max"]]


class Origin(Model):
    """ISO 10303-42 axis placement of the setup in the part's frame; ``axis`` points from the part to the spindle."""

    location: Point | BoxPoint
    axis: Direction
    ref_direction: Direction

    @model_validator(mode="after")
    def _spans_a_frame(self) -> Self:
        spans_a_frame(self.axis, self.ref_direction)
        return self


class Technology(Model):
    """Cutting data. Speeds and feeds keep the plan's units of feed; lengths are converted."""

    spindle_speed: Number | None = Field(default=None, gt=0, description="1/min")
    cutspeed: Number | None = Field(default=None, gt=0, description="m/min")
    feed_per_tooth: Positive | None = None
    feed_per_rev: Positive | None = None
    axial_cutting_depth: Positive | None = None
    radial_cutting_depth: Positive | None = None

    @model_validator(mode="after")
    def _one_of_each(self) -> Self:
        if self.spindle_speed is not None and self.cutspeed is not None:
            raise ValueError("give 'spindle_speed' or 'cutspeed', not both")
        if self.feed_per_tooth is not None and self.feed_per_rev is not None:
            raise ValueError("give 'feed_per_tooth' or 'feed_per_rev', not both")
        return self


class Workingstep(Model):
    """One tool, one operation, the features it cuts. Heights are in the setup's frame."""

    id: Identifier
    name: str | None = None
    operation: Operation
    tool: Identifier
    features: tuple[str | Selector, ...] = ()
    allowance_side: Length = 0.0
    allowance_bottom: Length = 0.0
    overcut_length: NotNegative = 0.0
    bottom_z: Length | None = None
    cutting_depth: Positive | None = None
    size: Positive | None = None
    enabled: Annotated[bool, Field(strict=True)] = True
    technology: Technology = Technology()

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        if self.bottom_z is not None and self.cutting_depth is not None:
            raise ValueError("give 'bottom_z' or 'cutting_depth', not both")
        if self.cutting_depth is not None and self.operation not in DEPTH_FROM_THE_FACE:
            raise ValueError(f"'cutting_depth' belongs to steps on a hole's axis: give {self.operation} a 'bottom_z'")
        return self._breaks() if self.operation == "edge_breaking" else self._cuts()

    def _breaks(self) -> Self:
        """An edge that is broken by its ``size`` has no depth of its own."""
        if self.size is None:
            raise ValueError("edge_breaking needs 'size', the leg of the broken edge")
        for key in ("allowance_side", "allowance_bottom", "overcut_length", "bottom_z"):
            if getattr(self, key) or (key == "bottom_z" and self.bottom_z is not None):
                raise ValueError(f"'{key}' says nothing to edge_breaking: its 'size' is all that it cuts")
        return self

    def _cuts(self) -> Self:
        if self.size is not None:
            raise ValueError("'size' belongs to edge_breaking")
        if not self.features:
            raise ValueError("'features' is empty: name what the step cuts")
        return self


AsIs = Literal["rawpiece", "carried"] | StepFile


class Setup(Model):
    """One clamping."""

    id: Identifier
    name: str | None = None
    work_offset: str | None = None
    origin: Origin
    as_is: AsIs | None = None
    workholding: Workholding
    workingsteps: tuple[Workingstep, ...] = ()
    instructions: str | None = None


class Policy(Model):
    """The shop's own levels and thresholds; ``off`` switches a rule off, and the report says so."""

    levels: dict[str, Literal["error", "warning", "note", "off"]] = Field(default_factory=dict)
    limits: dict[str, Number] = Field(default_factory=dict)


class Machine(Model):
    """The machine's limits. ``travel`` along X, Y, Z; power in kW, torque in N m, times in s."""

    name: str | None = None
    travel: tuple[Positive, Positive, Positive] | None = None
    max_spindle_speed: Number | None = Field(default=None, gt=0)
    max_spindle_power: Number | None = Field(default=None, gt=0)
    max_spindle_torque: Number | None = Field(default=None, gt=0)
    max_feed: Positive | None = Field(default=None, description="feed speed, length per minute")
    rapid_feed: Positive | None = Field(default=None, description="rapid traverse, length per minute")
    tool_change_time: Number | None = Field(default=None, ge=0, description="s")


class Rates(Model):
    """The shop's own rates for the estimate per lot."""

    currency: str = Field(min_length=1, max_length=8)
    machine_hour: Number = Field(ge=0)
    setup_hour: Number | None = Field(default=None, ge=0)
    setup_time: Number | None = Field(default=None, ge=0, description="to make one setup ready, min")
    clamping_time: Number | None = Field(default=None, ge=0, description="to change the part in a setup, min")
    material_per_kg: Number | None = Field(default=None, ge=0)
    lot_size: int = Field(default=1, ge=1, strict=True)


class SetupPlan(Model):
    """The whole plan. Lengths are mm once it is read; ``units`` says what the plan and its report are written in."""

    plan_version: Literal[1]
    name: str | None = None
    units: UnitName
    workpiece: Workpiece
    tools: tuple[Tool, ...] = Field(min_length=1)
    setups: tuple[Setup, ...] = Field(min_length=1)
    policy: Policy = Policy()
    machine: Machine | None = None
    rates: Rates | None = None

    def tool(self, id: str) -> Tool:
        """The tool of that id; the plan's own check made sure that it is there."""
        return next(t for t in self.tools if t.id == id)


def read_plan(data: bytes) -> SetupPlan:
    """The plan of a JSON document, in mm.

    Raises Problem ``plan.too-large``, ``plan.not-json`` or ``plan.invalid`` with the JSON pointer of the fault.
    """
    document = _json_object(data)
    name = document.get("units")
    factor = units(name).scale if name in ("mm", "inch") else 1.0
    plan = validated(SetupPlan, document, what="plan", kind="plan.invalid", context={"scale": factor})
    _check_references(plan)
    return plan


def _json_object(data: bytes) -> dict[str, Any]:
    if len(data) > MAX_PLAN_BYTES:
        raise Problem(
            "plan.too-large",
            "The plan is too large",
            f"The plan has {len(data)} bytes.",
            status=413,
            remedy=f"Keep it below {MAX_PLAN_BYTES} bytes.",
        )
    try:
        document = json.loads(data.decode("utf-8-sig"), parse_constant=_refuse_constant, object_pairs_hook=_no_twins)
    except (UnicodeDecodeError, ValueError, RecursionError) as error:
        raise Problem(
            "plan.not-json",
            "The plan is not JSON",
            f"The plan cannot be read as JSON: {error}.",
            pointer="/",
            remedy="Send a JSON object in UTF-8.",
        ) from None
    if not isinstance(document, dict):
        raise Problem(
            "plan.not-json",
            "The plan is not a JSON object",
            "The plan is not a JSON object.",
            pointer="/",
            remedy="Send one JSON object with plan_version, units, workpiece, tools, setups.",
        )
    if b"\\ud" in data.lower():
        _refuse_half_characters(document)
    return document


def _refuse_half_characters(document: dict[str, Any]) -> None:
    r"""JSON may escape half of a character (\ud800): no report could be written with it."""
    rest: list[tuple[tuple[str | int, ...], Any]] = [((), document)]
    while rest:
        path, value = rest.pop()
        if isinstance(value, str) and any("\ud800" <= c <= "\udfff" for c in value):
            raise _invalid(json_pointer(path), "The text holds half of a character.", "Correct its \\u escapes.")
        if isinstance(value, dict):
            rest += [((*path, key), item) for key, each in value.items() for item in (key, each)]
        elif isinstance(value, list):
            rest += [((*path, index), item) for index, item in enumerate(value)]


def _refuse_constant(word: str) -> float:
    raise ValueError(f"{word} is not a JSON number; give a finite number")


def _no_twins(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            raise ValueError(f"the key '{key}' stands twice in one object")
        found[key] = value
    return found


def _check_references(plan: SetupPlan) -> None:
    """Ids are unique, tools are known, stages can be carried."""
    _unique("/tools", [tool.id for tool in plan.tools])
    _unique("/setups", [setup.id for setup in plan.setups])
    known = {tool.id for tool in plan.tools}
    for i, setup in enumerate(plan.setups):
        _unique(f"/setups/{i}/workingsteps", [step.id for step in setup.workingsteps])
        if i == 0 and setup.as_is == "carried":
            raise _invalid(
                "/setups/0/as_is", "The first setup has no stage to carry on from.", 'Use "rawpiece" or a STEP file.'
            )
        for j, step in enumerate(setup.workingsteps):
            if step.tool not in known:
                raise _invalid(
                    f"/setups/{i}/workingsteps/{j}/tool",
                    f"There is no tool '{step.tool}'.",
                    f"Use one of: {', '.join(sorted(known))}.",
                )


def _unique(pointer: str, ids: list[str]) -> None:
    seen: set[str] = set()
    for index, id in enumerate(ids):
        if id.lower() in seen:  # stage files are named by id, and some file systems fold case
            raise _invalid(f"{pointer}/{index}/id", f"The id '{id}' is used twice.", "Give each its own id.")
        seen.add(id.lower())


def _invalid(pointer: str, detail: str, remedy: str) -> Problem:
    return Problem("plan.invalid", "The plan is not valid", detail, pointer=pointer, remedy=remedy)


def step_names(plan: SetupPlan) -> dict[str, str]:
    """Names of the STEP files that the plan needs beside the part, each with the JSON pointer that asks for it."""
    found: dict[str, str] = {}
    if plan.workpiece.rawpiece.step:
        found.setdefault(plan.workpiece.rawpiece.step, "/workpiece/rawpiece/step")
    for i, setup in enumerate(plan.setups):
        if isinstance(setup.as_is, StepFile):
            found.setdefault(setup.as_is.step, f"/setups/{i}/as_is/step")
        holding = setup.workholding
        if holding.type == "fixture_plate":
            for j, element in enumerate(holding.elements):
                if element.step:
                    found.setdefault(element.step, f"/setups/{i}/workholding/elements/{j}/step")
        if holding.type == "bodies":
            for j, body in enumerate(holding.bodies):
                found.setdefault(body.step, f"/setups/{i}/workholding/bodies/{j}/step")
    return found
