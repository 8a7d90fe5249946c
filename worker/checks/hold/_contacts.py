"""How the workholding meets a stock, measured once a setup and shared by the rules on holding."""

from __future__ import annotations

from collections.abc import Iterable

from schemas.base import Vec3, dot
from schemas.tolerances import TOUCH
from schemas.workholding import Vise
from worker.checks.api import Context
from worker.kernel.contact import Patch, patches
from worker.stage.model import SUPPORTING, HoldingBody, Jaws, Stage

SQUARE = 1e-6
"""1 - cosine up to which a patch counts as square to an axis (about 0.08 degrees)."""


def vise_of(stage: Stage) -> Vise | None:
    """The setup's vise; None where it holds by other means."""
    holding = stage.setup.workholding
    return holding if isinstance(holding, Vise) else None


def jaw_direction(stage: Stage, jaws: Jaws) -> Vec3:
    """Unit vector of the jaws' axis in the part's frame."""
    return stage.frame.x if jaws.axis == "X" else stage.frame.y


def patches_of(context: Context, stage: Stage, body: HoldingBody) -> tuple[Patch, ...]:
    """The flat areas in which the as-is stock and one body of the workholding meet."""
    number = next(i for i, other in enumerate(stage.holding.bodies) if other is body)
    return context.once(f"hold.{stage.setup.id}.{number}", lambda: patches(stage.as_is, body.body, TOUCH))


def jaw_patches(context: Context, stage: Stage, role: str) -> tuple[Patch, ...]:
    """The flat areas of the as-is stock, square to the jaws' axis, that a jaw ("jaw_fixed", "jaw_moving") meets."""
    if stage.holding.jaws is None:
        return ()
    axis = jaw_direction(stage, stage.holding.jaws)
    found = [p for body in stage.holding.of(role) for p in patches_of(context, stage, body)]
    return tuple(p for p in found if abs(dot(p.normal, axis)) >= 1 - SQUARE)


def support_patches(context: Context, stage: Stage) -> tuple[Patch, ...]:
    """The flat areas, facing down, on which the as-is stock stands."""
    found = [p for b in stage.holding.of(*sorted(SUPPORTING)) for p in patches_of(context, stage, b)]
    return tuple(p for p in found if dot(p.normal, stage.frame.z) <= -1 + SQUARE)


def heights(stage: Stage, found: Iterable[Patch]) -> tuple[float, float]:
    """Lowest and highest point of some patches in the setup's frame, mm."""
    zs = [stage.frame.to_local(p)[2] for patch in found for p in patch.points]
    return min(zs), max(zs)


def clamping(stage: Stage) -> tuple[HoldingBody, ...]:
    """What presses on the stock from without: jaws and clamps."""
    return stage.holding.of("jaw_fixed", "jaw_moving", "clamp")


def total(found: Iterable[Patch]) -> float:
    """Area of some patches, mm2."""
    return sum(p.area for p in found)
