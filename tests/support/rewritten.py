"""The same part as another exporter would write it: features must come out one for one."""

from __future__ import annotations

from bench.reencode import reencoded
from tests.support.recognised import recognise
from worker.kernel.shape import Body


def same_when_rewritten(body: Body, seed: int) -> None:
    """Turned, with surfaces as splines and faces split: each feature has its class and the faces it had."""
    other, origin = reencoded(body, seed)
    back = sorted((f.class_, tuple(sorted({origin[i] for i in f.faces}))) for f in recognise(other))
    assert back == sorted((f.class_, f.faces) for f in recognise(body))
