"""Findings: what a rule says about a plan, and the catalogue of codes with their usual levels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from schemas.base import Model, Vec3

Level = Literal["error", "warning", "note"]
QuantityUnit = Literal["mm", "mm2", "mm3", "deg", "N", "kN", "N m", "kW", "1/min", "kg", "%", "1", "s"]


@dataclass(frozen=True, slots=True)
class CodeEntry:
    """One code of the catalogue: its usual level and what is wrong."""

    level: Level
    title: str


CATALOGUE: dict[str, CodeEntry] = {
    "access.hidden": CodeEntry("error", "the setup's axis can't see the feature"),
    "access.covered": CodeEntry("error", "jaws, clamps or stock that nobody cuts stand over it"),
    "reach.stickout": CodeEntry("error", "holder would touch part, stock or workholding before the tool is down"),
    "reach.shank": CodeEntry("error", "the shank or neck rubs on a wall above the cutting length"),
    "reach.length": CodeEntry("error", "usable length LU shorter than the depth"),
    "fit.corner-radius": CodeEntry("error", "an internal corner is tighter than the tool: metal stays"),
    "fit.floor-radius": CodeEntry("error", "tool corner RE against the floor fillet"),
    "fit.too-narrow": CodeEntry("error", "the tool does not go in"),
    "fit.hole-diameter": CodeEntry("error", "drill, reamer or boring size is not the hole's"),
    "fit.pilot": CodeEntry("warning", "a boring tool or reamer finds more metal in its hole than it takes"),
    "fit.tap-drill": CodeEntry("error", "the hole under a thread is outside its minor-diameter limits"),
    "fit.lead": CodeEntry("error", "a tap is fed by another way in a turn than its thread's pitch"),
    "fit.bottom": CodeEntry("warning", "drill point or cutter leaves another bottom than the part's"),
    "depth.short": CodeEntry("error", "the step stops above the feature's bottom, or a through hole does not come out"),
    "depth.breakout": CodeEntry("error", "the tool comes out below into parallel, jaw, bed, plate or clamp"),
    "depth.thread": CodeEntry("error", "the drilled hole is too shallow for the tap to make the thread"),
    "cut.gouge": CodeEntry("error", "the step cuts into the finished part"),
    "cut.workholding": CodeEntry("error", "tool, shank or holder enters the workholding"),
    "cut.plunge": CodeEntry("warning", "a cutter that does not cut at its centre goes straight down into metal"),
    "cut.nothing": CodeEntry("warning", "the step finds no metal to cut"),
    "hold.grip": CodeEntry("error", "too little metal between the jaws"),
    "hold.faces": CodeEntry("error", "the jaws do not meet two flat, parallel, opposite faces of the as-is stock"),
    "hold.opening": CodeEntry("error", "the stock does not fit the jaws"),
    "hold.support": CodeEntry("error", "nothing flat to stand on, or the weight or cut lies outside the support"),
    "hold.slip": CodeEntry("warning", "friction holds less than the safety factor asks for"),
    "hold.marked": CodeEntry("note", "jaws bear on a finished face"),
    "hold.released": CodeEntry("error", "a step cuts away what the jaws hold"),
    "loose.piece": CodeEntry("warning", "the cut leaves more than one solid: a piece comes free"),
    "datum.absent": CodeEntry("error", "the origin lies in the air"),
    "order.entry": CodeEntry("warning", "a drill starts on a slope, a curved wall or an open edge without a spot"),
    "order.sequence": CodeEntry("error", "a step comes before the one it needs"),
    "wall.thin": CodeEntry("warning", "metal thinner than the limit stands while being cut"),
    "left.feature": CodeEntry("error", "no step finishes this feature"),
    "left.stock": CodeEntry("error", "metal is left on the part after the last setup"),
    "machine.travel": CodeEntry("warning", "outside the machine's stated travel"),
    "machine.speed": CodeEntry("warning", "outside the machine's stated speed, power or torque"),
    "evidence.disagreement": CodeEntry("error", "the two stock computations differ by more than their bound"),
    "carry.mismatch": CodeEntry("error", "a setup's own as_is file is not the metal that the previous setup left"),
    "rule.failed": CodeEntry("error", "a rule could not be evaluated, so it proves nothing"),
}
"""The contract's codes, and ours: cut.plunge, fit.lead, fit.pilot, and rule.failed for a rule that crashed."""


class Remedy(Model):
    """What would mend it, computed: ``pointer`` is the JSON pointer of the plan value to change to ``value``."""

    text: str
    pointer: str | None = None
    value: bool | float | str | None = None
    unit: QuantityUnit | None = None


class Place(Model):
    """One point, in the part's frame and in the setup's (mm)."""

    part: Vec3
    setup: Vec3 | None = None


class Finding(Model):
    """One coded finding. ``measured`` and ``limit`` are in ``unit`` (mm inside; the plan's units when written)."""

    code: str
    level: Level
    setup: str | None = None
    workingstep: str | None = None
    features: tuple[str, ...] = ()
    message: str
    measured: float | None = None
    limit: float | None = None
    unit: QuantityUnit | None = None
    at: Place | None = None
    remedy: Remedy | None = None
