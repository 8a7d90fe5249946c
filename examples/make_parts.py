"""Makes the STEP files of the examples: ``python -m examples.make_parts`` from the repository's root.

The scenario is invented: a small maker of float valves for irrigation, who mills the parts in two to four setups.
"""

from __future__ import annotations

from pathlib import Path

from examples import shapes
from examples.shapes import Shape, box, chamfer_ring, cone, cut, cylinder, drill, rounded_block

HERE = Path(__file__).parent
CORNERS = ((11.0, 12.0), (11.0, 48.0), (78.0, 12.0), (78.0, 48.0))
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


PARTS = {"valve_body": (valve_body, "MM")}


def main() -> None:
    """Writes every part beside its plan."""
    for name, (make, unit) in PARTS.items():
        folder = HERE / name
        folder.mkdir(exist_ok=True)
        shapes.write_step(make(), folder / f"{name}.step", unit, name)
        print(f"{name}: {shapes.volume(make()):.3f} mm3")


if __name__ == "__main__":
    main()
