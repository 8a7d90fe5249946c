"""The parts of the page, in reading order: verdict, findings, setups, tools, features, estimate, evidence, cautions."""

from __future__ import annotations

import base64
import json
from collections.abc import Mapping, Sequence

from worker.present import words
from worker.present.meshes import StageMesh
from worker.present.page import findings
from worker.present.page.markup import escape, facts, row, table, tag, text
from worker.present.words import Document

LAYERS = (
    ("to_be", "Stock after", "stock"),
    ("as_is", "Stock before", "stock"),
    ("part", "Part", "part"),
    ("removal", "Removal", "removal"),
    ("workholding", "Workholding", "workholding"),
)
LENGTHS = (
    "diameter",
    "top_diameter",
    "length",
    "width",
    "height",
    "depth",
    "orthogonal_radius",
    "planar_radius",
    "radius",
)
ANGLES = ("angle", "tip_angle", "slope")
LOOKS = (("Corner", "-58 28"), ("Front", "-90 0"), ("Right", "0 0"), ("Top", "-90 90"))


def skip_link() -> str:
    """For readers with a keyboard."""
    return text("a", "To the findings", href="#findings", class_="skip")


def title_block(document: Document) -> str:
    """Verdict first, with what it rests on."""
    part = document["part"]
    verdict = document["verdict"]
    mass = (f"{words.number(part['mass'])} kg",) if "mass" in part else ()
    cells = facts(
        (
            ("Part", words.sizes(document, part["bounding_box"])),
            ("Material" if words.material(document) else "Mass", words.comma((*mass, *words.material(document)))),
            ("Finished", words.finished(document).removesuffix(" finished")),
            ("Metal left", _left_words(document)),
            ("Setups", str(len(document["setups"]))),
            ("Time a part, estimate", words.duration(document["time"]) if "time" in document else ""),
            ("Lot, estimate", _lot(document)),
        ),
        class_="cells",
    )
    told = "The plan passes" if verdict == "pass" else "The plan fails"
    heading = tag("h1", text("span", told, class_="told"), text("span", words.counts(document), class_="counted"))
    name = text("p", document.get("name", "Setup plan"), class_="plan-name")
    theme = text("button", "Dark", id="theme", type="button", hidden=True, aria_label="Light or dark page")
    return tag("header", tag("div", name, heading, class_="verdict"), cells, theme, class_=f"block {verdict}")


def _left_words(document: Document) -> str:
    left = document["residual"].get("volume")
    return "none" if left == 0 else words.volume(document, left)


def _lot(document: Document) -> str:
    if "cost" not in document:
        return ""
    cost = document["cost"]
    return f"{cost['per_lot']:.2f} {cost['currency']} for {cost['lot_size']}"


def _parts(document: Document, pictures: Mapping[str, bytes]) -> Sequence[str]:
    """The sections of the reading column."""
    return (
        findings.findings(document),
        *(setup(document, s, pictures.get(s["id"])) for s in document["setups"]),
        tools(document),
        features(document),
        estimate(document),
        evidence(document),
        cautions(document),
    )


def column(document: Document, pictures: Mapping[str, bytes]) -> str:
    """The whole reading column."""
    return "".join(part for part in _parts(document, pictures) if part)


def model(document: Document, stages: Sequence[StageMesh]) -> str:
    """The viewer; hidden until its script has run."""
    names = {s["id"]: s.get("name", "") for s in document["setups"]}
    tabs = [
        tag("button", text("b", stage.setup), f" {escape(names[stage.setup])}", type="button", aria_pressed="false",
            data_setup_tab=stage.setup)
        for stage in stages
    ]  # fmt: skip
    canvas = tag("canvas", tabindex=0, role="img", aria_label="Model of the setup. Arrow keys turn it, + and - zoom.")
    picture = tag("div", canvas, '<svg class="overlay" aria-hidden="true"></svg>', class_="view")
    looks = [text("button", name, type="button", data_look=look) for name, look in LOOKS]
    looks.append(text("button", "Fit", type="button", id="fit"))
    return tag(
        "section",
        tag("div", *tabs, class_="tabs", role="group", aria_label="Setup"),
        picture,
        tag("div", *(_layer(*layer) for layer in LAYERS), class_="layers", role="group", aria_label="Bodies"),
        tag("div", tag("div", *looks, class_="looks", role="group", aria_label="View"), _section(), class_="bar"),
        id="model",
        class_="model",
        aria_label="Model",
        hidden=True,
    )


def _layer(kind: str, name: str, colour: str) -> str:
    swatch = tag("i", class_=f"swatch {colour}", aria_hidden="true")
    return tag("button", swatch, text("span", name), text("span", "", class_="how"), type="button", data_layer=kind)


def _section() -> str:
    choices = (("-1", "No section"), ("0", "Section across X"), ("1", "Section across Y"), ("2", "Section across Z"))
    select = tag("select", *(text("option", name, value=value) for value, name in choices), id="section-axis",
                 aria_label="Section")  # fmt: skip
    slide = '<input type="range" id="section-share" min="0" max="1000" value="500" aria-label="Place of the section">'
    return tag("div", select, slide, tag("output", id="section-told"), class_="cutter")


def setup(document: Document, setup: Document, picture: bytes | None) -> str:
    """One setup: what holds the part, what is cut, what is left."""
    show = text("button", "Show on the model", type="button", hidden=True, data_show_setup=setup["id"])
    heading = tag("h2", text("span", f"Setup {setup['id']}", class_="no"), escape(setup.get("name", "")), show)
    held = facts(
        (
            ("Held by", setup["workholding"]),
            ("Work offset", setup.get("work_offset", "")),
            ("Starts from", _stock(document, setup["as_is"])),
            ("Leaves", _stock(document, setup["to_be"])),
            ("Comes free", _loose(document, setup)),
            ("Time, estimate", words.duration(setup["time"]) if "time" in setup else ""),
            ("Instructions", setup.get("instructions", "")),
        ),
        class_="held",
    )
    return tag("section", heading, _picture(setup, picture), held, _links(document, setup), _steps(document, setup),
               class_="setup", id=f"setup-{setup['id']}")  # fmt: skip


def _picture(setup: Document, picture: bytes | None) -> str:
    if picture is None:
        return ""
    data = base64.b64encode(picture).decode()
    alt = f"Setup {setup['id']}: stock in the workholding"
    return f'<img class="still" alt="{escape(alt)}" src="data:image/png;base64,{data}">'


def _stock(document: Document, stock: Document) -> str:
    parts = [words.volume(document, stock.get("volume"))]
    parts += [f"{words.number(stock['mass'])} kg"] if "mass" in stock else []
    parts += [words.sizes(document, stock["bounding_box"])] if "bounding_box" in stock else []
    parts += [words.count(stock["solids"], "solid")] if stock.get("solids", 1) != 1 else []
    return ", ".join(parts)


def _loose(document: Document, setup: Document) -> str:
    return ", ".join(words.volume(document, lump["volume"]) for lump in setup.get("loose", ()))


def _links(document: Document, setup: Document) -> str:
    found = [(i, f) for i, f in enumerate(document["findings"]) if f.get("setup") == setup["id"]]
    if not found:
        return text("p", "No findings in this setup.", class_="links")
    links = [
        tag("a", tag("i", class_=f"mark {f['level']}", aria_hidden="true"), escape(f["code"]), href=f"#finding-{i}")
        for i, f in found
    ]
    return tag("p", *links, class_="links")


def _steps(document: Document, setup: Document) -> str:
    unit = words.symbol(document)
    room = (f"Room below, {unit}",) if words.comes_through(setup) else ()
    sizes = (f"Tip at Z, {unit}", f"Least stick-out, {unit}", *room)
    headings = ("Step", "Operation", "Tool", "Removes", *sizes, "Time")
    rows = [row for step in setup["workingsteps"] for row in _step(document, setup, step)]
    return table(headings, rows, class_="steps") if rows else text("p", "No workingsteps.")


def _step(document: Document, setup: Document, step: Document) -> list[str]:
    """A step's row, and below it what the step reaches and what is to be said about it."""
    operation = escape(_plain(step["operation"]))
    room = [escape(words.room_below(document, step))] if words.comes_through(setup) else []
    if not step["enabled"]:
        return [
            row(escape(step["id"]), operation, escape(step["tool"]), "switched off", "", "", "", *room, class_="off")
        ]
    show = json.dumps([setup["id"], step["id"]])
    button = {"type": "button", "disabled": True, "class_": "jump", "data_show_step": show}
    first = row(
        text("button", step["id"], title="Show what this step removes", **button),
        operation,
        escape(step["tool"]),
        escape(words.volume(document, step.get("removal"))),
        escape(words.tip(document, step)),
        _margin(document, step),
        *room,
        escape(words.duration(step["time"]["total"]) if "time" in step else ""),
    )
    told = [step["name"]] if step.get("name") else []
    told += [", ".join(step["reached"])] if step.get("reached") else []
    told += step.get("notes", ())
    more = (text("span", line) for line in told)
    return [first, tag("tr", tag("td"), tag("td", *more, colspan=6 + len(room)), class_="more")] if told else [first]


def _margin(document: Document, step: Document) -> str:
    short = step.get("stickout_margin", 0.0) < 0
    return text("span", words.margin(document, step), class_="short" if short else None)


def tools(document: Document) -> str:
    """The tools with the least stick-out that serves all their steps."""
    unit = words.symbol(document)
    headings = ("Tool", "What it is", f"Stick-out, {unit}", f"Least that works, {unit}", "Holder", "Steps")
    rows = [
        row(
            text("b", tool["id"]),
            escape(words.cutter(document, tool) + (f", {tool['name']}" if "name" in tool else "")),
            escape(words.bare_length(document, tool["stickout"])),
            _margin(document, {**tool, "holder_checked": tool["holder"]}),
            "checked" if tool["holder"] else "none stated: not checked",
            escape(", ".join(tool.get("steps", ()))),
        )
        for tool in document.get("tools", ())
    ]
    return tag("section", text("h2", "Tools"), table(headings, rows)) if rows else ""


def features(document: Document) -> str:
    """Every feature of the part and where it is finished."""
    rows = [
        row(
            text("button", f["id"], type="button", disabled=True, class_="jump", data_show_feature=f["id"]),
            escape(f["class"].replace("_", " ")),
            escape(_dimensions(document, f)),
            escape(f["finished_in"]) if "finished_in" in f else text("span", "not finished", class_="short"),
        )
        for f in document["features"]
    ]
    return tag("section", text("h2", "Features"), table(("Feature", "Class", "Size", "Finished in"), rows))


def _dimensions(document: Document, feature: Document) -> str:
    told = [f"{_plain(key)} {words.bare_length(document, feature[key])}" for key in LENGTHS if key in feature]
    told += [f"{_plain(key)} {words.number(feature[key])} deg" for key in ANGLES if key in feature]
    told += [str(feature[key]) for key in ("bottom", "thread", "undercut") if key in feature]
    return ", ".join(told)


def _plain(key: str) -> str:
    return key.replace("_", " ")


def estimate(document: Document) -> str:
    """Time and cost, with what was assumed."""
    if "time" not in document and "cost" not in document:
        return ""
    steps = [step for s in document["setups"] for step in s["workingsteps"]]
    assumed = dict.fromkeys(note for step in steps for note in step.get("time", {}).get("assumptions", ()))
    cost = document.get("cost", {})
    pairs = [(f"Setup {s['id']}", words.duration(s["time"])) for s in document["setups"] if "time" in s]
    pairs += [("One part", words.duration(document["time"]))] if "time" in document else []
    pairs += [
        (key.replace("_", " "), f"{value:.2f} {cost['currency']}") for key, value in cost.get("items", {}).items()
    ]
    pairs += [(f"Lot of {cost['lot_size']}", f"{cost['per_lot']:.2f} {cost['currency']}")] if cost else []
    pairs += [("A part", f"{cost['per_part']:.2f} {cost['currency']}")] if cost else []
    notes = tag("ul", *(text("li", note) for note in (*assumed, *cost.get("assumptions", ()))))
    folded = tag("details", text("summary", "What the estimate assumes"), notes)
    return tag("section", text("h2", "Time and cost, estimated"), facts(pairs, class_="held"), folded)


def evidence(document: Document) -> str:
    """What the verdict stands on."""
    found = document["evidence"]
    pairs = [(name, digest) for name, digest in sorted(found["inputs"].items())]
    pairs += sorted(found["versions"].items())
    agreement = [
        row(escape(a["setup"]), escape(words.volume(document, a["solid_volume"])),
            escape(words.volume(document, a["field_volume"])), escape(f"{a['relative_difference']:.1e}"),
            escape(f"{a['bound']:.1e}"))
        for a in found.get("agreement", ())
    ]  # fmt: skip
    second = table(("Setup", "Solids", "Second computation", "Differ by", "Bound"), agreement) if agreement else ""
    skipped = [line for rule in found.get("rules", ()) for line in _skipped(rule)]
    silent = tag("details", text("summary", "Rules that do not apply, and why"),
                 tag("ul", *(text("li", s) for s in skipped))) if skipped else ""  # fmt: skip
    folded = tag("details", text("summary", "Inputs and versions"), facts(pairs, class_="held digests"))
    off = words.switched_off(document)
    told = words.inexact(document)
    told += [f"Switched off by the plan's policy: {words.comma(off)}"] if off else []
    notes = [text("p", note) for note in (*told, *found.get("notes", ()))]
    return tag("section", text("h2", "Evidence"), *notes, second, folded, silent)


def _skipped(rule: Document) -> list[str]:
    """Each reason of a rule once, with the places where it holds."""
    places: dict[str, list[str]] = {}
    for place, why in rule.get("skipped", {}).items():
        places.setdefault(why, []).append(place)
    return [f"{rule['code']}: {why} ({', '.join(at)})" for why, at in places.items()]


def cautions(document: Document) -> str:
    """What the reader must bear in mind."""
    items = (text("li", caution) for caution in document["cautions"])
    return tag("section", text("h2", "Cautions"), tag("ul", *items), class_="cautions")
