"""Files beside the report that a caller may ask for: page, setup sheet, a picture and a model of each stage."""

from __future__ import annotations

from collections.abc import Callable, Sequence
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
    scenery = {stage.setup.id: stage_mesh(stage) for stage in checked.cut} if names else {}
    found: Files = {}
    for name in names:
        found |= MAKERS[name](document, checked, scenery)
    return found


Scenery = dict[str, StageMesh]


def _page(document: dict[str, Any], checked: Checked, scenery: Scenery) -> Files:
    from worker.present.page import report_page
    from worker.present.picture import setup_picture

    pictures = {stage.setup.id: setup_picture(scenery[stage.setup.id], stage.frame) for stage in checked.cut}
    page = report_page(document, part_mesh(checked.inputs.part), tuple(scenery.values()), pictures)
    return {"report.html": page.encode()}


def _sheet(document: dict[str, Any], checked: Checked, scenery: Scenery) -> Files:
    from worker.present.sheet import setup_sheet

    return {"setup-sheet.pdf": setup_sheet(document, list(scenery.values()))}


def _pictures(document: dict[str, Any], checked: Checked, scenery: Scenery) -> Files:
    from worker.present.picture import setup_picture

    return {f"stages/{s.setup.id}.png": setup_picture(scenery[s.setup.id], s.frame) for s in checked.cut}


def _models(document: dict[str, Any], checked: Checked, scenery: Scenery) -> Files:
    from worker.present.model_file import stage_glb

    return {f"stages/{id}.glb": stage_glb(stage) for id, stage in scenery.items()}


MAKERS: dict[str, Callable[[dict[str, Any], Checked, Scenery], Files]] = {
    "report.html": _page,
    "setup-sheet.pdf": _sheet,
    "stages/*.png": _pictures,
    "stages/*.glb": _models,
}
