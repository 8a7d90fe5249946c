"""The report as plain text: verdict first, then setup by setup; at most 100 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from worker.present import words
from worker.present.words import Document

WIDTH = 100
LABEL = 10
"""Columns of the label that stands before each line of a setup."""


def report_text(document: Document) -> str:
    """The report document (plan units) as text for a terminal or a log; ends with a newline."""
    parts = [
        _verdict(document),
        *(_setup(document, setup) for setup in document["setups"]),
        _findings_part(document),
        _left(document),
        _not_finished(document),
        _estimate(document),
        _evidence(document),
        _cautions(document),
    ]
    return "\n\n".join("\n".join(lines) for part in parts if (lines := list(part))) + "\n"


def _verdict(document: Document) -> Iterator[str]:
    yield f"{document['verdict'].upper():<{LABEL}}{document.get('name', 'unnamed plan')}"
    yield from _lines("", f"{words.counts(document)}; {words.finished(document)}")
    yield from _lines("", _residual_words(document))
    part = document["part"]
    told = [words.sizes(document, part["bounding_box"]), words.volume(document, part["volume"])]
    told += [f"{words.number(part['mass'])} kg"] if "mass" in part else []
    yield from _lines("", f"part {words.comma((*told, *words.material(document)))}")


def _residual_words(document: Document) -> str:
    residual = document["residual"]
    if "volume" not in residual:
        return "what is left on the part is not known"
    if not residual["volume"]:
        return "no metal left on the part"
    pieces = words.count(len(residual.get("lumps", ())), "place")
    return f"{words.volume(document, residual['volume'])} of metal left on the part in {pieces}"


def _setup(document: Document, setup: Document) -> Iterator[str]:
    heading = " - ".join(str(setup[k]) for k in ("name", "work_offset") if k in setup)
    yield _rule(f"SETUP {setup['id']}  {heading}")
    yield from _lines("holds", setup["workholding"])
    yield from _lines("starts", _stock(document, setup["as_is"]))
    yield from _steps(document, setup)
    yield from _lines("leaves", _stock(document, setup["to_be"]))
    for lump in setup.get("loose", ()):
        yield from _lines("comes free", f"{words.volume(document, lump['volume'])} at {_middle(document, lump)}")
    for finding in words.findings_of(document, setup["id"]):
        yield from _finding(document, finding)


def _stock(document: Document, stock: Document) -> str:
    parts = [words.volume(document, stock.get("volume"))]
    if "mass" in stock:
        parts.append(f"{words.number(stock['mass'])} kg")
    if "bounding_box" in stock:
        parts.append(words.sizes(document, stock["bounding_box"]))
    if stock.get("solids", 1) != 1:
        parts.append(words.count(stock["solids"], "solid"))
    return words.comma(parts)


def _steps(document: Document, setup: Document) -> Iterator[str]:
    """A table of the steps; below each what it reaches."""
    steps = setup["workingsteps"]
    if not steps:
        yield from _lines("cuts", "nothing: the setup has no workingsteps")
        return
    room = (f"room below {words.symbol(document)}",) if words.comes_through(setup) else ()
    heading = ("step", "operation", "tool", "removes", f"stick-out {words.symbol(document)}", *room)
    rows = [heading, *(_step_row(document, step)[: len(heading)] for step in steps)]
    widths = [max(len(row[i]) for row in rows) for i in range(len(heading))]
    indent = LABEL + widths[0] + 2
    for row, step in zip(rows, (None, *steps), strict=True):
        cells = "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        yield f"{'' if step else 'cuts':<{LABEL}}{cells}"[:WIDTH].rstrip()
        told = [step.get("name", ""), words.comma(step.get("reached", ()))] if step else []
        for line in textwrap.wrap("; ".join(one for one in told if one), WIDTH - indent - 2, break_on_hyphens=False):
            yield f"{'':<{indent}}: {line}"


def _step_row(document: Document, step: Document) -> tuple[str, ...]:
    removed = words.volume(document, step.get("removal")) if step["enabled"] else "off"
    sizes = (words.margin(document, step), words.room_below(document, step))
    return (step["id"], step["operation"], step["tool"], removed, *sizes)


def _finding(document: Document, finding: Document) -> Iterator[str]:
    step = f"step {finding['workingstep']}" if "workingstep" in finding else ""
    heading = "  ".join(x for x in (finding["code"], step, words.comma(finding.get("features", ()))) if x)
    yield from _lines(finding["level"].upper() if finding["level"] == "error" else finding["level"], heading)
    yield from _lines("", finding["message"])
    measured = f"measured {words.measured(finding)}" if "measured" in finding else words.measured(finding)
    where = "; ".join(x for x in (measured, words.place(document, finding)) if x)
    if where:
        yield from _lines("", where)
    if mend := words.remedy(finding):
        yield from _lines("", f"Mend: {mend}")


def _findings_part(document: Document) -> Iterator[str]:
    found = words.findings_of(document, None)
    if found:
        yield _rule("THE PLAN AS A WHOLE")
    for finding in found:
        yield from _finding(document, finding)


def _left(document: Document) -> Iterator[str]:
    lumps = document["residual"].get("lumps", ())
    if lumps:
        yield _rule("LEFT ON THE PART")
    for lump in lumps:
        near = f" by {words.comma(lump['features'])}" if lump.get("features") else ""
        yield from _lines("", f"{words.volume(document, lump['volume'])} at {_middle(document, lump)}{near}")


def _middle(document: Document, lump: Document) -> str:
    box = lump["bounding_box"]
    middle = [(a + b) / 2 for a, b in zip(box["min"], box["max"], strict=True)]
    return words.point(document, middle)


def _not_finished(document: Document) -> Iterator[str]:
    if "volume" not in document["residual"]:
        return
    open_ = [f"{f['id']} ({f['class']})" for f in document["features"] if "finished_in" not in f]
    if open_:
        yield _rule("FEATURES NOT FINISHED")
        yield from _lines("", words.comma(open_))


def _estimate(document: Document) -> Iterator[str]:
    if "time" not in document and "cost" not in document:
        return
    yield _rule("ESTIMATE")
    if "time" in document:
        yield from _lines("time", f"{words.duration(document['time'])} a part")
    if "cost" in document:
        cost = document["cost"]
        part, lot = (f"{cost[k]:.2f} {cost['currency']}" for k in ("per_part", "per_lot"))
        yield from _lines("cost", f"{part} a part, {lot} a lot of {cost['lot_size']}")
        for assumption in cost.get("assumptions", ()):
            yield from _lines("", assumption)


def _evidence(document: Document) -> Iterator[str]:
    """How well the two stock computations agree, what was switched off, and what had to be approximated."""
    found = document["evidence"]
    told = [
        f"{a['setup']}: solids {words.volume(document, a['solid_volume'])}, second computation "
        f"{words.volume(document, a['field_volume'])}, apart by {a['relative_difference']:.1e} (bound {a['bound']:.1e})"
        for a in found.get("agreement", ())
    ]
    told += words.inexact(document)
    if off := words.switched_off(document):
        told.append(f"Switched off by the plan's policy: {words.comma(off)}")
    told += found.get("notes", ())
    told += [
        f"{setup['id']}/{step['id']}: {note}"
        for setup in document["setups"]
        for step in setup["workingsteps"]
        for note in step.get("notes", ())
    ]
    if told:
        yield _rule("EVIDENCE")
    for line in told:
        yield from _lines("", line)


def _cautions(document: Document) -> Iterator[str]:
    cautions: Sequence[str] = document["cautions"]
    if cautions:
        yield _rule("CAUTIONS")
    for caution in cautions:
        first, *rest = textwrap.wrap(caution, WIDTH - LABEL - 2)
        yield f"{'':<{LABEL}}- {first}"
        yield from (f"{'':<{LABEL}}  {line}" for line in rest)


def _rule(heading: str) -> str:
    heading = heading.rstrip()
    return f"{heading} {'-' * max(WIDTH - len(heading) - 1, 0)}"


def _lines(label: str, text: str) -> Iterator[str]:
    wrapped = textwrap.wrap(text, WIDTH - LABEL - 1, break_on_hyphens=False) or [""]
    yield f"{label:<{LABEL}} {wrapped[0]}" if len(label) >= LABEL else f"{label:<{LABEL}}{wrapped[0]}"
    yield from (f"{'':<{LABEL}}{line}" for line in wrapped[1:])
