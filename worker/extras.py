"""Files beside the report that a caller may ask for: page, setup sheet, a picture and a model of each stage."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cached_property
from typing import Any

from schemas.problem import Problem
from worker.pipeline import Checked
from worker.present.meshes import StageMesh
from worker.scenery import part_mesh, stage_mesh

Files = dict[str, bytes]


def make_extras(names: Sequence[str], document: dict[str, Any], checked: Checked) -> Files:
    """The files of these names (a name may stand for one file a setup); raises Problem for one that nobody makes."""
    for name in names:
        if name not in MAKERS:
            raise Problem(
                "out.unknown",
                "No such file is made",
                f"Nothing makes a file '{name}'.",
                pointer=name,
                remedy=f"Known: {', '.join(sorted(MAKERS))}.",
            )
    scenery = Scenery(checked)
    found: Files = {}
    for name in names:
        found |= MAKERS[name](document, checked, scenery)
    return found


class Scenery:
    """What several files show, made once and only when one asks for it."""

    def __init__(self, checked: Checked) -> None:
        self._checked = checked

    @cached_property
    def stages(self) -> dict[str, StageMesh]:
        """The bodies of each setup."""
        return {stage.setup.id: stage_mesh(stage) for stage in self._checked.cut}

    @cached_property
    def pictures(self) -> dict[str, bytes]:
        """Each setup's stock in its workholding, PNG."""
        from worker.present.picture import setup_picture

        return {s.setup.id: setup_picture(self.stages[s.setup.id], s.frame) for s in self._checked.cut}


def _page(document: dict[str, Any], checked: Checked, scenery: Scenery) -> Files:
    from worker.present.page import report_page

    page = report_page(document, part_mesh(checked.inputs.part), tuple(scenery.stages.values()), scenery.pictures)
    return {"report.html": page.encode()}


def _sheet(document: dict[str, Any], checked: Checked, scenery: Scenery) -> Files:
    from worker.present.sheet import setup_sheet

    return {"setup-sheet.pdf": setup_sheet(document, list(scenery.stages.values()))}


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
