"""How the time of recognition grows with the number of faces, one kind of part at a time (``bench.growth_shapes``).

``python -m bench.growth [SHAPE ...] [--faces N ...]`` makes parts of about so many faces and prints for each its faces
and features, processor seconds, microseconds a face, and by which power of the number of faces the time grew since
the size before: 1 is linear. Without SHAPE all are measured, without N those of 250, 500, 1000 and 2000 faces; 4000
and 8000 take the kernel some minutes to make.
"""

from __future__ import annotations

import argparse
import gc
import math
import time
from collections.abc import Iterable, Sequence

from bench.growth_shapes import GROWTH
from worker.kernel.graph import face_graph
from worker.kernel.shape import Body
from worker.recognise.assemble import features_of
from worker.recognise.patches import part_shape

SIZES = (250, 500, 1000, 2000, 4000, 8000)


def measured(body: Body) -> tuple[int, int, float]:
    """Faces, features, and processor seconds of recognition, as in a child, which collects no garbage."""
    gc.collect()
    gc.disable()
    start = time.process_time()
    graph = face_graph(body)
    features = features_of(part_shape(graph))
    return len(graph.faces), len(features), time.process_time() - start


def curve(shapes: Iterable[str], sizes: Sequence[int]) -> None:
    """Print how time grows with faces."""
    measured(GROWTH["mixed"](20))
    for shape in shapes:
        before: tuple[int, float] | None = None
        for size in sizes:
            faces, features, seconds = measured(GROWTH[shape](size))
            power = f"power {math.log(seconds / before[1]) / math.log(faces / before[0]):5.2f}" if before else ""
            line = f"{shape:15s}{faces:6d} faces{features:6d} features{seconds:8.3f} s"
            print(f"{line}{1e6 * seconds / faces:7.0f} us a face  {power}", flush=True)
            before = faces, seconds


def main() -> None:
    """Print the curves asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("shapes", nargs="*", choices=[*GROWTH, []], metavar="SHAPE", help=", ".join(GROWTH))
    parser.add_argument("--faces", nargs="+", type=int, default=SIZES[:4], metavar="N")
    options = parser.parse_args()
    curve(options.shapes or GROWTH, options.faces)


if __name__ == "__main__":
    main()
