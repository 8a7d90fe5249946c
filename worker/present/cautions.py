"""What a reader must bear in mind; every report carries these."""

from __future__ import annotations

CAUTIONS: tuple[str, ...] = (
    "This is a check of geometry: nominal part, tools and workholding as the plan states them. It does not prove a "
    "safe cut. A qualified person reviews the plan, proves the program (dry run, single block, reduced rapids) and "
    "keeps the responsibility; law, the machine's manual and the employer's rules come first.",
    "Only what the plan states is seen. Unstated screws, stops, coolant lines, probes and hand-set clamps are air to "
    "this check, and a tool without a holder was checked without one.",
    "Clamping and cutting forces are estimates with a safety factor of two or more. Thin, tall, round, coated, oily "
    "or sawn stock needs its own judgement. The work is clamped before cutter and table meet, and measured or "
    "adjusted only with spindle and table stopped.",
    "A piece that comes free can be thrown or can jam the cutter: plan tabs, a backing or a stop before the last cut.",
    "Drills and through cuts travel below the part: mind parallels, jaws, bed and plate under every break-through.",
    "Limits of stick-out, small tools, deep holes and thin walls are common practice, not limits of a standard; the "
    "tool maker's data prevail. Never exceed the speed marked on tool or holder.",
    "Tolerances, surface finish, burrs and distortion are not judged: the stock is nominal metal.",
    "Material hazards are not judged: some chips burn, some dusts harm, and the choice of coolant matters.",
    "Guards stay closed. Wear eye protection, no gloves near a turning spindle; heavy, sharp and hot pieces need care, "
    "and the machine is locked out before anyone reaches in.",
    "Times, forces, powers and costs are estimates from stated or cited data, and are marked so.",
)
"""Sources: general practice of machine guarding and clamping (29 CFR 1910.212, ISO 12100, ISO 16090-1), own words."""
