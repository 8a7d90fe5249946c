"""Jobs that behave and misbehave in a child process."""

import ctypes
import os
import time
from pathlib import Path

from schemas.problem import Problem


def echo(payload, progress):
    progress({"step": "begun", "share": 0.5})
    progress({"step": "done", "share": 1.0})
    return payload[::-1]


def segfault(payload, progress):
    ctypes.string_at(0)
    return b""


def abort(payload, progress):
    os.abort()


def spin(payload, progress):
    progress({"step": "spinning"})
    while True:
        pass


def sleep(payload, progress):
    time.sleep(60)
    return b""


def bloat(payload, progress):
    kept = []
    while True:
        kept.append(bytearray(16 * 2**20))


def refuse(payload, progress):
    raise Problem("part.no-solid", "No solid", "There is none.", pointer="bar.step", remedy="Add one.")


def stumble(payload, progress):
    raise ValueError("seven")


def chatter(payload, progress):
    os.write(1, b"statistics of the kernel\n")
    os.write(2, b"warnings of the kernel\n")
    return b"quiet"


def leave(payload, progress):
    os._exit(0)


def large(payload, progress):
    return payload * 8


def cut_boxes(payload, progress):
    from worker.kernel.boolean import cut
    from worker.kernel.measure import volume
    from worker.kernel.primitives import box

    return f"{volume(cut(box((0, 0, 0), (10, 10, 10)), [box((2, 2, 2), (8, 8, 12))])):.6f}".encode()


def threads(payload, progress):
    """How many threads the process has after a product of matrices that would be worth several."""
    import numpy as np

    assert np.all(np.ones((600, 600)) @ np.ones((600, 600)) == 600)
    (line,) = (line for line in Path("/proc/self/status").read_text().splitlines() if line.startswith("Threads:"))
    return line.split()[1].encode()
