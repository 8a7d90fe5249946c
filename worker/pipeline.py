"""Part and plan to report: a pure function of its inputs, run in the killable child.

Data flows one way: inputs → features → for each setup place, hold, cut, carry → reach and second opinion → checks
→ report. Nothing here judges and nothing here cuts; it only calls the rooms in turn.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from schemas.plan import StepFile
from schemas.report import Report
from worker.cache.kept import Kept
from worker.cache.rooms import Rooms
from worker.checks.api import Context, Missing
from worker.checks.policy import resolve_policy
from worker.checks.run import run_checks
from worker.compose import Results, compose
from worker.facts import Finish
from worker.field.opinion import EXTRA, Opinion
from worker.inputs import Inputs, read_inputs
from worker.kernel import stepfaults
from worker.kernel.errors import BROKEN, KernelError, said
from worker.kernel.journal import journal
from worker.kernel.shape import Body
from worker.kernel.validity import crosses_itself
from worker.locate import on_feature_of
from worker.outlook import seen_by_setups
from worker.reach import Reach
from worker.resolve import Resolved, resolve
from worker.stage.model import Stage
from worker.stage.standing import EXACT, Standing

Progress = Callable[[dict[str, Any]], None]
REACH = ("access.covered", "cut.workholding", "reach.stickout", "reach.shank", "reach.length")
LEFT = (
    "fit.corner-radius", "fit.floor-radius", "fit.hole-diameter", "fit.too-narrow", "depth.short",
    "left.feature", "left.stock",
)  # fmt: skip
"""Rules that read the reach, and those that read what is left on the part."""


@dataclass(frozen=True)
class Checked:
    """The report, the ``to_be`` of each setup as STEP bytes by setup id, and what pictures are drawn from."""

    report: Report
    stages: Mapping[str, bytes]
    inputs: Inputs
    cut: tuple[Stage, ...]


def check_plan(
    part: bytes,
    plan: bytes,
    files: Mapping[str, bytes],
    progress: Progress | None = None,
    kept: Kept | None = None,
) -> Checked:
    """Check a plan. ``kept`` has what earlier checks found out; with or without it the result is the same.

    Raises Problem for unusable input, KernelError when the geometry itself cannot be computed.
    """
    tell = progress or (lambda _: None)
    tell({"phase": "read", "setup": None, "done": 0, "of": 0})
    rooms = Rooms(kept or Kept())
    inputs = read_inputs(part, plan, files, rooms.part)
    resolve_policy(inputs.plan)  # a policy that names what nobody has is refused before anything is cut
    try:
        with journal() as notes:
            return _checked(rooms, inputs, tell, notes)
    except KernelError:
        refuse_crossing(inputs.part.body)
        raise


def _checked(rooms: Rooms, inputs: Inputs, tell: Progress, notes: list[str]) -> Checked:
    inputs, resolved = looked_at(inputs)
    stages = cut_all(inputs, resolved, tell, rooms)
    tell({"phase": "check", "setup": None, "done": len(stages), "of": len(stages)})
    finish, (reach, missing) = rooms.finish(inputs.part, stages), reach_all(inputs, stages, rooms)
    context = Context(
        plan=inputs.plan,
        part=inputs.part,
        stages=stages,
        finish=finish,
        reach=reach,
        extras={EXTRA: second_opinions(inputs, stages, rooms)},
        missing=(*missing, *_unfinished(stages, finish)),
    )
    if context.missing or any(stage.failures for stage in stages):
        refuse_crossing(inputs.part.body)
    findings, runs = run_checks(context)
    tell({"phase": "write", "setup": None, "done": len(stages), "of": len(stages)})
    written = {s.setup.id: rooms.written(s, inputs.plan.units) for s in stages if s.result.known}
    files = {id: _stage_file(id, data) for id, data in written.items()}
    results = Results(inputs, context, findings, runs, files, tuple(dict.fromkeys(notes)))
    return Checked(compose(results), written, inputs, stages)


def looked_at(inputs: Inputs) -> tuple[Inputs, Resolved]:
    """The steps with their features, which know whether the setups that work on them see them. Raises Problem."""
    on_feature = on_feature_of(inputs.part)
    resolved = resolve(inputs.plan, inputs.part.features, on_feature)
    part = seen_by_setups(inputs.part, inputs.plan, resolved)
    if part is inputs.part:
        return inputs, resolved
    return replace(inputs, part=part), resolve(inputs.plan, part.features, on_feature)


def refuse_crossing(part: Body) -> None:
    """Raises Problem ``part.invalid`` for a part whose faces cut through one another.

    Too slow to ask of every part, and no other check sees it: so it is asked when a boolean has failed.
    """
    if crosses_itself(part):
        raise stepfaults.invalid("part", "its faces cut through one another")


def second_opinions(inputs: Inputs, stages: tuple[Stage, ...], rooms: Rooms) -> dict[str, Opinion]:
    """What the dexel field says of each setup, by id; empty when it fails, which its rule then tells as an error."""
    try:
        return {o.setup: o for o in rooms.opinions(inputs, stages)}
    except BROKEN:
        return {}


def reach_all(
    inputs: Inputs, stages: tuple[Stage, ...], rooms: Rooms
) -> tuple[dict[tuple[str, str], Reach], tuple[Missing, ...]]:
    """Reach of every step, by setup and step id.

    A setup where it cannot be computed is told beside it. Steps whose metal no solid model gave have no reach.
    """
    found: dict[tuple[str, str], Reach] = {}
    missing = []
    for stage in stages:
        try:
            here = rooms.reach(stage, inputs.part)
        except BROKEN as error:
            missing.append(Missing("reach", said(error), REACH, stage.setup.id))
            continue
        known = {cut.step.id for i, cut in enumerate(stage.cuts) if stage.standing(i + 1).known}
        found |= {(stage.setup.id, id): reach for id, reach in here.items() if id in known}
    return found, tuple(missing)


def _unfinished(stages: tuple[Stage, ...], finish: Finish) -> tuple[Missing, ...]:
    """What is left on the part, where it is not known although the metal of every setup is."""
    if not finish.fault or not all(stage.result.known for stage in stages):
        return ()
    return (Missing("what is left on the part", finish.fault, LEFT),)


def cut_all(inputs: Inputs, resolved: Resolved, tell: Progress, rooms: Rooms | None = None) -> tuple[Stage, ...]:
    """Every setup in turn; each starts from what the previous one left, unless the plan says otherwise."""
    rooms = rooms or Rooms(Kept())
    stages: list[Stage] = []
    for number, setup in enumerate(inputs.plan.setups):
        tell({"phase": "cut", "setup": setup.id, "done": number, "of": len(inputs.plan.setups)})
        as_is, standing = _as_is(inputs, number, stages)
        stages.append(rooms.stage(inputs, setup, resolved[setup.id], as_is, standing))
    return tuple(stages)


def _as_is(inputs: Inputs, number: int, stages: list[Stage]) -> tuple[Body, Standing]:
    """The stock that a setup starts from, and what it is worth."""
    stated = inputs.plan.setups[number].as_is
    if isinstance(stated, StepFile):
        return inputs.files[stated.step], EXACT
    if stated == "rawpiece" or not stages:
        return inputs.rawpiece, EXACT
    return stages[-1].to_be, stages[-1].result


def _stage_file(id: str, data: bytes) -> tuple[str, str]:
    return f"stages/{id}.step", hashlib.sha256(data).hexdigest()
