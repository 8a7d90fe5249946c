"""From stages, facts and findings to the report: only arranges and names, computes nothing of its own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from schemas.base import Box, Frame
from schemas.finding import Finding, Level
from schemas.plan import SetupPlan
from schemas.report import (
    Agreement,
    Balance,
    BoxOut,
    Evidence,
    LumpOut,
    Method,
    PartOut,
    PlacementOut,
    Report,
    Residual,
    RuleRun,
    SetupOut,
    StockOut,
    WorkingstepOut,
    feature_out,
)
from schemas.tolerances import table
from worker.checks.api import Context
from worker.checks.policy import resolve_policy
from worker.estimate.plan import PlanEstimate, estimate_plan
from worker.facts import Finish
from worker.field.opinion import EXTRA, Opinion
from worker.inputs import Inputs
from worker.kernel import measure
from worker.kernel.shape import Body, is_empty, solids
from worker.outline import holding_out, tools_out, workholding_words
from worker.present.cautions import CAUTIONS
from worker.stage.model import Cut, Stage
from worker.versions import versions

LEVELS: tuple[Level, ...] = ("error", "warning", "note")


@dataclass(frozen=True)
class Results:
    """All that a report is made of. ``written`` maps a setup id to its stage file and that file's sha256.

    ``notes``: what the kernel had to do out of the ordinary.
    """

    inputs: Inputs
    context: Context
    findings: tuple[Finding, ...]
    runs: tuple[RuleRun, ...]
    written: Mapping[str, tuple[str, str]]
    notes: tuple[str, ...] = ()

    @property
    def stages(self) -> tuple[Stage, ...]:
        """The cut setups, in order."""
        return self.context.stages


def compose(results: Results) -> Report:
    """The report of a finished check (mm inside)."""
    plan, part = results.inputs.plan, results.inputs.part
    estimate = estimate_plan(plan, results.stages)
    setups = tuple(_setup(results, stage, estimate) for stage in results.stages)
    counts: dict[Level, int] = {level: sum(f.level == level for f in results.findings) for level in LEVELS}
    return Report(
        name=plan.name,
        units=plan.units,
        verdict="fail" if counts["error"] else "pass",
        counts=counts,
        part=PartOut(
            volume=part.volume,
            mass=_mass(plan, part.volume),
            bounding_box=_box(part.box),
            faces=part.face_count,
            material=plan.workpiece.material.name if plan.workpiece.material else None,
        ),
        features=tuple(feature_out(f, results.context.finish.finished_in.get(f.id)) for f in part.features),
        tools=tools_out(plan, setups),
        setups=setups,
        findings=results.findings,
        residual=_residual(plan, results.context.finish),
        time=estimate.time,
        cost=estimate.cost,
        evidence=_evidence(results),
        cautions=CAUTIONS,
    )


def _box(box: Box) -> BoxOut:
    return BoxOut(min=box.min, max=box.max)


def _placement(frame: Frame) -> PlacementOut:
    return PlacementOut(location=frame.location, axis=frame.z, ref_direction=frame.x)


def _mass(plan: SetupPlan, volume: float) -> float | None:
    """Kg of a volume in mm3, where the plan states a density in kg/m3."""
    material = plan.workpiece.material
    return volume * 1e-9 * material.density_kg_m3 if material and material.density_kg_m3 else None


def _residual(plan: SetupPlan, finish: Finish) -> Residual:
    lumps = finish.residual
    found = tuple(
        LumpOut(volume=x.volume, mass=_mass(plan, x.volume), bounding_box=_box(x.box), features=x.features)
        for x in lumps
    )
    return Residual(volume=None if finish.fault else sum(x.volume for x in lumps), lumps=found)


def _setup(results: Results, stage: Stage, estimate: PlanEstimate) -> SetupOut:
    plan, setup = results.inputs.plan, stage.setup
    cuts = {cut.index: cut for cut in stage.cuts}
    return SetupOut(
        id=setup.id,
        name=setup.name,
        work_offset=setup.work_offset,
        origin=_placement(stage.frame),
        workholding=workholding_words(stage, plan),
        holding=holding_out(stage),
        instructions=setup.instructions,
        as_is=_as_is(results, stage),
        workingsteps=tuple(
            _step(results, estimate, stage, number, cuts.get(number)) for number in range(len(setup.workingsteps))
        ),
        to_be=_to_be(results, stage),
        loose=tuple(_loose(plan, body) for body in stage.loose),
        time=estimate.setups.get(setup.id),
    )


def _as_is(results: Results, stage: Stage) -> StockOut:
    if stage.standing(0).known:
        return _stock(results.inputs.plan, stage.as_is, stage.balance.as_is)
    before = results.stages[results.context.number(stage) - 1]
    return StockOut(volume=_field_volume(results, before))


def _to_be(results: Results, stage: Stage) -> StockOut:
    if not stage.result.known:
        return StockOut(volume=_field_volume(results, stage))
    return _stock(results.inputs.plan, stage.to_be, stage.balance.to_be, results.written[stage.setup.id])


def _field_volume(results: Results, stage: Stage) -> float | None:
    """What the dexel field says is left, where it could carry every step."""
    opinion: Opinion | None = results.context.extras.get(EXTRA, {}).get(stage.setup.id)
    return None if opinion is None or opinion.unswept else opinion.field_volume


def _stock(plan: SetupPlan, body: Body, volume: float, file: tuple[str, str] | None = None) -> StockOut:
    name, digest = file if file else (None, None)
    return StockOut(
        volume=volume,
        mass=_mass(plan, volume),
        bounding_box=None if is_empty(body) else _box(measure.bounding_box(body)),
        solids=len(solids(body)),
        step=name,
        sha256=digest,
    )


def _loose(plan: SetupPlan, body: Body) -> LumpOut:
    volume = measure.volume(body)
    return LumpOut(volume=volume, mass=_mass(plan, volume), bounding_box=_box(measure.bounding_box(body)))


def _step(results: Results, estimate: PlanEstimate, stage: Stage, index: int, cut: Cut | None) -> WorkingstepOut:
    step = stage.setup.workingsteps[index]
    known = cut is not None and stage.standing(next(i for i, c in enumerate(stage.cuts) if c is cut) + 1).known
    if cut is None:
        return WorkingstepOut(
            id=step.id,
            name=step.name,
            operation=step.operation,
            tool=step.tool,
            features=(),
            enabled=False,
            removal=0.0,
        )
    place = (stage.setup.id, step.id)
    reach, cost = results.context.reach.get(place), estimate.steps.get(place)
    return WorkingstepOut(
        id=step.id,
        name=step.name,
        operation=step.operation,
        tool=step.tool,
        features=tuple(f.id for f in cut.features),
        removal=cut.removal_volume if known else None,
        reached=results.context.finish.reached.get(place, ()) if known else (),
        tip_z=cut.lowest_tip if cut.swept_known else None,
        least_stickout=reach.least_stickout if reach else None,
        stickout_margin=reach.stickout_margin if reach else None,
        room_below=reach.below.room if reach and reach.below else None,
        body_below=reach.below.body if reach and reach.below else None,
        holder_checked=bool(cut.tool.holder),
        time=cost.time if cost and known else None,
        estimate=cost.values if cost and known else None,
        notes=cut.notes,
    )


def _evidence(results: Results) -> Evidence:
    previous = [None, *results.stages[:-1]]
    solid = {stage.setup.id: stage.result.doubt for stage in results.stages if stage.result.known}
    opinions = results.context.extras.get(EXTRA, {}).values()
    return Evidence(
        inputs=dict(results.inputs.digests),
        versions=versions(),
        tolerances=table(),
        limits=dict(resolve_policy(results.inputs.plan).limits),
        methods=tuple(Method(setup=s.setup.id, method=s.method) for s in results.stages),
        balance=tuple(_balance(s, p) for s, p in zip(results.stages, previous, strict=True) if s.result.known),
        agreement=tuple(_agreement(o, solid[o.setup]) for o in opinions if o.setup in solid),
        rules=results.runs,
        notes=(*results.inputs.notes, *(f"{s.setup.id}: {n}" for s in results.stages for n in s.notes), *results.notes),
    )


def _agreement(opinion: Opinion, doubt: float) -> Agreement:
    """Bound and difference as shares of the solid's volume; steps that are not swept twice are named.

    ``doubt`` (mm3) is what the solid's own flats may be off.
    """
    names = ", ".join(opinion.borrowed)
    borrowed = f"; swept bodies of steps {names} taken from the solid model: these rest on one method" if names else ""
    return Agreement(
        setup=opinion.setup,
        solid_volume=opinion.solid_volume,
        field_volume=opinion.field_volume,
        relative_difference=opinion.relative_difference,
        bound=replace(opinion, bound=opinion.bound + doubt).relative_bound,
        method=opinion.method + borrowed,
    )


def _balance(stage: Stage, previous: Stage | None) -> Balance:
    b = stage.balance
    return Balance(
        setup=stage.setup.id,
        as_is=b.as_is,
        removal=b.removed,
        loose=b.loose,
        to_be=b.to_be,
        relative_error=round(abs(b.error) / b.as_is, 12) if b.as_is else 0.0,
        carried=previous is not None and stage.as_is is previous.to_be,
    )
