"""shop.deep-hole: in this shop, holes deeper than four diameters are drilled in steps."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.stage.model import Cut, Stage


@rule(
    "shop.deep-hole",
    title="a deep hole is drilled in one go",
    level="warning",
    scope="cut",
    why="Chips jam in the flutes of a deep hole; our machines have no coolant through the spindle.",
    reference="house rule of this shop",
    limits=(Limit("shop_deep_hole_ratio", 4.0, "1", "house rule: depth over diameter"),),
)
def deep_hole(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """Depth from the metal's top to the end of the full diameter, against the drill's diameter."""
    if cut.step.operation != "drilling":
        yield Skip("no drilling in one go")
        return
    most = context.limit("shop_deep_hole_ratio")
    for plunge in cut.plunges:
        ratio = (plunge.entry_z - plunge.full_diameter_z) / plunge.diameter
        if ratio > most:
            yield Draft(
                message=f"{plunge.feature} is {ratio:.1f} diameters deep and drilled in one go.",
                features=(plunge.feature,),
                measured=ratio,
                limit=most,
                unit="1",
                at=plunge.centre,
                remedy=Remedy(
                    text="Drill it in steps: use multistep_drilling.",
                    pointer=context.of_step(stage, cut, "operation"),
                    value="multistep_drilling",
                ),
            )
