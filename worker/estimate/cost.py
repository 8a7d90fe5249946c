"""Estimate per lot from the shop's own rates. Times in seconds; money in the rates' currency."""

from __future__ import annotations

from schemas.plan import Rates
from schemas.report import CostOut


def estimate_cost(rates: Rates, machining: float, setups: int, stock_mass: float | None) -> CostOut:
    """Cost of a lot: machine time, changing the part, making the setups ready, material.

    ``machining`` is the estimated time of one part in seconds over all ``setups``; ``stock_mass`` the blank's in kg.
    What the rates or the plan do not state costs nothing here, and the assumptions say so.
    """
    lot, notes = rates.lot_size, []
    hour = rates.machine_hour
    items = {"machining": lot * machining / 3600 * hour}
    if rates.clamping_time is None:
        notes.append("no clamping_time stated: changing the part is not in the cost")
    else:
        items["clamping"] = lot * setups * rates.clamping_time / 60 * hour
    if rates.setup_time is None:
        notes.append("no setup_time stated: making the setups ready is not in the cost")
    else:
        items["setting_up"] = setups * rates.setup_time / 60 * (hour if rates.setup_hour is None else rates.setup_hour)
    if rates.material_per_kg is None or stock_mass is None:
        notes.append("no material_per_kg or no density stated: material is not in the cost")
    else:
        items["material"] = lot * stock_mass * rates.material_per_kg
    per_lot = sum(items.values())
    notes.append(f"{setups} setups, each made ready once a lot; scrap, inspection and tools are not in the cost")
    return CostOut(
        currency=rates.currency,
        lot_size=lot,
        per_part=per_lot / lot,
        per_lot=per_lot,
        items=items,
        assumptions=tuple(notes),
    )
