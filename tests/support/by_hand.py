"""What every setup of the examples must leave, worked out by hand with the kernel's own primitives and booleans.

Nothing here reads a plan or calls the product: each number is copied from the drawing or the plan by a person.
Parts are in mm in their own frame; a list holds one solid a setup.
"""

from __future__ import annotations

from examples.shapes import Shape, box, chamfer_ring, common, cone, cut, cylinder, drill, fuse, rounded_block

IN = 25.4


def valve_body() -> list[Shape]:
    carrier = box((-2, -2, -12), (102, 62, -1))
    body = rounded_block((0, 0, -1), (100, 60, 40), 8)
    ring = cut(body, chamfer_ring(body, 40, 1))
    not_here = (box((52, -1, 30), (62, 5, 50)), box((88, -9, 30), (110, 70, 50)))  # where slot and step will be
    bolts = [(x, y) for x in (11, 78) for y in (12, 48)]
    first = cut(
        fuse(carrier, body),
        cut(ring, *not_here),
        rounded_block((56, 20, 28), (80, 40, 50), 5),
        cylinder((34, 30, 7), (34, 30, 50), 18),  # reamed, 1 past the end of the bore
        drill((34, 30, 50), (34, 30, 6), 17.5),  # drilled, 2 past it
        cylinder((34, 30, 30), (34, 30, 50), 30),
        *(drill((x, y, 50), (x, y, -1.5), 6.6) for x, y in bolts),
        *(cylinder((x, y, 33.5), (x, y, 50), 11) for x, y in bolts),
    )
    second = cut(
        first,
        box((-5, -5, -20), (105, 65, 0)),
        cylinder((34, 30, -5), (34, 30, 8), 26),
        *(drill((x, y, -5), (x, y, 14), 4.2) for x in (20, 48) for y in (16, 44)),
    )
    third = cut(
        second,
        box((-5, -5, -5), (105, 6, 10)),
        box((52, -5, 29), (62, 10, 50)),
        cylinder((57, -5, 29), (57, 10, 29), 10),
        cylinder((34, -5, 19), (34, 24, 19), 10.2),
        cone((34, 0, 19), (34, 6.5, 19), 13, 0),
    )
    fourth = cut(third, box((88, -5, 28), (105, 65, 50)), box((85, -5, 8), (105, 65, 20)))
    return [first, second, third, fourth]


def sensor_plate() -> list[Shape]:
    bolts = [(x, y) for x in (15, 105) for y in (15, 65)]
    first = cut(
        box((-20, -20, 0), (140, 100, 12)),
        rounded_block((30, 20, 6), (90, 60, 20), 5),
        *(cylinder((x, y, -5), (x, y, 20), 6.6) for x, y in bolts),
        *(cylinder((x, y, 5.5), (x, y, 20), 11) for x, y in bolts),
        *(cylinder((x, 40, -5), (x, 40, 20), 6) for x in (15, 105)),
    )
    outline = chamfer_ring(rounded_block((0, 0, 0), (120, 80, 12), 10), 0, 0.5)
    channel = (box((50, 23, -5), (130, 33, 4)), cylinder((50, 28, -5), (50, 28, 4), 10))
    return [first, cut(common(first, outline), *channel)]


def pump_flange_inch() -> list[Shape]:
    e = 1 / 16 * IN
    carrier = box((-e, -e, -5 * e), (4 * IN + e, 3 * IN + e, -0.03 * IN))
    body = rounded_block((0, 0, -0.03 * IN), (4 * IN, 3 * IN, IN), 0.375 * IN)
    ring = cut(body, chamfer_ring(body, IN, 0.04 * IN))
    step = box((-IN, -IN, 0.625 * IN), (0.75 * IN, 4 * IN, 2 * IN))
    centre = (2 * IN, 1.5 * IN)
    bolts = [(x * IN, y * IN) for x in (0.375, 3.5) for y in (0.5, 2.5)]
    past = -0.05 * IN
    first = cut(
        fuse(carrier, body),
        cut(ring, step),
        step,
        drill((*centre, 2 * IN), (*centre, 0.25 * IN + past), 15 / 16 * IN),
        cylinder((*centre, 2 * IN), (*centre, 0.25 * IN + past), 1.48 * IN),  # rough: 0.01 left on the side
        cylinder((*centre, 2 * IN), (*centre, 0.22 * IN), 1.5 * IN),
        *(drill((x, y, 2 * IN), (x, y, past), 17 / 64 * IN) for x, y in bolts),
        drill((3.5 * IN, 1.5 * IN, 2 * IN), (3.5 * IN, 1.5 * IN, past), 27 / 64 * IN),
    )
    second = cut(
        first,
        box((-IN, -IN, -IN), (5 * IN, 5 * IN, 0)),
        cylinder((*centre, -IN), (*centre, 0.25 * IN), 2.25 * IN),
    )
    return [first, second]


def spindle_nose() -> list[Shape]:
    nose = cylinder((0, 0, 40), (0, 0, 60), 36)
    body = cylinder((0, 0, -1), (0, 0, 40), 50)
    carrier = cylinder((0, 0, -12), (0, 0, -1), 52)
    first = cut(
        fuse(carrier, body, nose),
        box((-30, -4, 54), (30, 4, 70)),
        drill((0, 0, 70), (0, 0, 29), 10.2),
    )
    rim = cut(cylinder((0, 0, 0), (0, 0, 1), 60), cone((0, 0, 0), (0, 0, 1), 48, 50))
    second = cut(
        first,
        cylinder((0, 0, -20), (0, 0, 0), 80),
        cylinder((0, 0, -20), (0, 0, 20), 26),
        rim,
    )
    third = cut(second, cylinder((0, 23, 10), (0, 40, 10), 12), cylinder((0, 0, 10), (0, 40, 10), 6))
    return [first, second, third]


STAGES = {
    "valve_body": valve_body,
    "sensor_plate": sensor_plate,
    "pump_flange_inch": pump_flange_inch,
    "spindle_nose": spindle_nose,
}
