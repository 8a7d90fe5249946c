"""Files beside the report that a caller may ask for: page, setup sheet, a picture and a model of each stage."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from schemas.problem import Problem
from worker.cache.kept import Kept
from worker.pipeline import Checked
from worker.present.meshes import StageMesh
from worker.scenery import part_mesh, stage_mesh

if TYPE_CHECKING:
    from worker.present.picture import Shown, View

Files = dict[str, bytes]


def make_extras(names: Sequence[str], document: dict[str, Any], checked: Checked, kept: Kept) -> Files:
    """The files of these names (a name may stand for one file a setup); raises Problem for one that nobody makes.

    ``kept`` has the pictures that earlier checks drew of the same bodies.
    """
    for name in names:
        if name not in MAKERS:
            raise Problem(
                "out.unknown",
                "No such file is made",
                f"Nothing makes a file '{name}'.",
                pointer=name,
                remedy=f"Known: {', '.join(sorted(MAKERS))}.",
            )
    scenery = Scenery(checked, kept)
    found: Files = {}
    for name in names:
        found |= MAKERS[name](document, checked, scenery)
    return found


class Scenery:
    """What several files show, made once and only when one asks for it."""

    def __init__(self, checked: Checked, kept: Kept) -> None:
        self._checked, self._kept = checked, kept

    def paint(self, shown: Sequence[Shown], view: View) -> bytes:
        """See :func:`worker.present.picture.paint`."""
        from worker.present.picture import paint

        bodies = [part for s in shown for part in (s.mesh.vertices, s.mesh.triangles, s.colour, repr(s.cover))]
        drawn = self._kept.numbers(
            "picture", [repr(view), *bodies], lambda: np.frombuffer(paint(shown, view), np.uint8)
        )
        return drawn.tobytes()

    @cached_property
    def stages(self) -> dict[str, StageMesh]:
        """The bodies of each setup."""
        return {stage.setup.id: stage_mesh(stage) for stage in self._checked.cut}

    @cached_property
    def pictures(self) -> dict[str, bytes]:
        """Each setup's stock in its workholding, PNG."""
        from worker.present.picture import setup_picture

        return {s.setup.id: setup_picture(self.stages[s.setup.id], s.frame, by=self.paint) for s in self._checked.cut}


def _page(document: dict[str, Any], checked: Checked, scenery: Scenery) -> Files:
    from worker.present.page import report_page

    page = report_page(document, part_mesh(checked.inputs.part), tuple(scenery.stages.values()), scenery.pictures)
    return {"report.html": page.encode()}


def _sheet(document: dict[str, Any], checked: Checked, scenery: Scenery) -> Files:
    from worker.present.sheet import setup_sheet

    return {"setup-sheet.pdf": setup_sheet(document, list(scenery.stages.values()), scenery.paint)}


def _pictures(document: dict[str, Any], checked: Checked, scenery: Scenery) -> Files:
    return {f"stages/{id}.png": data for id, data in scenery.pictures.items()}


def _models(document: dict[str, Any], checked: Checked, scenery: Scenery) -> Files:
    from worker.present.model_file import stage_glb

    return {f"stages/{id}.glb": stage_glb(stage) for id, stage in scenery.stages.items()}


MAKERS: dict[str, Callable[[dict[str, Any], Checked, Scenery], Files]] = {
    "report.html": _page,
    "setup-sheet.pdf": _sheet,
    "stages/*.png": _pictures,
    "stages/*.glb": _models,
}
