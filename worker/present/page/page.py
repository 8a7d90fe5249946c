"""The page as a whole: head with its own rules of what it may load, title block, model, text."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib import resources

from worker.present import palette
from worker.present.meshes import Mesh, StageMesh
from worker.present.page import sections
from worker.present.page.markup import escape
from worker.present.page.scene import embedded, scene_of
from worker.present.words import Document

SCRIPTS = ("vector.js", "mesh.js", "paint.js", "camera.js", "viewer.js", "main.js")


def report_page(
    document: Document,
    part: Mesh | None = None,
    stages: Sequence[StageMesh] = (),
    pictures: Mapping[str, bytes] | None = None,
) -> str:
    """The report document as HTML.

    ``part`` and ``stages`` are the bodies of the 3D model (without them the page has none), ``pictures`` a PNG of
    each setup by its id, shown in print and where the model cannot run.
    """
    model = sections.model(document, stages) + _data(document, part, stages) if stages else ""
    words = sections.column(document, pictures or {})
    script, style = _script(), _style()
    title = f"{document['verdict'].upper()} - {document.get('name', 'setup plan')}"
    return "\n".join(
        (
            "<!doctype html>",
            '<html lang="en">',
            "<head>",
            '<meta charset="utf-8">',
            f'<meta http-equiv="Content-Security-Policy" content="{policy(script, style)}">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            '<meta name="color-scheme" content="light dark">',
            f"<title>{escape(title)}</title>",
            f"<style>{style}</style>",
            "</head>",
            f"<body>{sections.skip_link()}",
            f'<main>{sections.title_block(document)}{model}<div class="read">{words}</div></main>',
            f"<script>{script}</script>",
            "</body>",
            "</html>\n",
        )
    )


def policy(script: str, style: str) -> str:
    """Content security policy: the page's own script and style by their hashes, its own pictures, nothing else."""
    return (
        f"default-src 'none'; script-src '{_hash(script)}'; style-src '{_hash(style)}'; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def _data(document: Document, part: Mesh | None, stages: Sequence[StageMesh]) -> str:
    scene, meshes = scene_of(document, part, stages)
    return (
        f'<script type="application/json" id="scene">{embedded(scene)}</script>'
        f'<script type="text/plain" id="meshes">{meshes}</script>'
    )


@cache
def _script() -> str:
    folder = resources.files(__package__)
    parts = (folder.joinpath(name).read_text(encoding="utf-8") for name in SCRIPTS)
    return '(() => {\n"use strict";\n' + "\n".join(parts) + "})();"


@cache
def _style() -> str:
    css = resources.files(__package__).joinpath("page.css").read_text(encoding="utf-8")
    light, dark = _variables(palette.LIGHT), _variables(palette.DARK)
    model = _variables({f"model-{name}": colour for name, colour in palette.MODEL.items()})
    schemes = (
        f":root{{color-scheme:light;{light}{model}}}\n"
        f"@media screen and (prefers-color-scheme: dark){{:root:not([data-theme=light]){{color-scheme:dark;{dark}}}}}\n"
        f"@media screen{{:root[data-theme=dark]{{color-scheme:dark;{dark}}}}}\n"
    )
    return schemes + css


def _variables(colours: Mapping[str, str]) -> str:
    return "".join(f"--{name}:{colour};" for name, colour in colours.items())
