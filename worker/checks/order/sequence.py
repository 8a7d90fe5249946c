"""order.sequence: a step comes before the one it needs."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from worker.checks.api import Context, Draft, Skip, rule
from worker.checks.order._chamfers import chamfer_faults
from worker.checks.order._faults import OrderFault, order_faults


@rule(
    "order.sequence",
    scope="plan",
    metal="end",
    facets=True,
    why="A tap or reamer in solid metal breaks; roughing after finishing spoils the finish; a chamfer cut before its "
    "faces is gone, or has another size, when they are cut; the neck of an undercutting cutter does not cut.",
    reference="order of operations in ISO 14649-11 machining of holes; common practice",
)
def sequence(context: Context) -> Iterator[Draft | Skip]:
    """Tap, reamer or boring tool before the drill; spot after it; finish before rough; chamfer before its faces; an
    undercut before the slot above it."""
    for fault in (*order_faults(context), *chamfer_faults(context)):
        yield _draft(context, fault)


def _draft(context: Context, fault: OrderFault) -> Draft:
    stage, cut = fault.early
    if fault.late is None:
        needs = "; no step of the plan sees to that before"
        text = f"Add a step before step {cut.step.id} that takes the metal in its way."
        remedy = Remedy(text=text, pointer=context.of_setup(stage, "workingsteps"))
    else:
        other_stage, other = fault.late
        name = other.step.id if other_stage is stage else f"{other_stage.setup.id}/{other.step.id}"
        needs = f", before step {name} ({other.step.operation.replace('_', ' ')}) that it needs"
        remedy = Remedy(
            text=f"Move step {cut.step.id} behind step {name}.",
            pointer=context.of_step(stage, cut),
        )
    operation = cut.step.operation.replace("_", " ")
    return Draft(
        message=f"Step {cut.step.id} ({operation}) {fault.words}{needs}.",
        features=fault.features,
        at=fault.at,
        remedy=remedy,
        stage=stage,
        cut=cut,
    )
