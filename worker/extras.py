"""Files beside the report that a caller may ask for: the page and the setup sheet."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from schemas.problem import Problem
from worker.pipeline import Checked
from worker.scenery import part_mesh, stage_mesh


def make_extras(names: Sequence[str], document: dict[str, Any], checked: Checked) -> dict[str, bytes]:
    """The files of these names; raises Problem for one that nobody makes."""
    for name in names:
        if name not in MAKERS:
            raise Problem(
                "out.unknown",
                "No such file is made",
                f"Nothing makes a file '{name}'.",
                pointer=name,
                remedy=f"Known: {', '.join(sorted(MAKERS))}.",
            )
    return {name: MAKERS[name](document, checked) for name in names}


def _page(document: dict[str, Any], checked: Checked) -> bytes:
    from worker.present.page import report_page
    from worker.present.picture import setup_picture

    stages = {stage.setup.id: stage_mesh(stage) for stage in checked.cut}
    pictures = {stage.setup.id: setup_picture(stages[stage.setup.id], stage.frame) for stage in checked.cut}
    return report_page(document, part_mesh(checked.inputs.part), tuple(stages.values()), pictures).encode()


def _sheet(document: dict[str, Any], checked: Checked) -> bytes:
    from worker.present.sheet import setup_sheet

    return setup_sheet(document, [stage_mesh(stage) for stage in checked.cut])


MAKERS: dict[str, Callable[[dict[str, Any], Checked], bytes]] = {"report.html": _page, "setup-sheet.pdf": _sheet}
