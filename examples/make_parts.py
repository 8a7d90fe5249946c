"""Makes the STEP files of the examples: ``python -m examples.make_parts`` from the repository's root.

The scenario is invented: a small maker of float valves for irrigation, who mills the parts in two to four setups.
"""

from __future__ import annotations

import math
from pathlib import Path

from examples import shapes
from examples.shapes import Shape, box, chamfer_ring, cone, cut, cylinder, drill, rounded_block

HERE = Path(__file__).parent
CORNERS = ((11.0, 12.0), (11.0, 48.0), (78.0, 12.0), (78.0, 48.0))
PLATE_BOLTS = ((15.0, 15.0), (105.0, 15.0), (15.0, 65.0), (105.0, 65.0))
PLATE_DOWELS = ((15.0, 40.0), (105.0, 40.0))
FLANGE_BOLTS = ((0.375, 0.5), (0.375, 2.5), (3.5, 0.5), (3.5, 2.5))
SCREWS = ((20.0, 16.0), (20.0, 44.0), (48.0, 16.0), (48.0, 44.0))


def valve_body() -> Shape:
    """Body of a float valve, 100 x 60 x 40: stepped bore with a seat on each side, tapped port, steps and slots."""
    block = chamfer_ring(rounded_block((0, 0, 0), (100, 60, 40), 8), 40, 1)
    bore = (
        cylinder((34, 30, 30), (34, 30, 41), 30),
        cylinder((34, 30, -1), (34, 30, 41), 18),
        cylinder((34, 30, -1), (34, 30, 8), 26),
    )
    bolts = [
        tool
        for x, y in CORNERS
        for tool in (cylinder((x, y, -1), (x, y, 41), 6.6), cylinder((x, y, 33.5), (x, y, 41), 11))
    ]
    screws = [drill((x, y, -1), (x, y, 14), 4.2) for x, y in SCREWS]
    pocket = rounded_block((56, 20, 28), (80, 40, 41), 5)
    port = (cylinder((34, -1, 19), (34, 30, 19), 10.2), cone((34, 0, 19), (34, 6.5, 19), 13, 0))
    front = (
        box((-1, -1, -1), (101, 6, 10)),
        box((52, -1, 29), (62, 10, 41)),
        cylinder((57, -1, 29), (57, 10, 29), 10),
    )
    right = (box((88, -1, 28), (101, 61, 41)), box((85, -1, 8), (101, 61, 20)))
    return cut(block, *bore, *bolts, *screws, pocket, *port, *front, *right)


def sensor_plate() -> Shape:
    """Plate for a level sensor, 120 x 80 x 12: pocket, counterbores and dowel holes above, cable channel below."""
    block = rounded_block((0, 0, 0), (120, 80, 12), 10)
    plate = chamfer_ring(block, 0, 0.5)
    bolts = [
        tool
        for x, y in PLATE_BOLTS
        for tool in (cylinder((x, y, -1), (x, y, 13), 6.6), cylinder((x, y, 5.5), (x, y, 13), 11))
    ]
    dowels = [cylinder((x, y, -1), (x, y, 13), 6) for x, y in PLATE_DOWELS]
    pocket = rounded_block((30, 20, 6), (90, 60, 13), 5)
    channel = (box((50, 23, -1), (121, 33, 4)), cylinder((50, 28, -1), (50, 28, 4), 10))
    return cut(plate, *bolts, *dowels, pocket, *channel)


def pump_flange_inch() -> Shape:
    """Flange of a small pump, 4 x 3 x 1 in: bore with a register below, 1/2-13 UNC port, open step."""
    i = 25.4
    block = chamfer_ring(rounded_block((0, 0, 0), (4 * i, 3 * i, i), 0.375 * i), i, 0.04 * i)
    bore = (
        cylinder((2 * i, 1.5 * i, -i), (2 * i, 1.5 * i, 2 * i), 1.5 * i),
        cylinder((2 * i, 1.5 * i, -i), (2 * i, 1.5 * i, 0.25 * i), 2.25 * i),
    )
    bolts = [cylinder((x * i, y * i, -i), (x * i, y * i, 2 * i), 17 / 64 * i) for x, y in FLANGE_BOLTS]
    port = cylinder((3.5 * i, 1.5 * i, -i), (3.5 * i, 1.5 * i, 2 * i), 27 / 64 * i)
    step = box((-i, -i, 0.625 * i), (0.75 * i, 4 * i, 2 * i))
    return cut(block, *bore, *bolts, port, step)


def spindle_nose() -> Shape:
    """Nose of a stirrer spindle from a round bar, 60 long: nose with a driving slot, tapped centre, radial port."""
    body = chamfer_ring(cylinder((0, 0, 0), (0, 0, 40), 50), 0, 1)
    whole = shapes.fuse(body, cylinder((0, 0, 40), (0, 0, 60), 36))
    slot = box((-30, -4, 54), (30, 4, 61))
    centre = drill((0, 0, 61), (0, 0, 29), 10.2)
    bore = cylinder((0, 0, -1), (0, 0, 20), 26)
    port = (cylinder((0, 23, 10), (0, 30, 10), 12), cylinder((0, 0, 10), (0, 30, 10), 6))
    return cut(whole, slot, centre, bore, *port)


def vee_block() -> Shape:
    """A 90 degree vee for the 50 mm body of the spindle nose, in the frame of the setup that uses it."""
    apex = 25 * math.sqrt(2)  # below the bar's axis, so that both walls touch the bar
    half = apex - 10
    points = [(-30, -50), (30, -50), (30, -10), (half, -10), (0, -apex), (-half, -10), (-30, -10)]
    return shapes.prism(shapes.polygon([(-8.0, y, z) for y, z in points]), (36, 0, 0))


def strap() -> Shape:
    """A strap that presses the nose of the spindle nose down, in the frame of the setup that uses it."""
    return box((34, -35, 18), (46, 35, 28))


PARTS = {
    "valve_body/part": (valve_body, "MM"),
    "sensor_plate/part": (sensor_plate, "MM"),
    "pump_flange_inch/part": (pump_flange_inch, "INCH"),
    "spindle_nose/part": (spindle_nose, "MM"),
    "spindle_nose/vee": (vee_block, "MM"),
    "spindle_nose/strap": (strap, "MM"),
}


def main() -> None:
    """Writes every part beside its plan."""
    for name, (make, unit) in PARTS.items():
        path = HERE / f"{name}.step"
        path.parent.mkdir(exist_ok=True)
        shapes.write_step(make(), path, unit, make.__name__)
        print(f"{name}: {shapes.volume(make()):.3f} mm3")


if __name__ == "__main__":
    main()
