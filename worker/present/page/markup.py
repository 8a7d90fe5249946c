"""Small pieces of markup. Everything that comes from a document is escaped here."""

from __future__ import annotations

import html
from collections.abc import Iterable, Sequence


def escape(text: object) -> str:
    """Text that may stand in an element or a quoted attribute."""
    return html.escape(str(text), quote=True)


def tag(name: str, *content: str, **attributes: object) -> str:
    """An element; ``content`` is markup already, attributes are escaped. ``class_`` and ``data_x`` lose their marks."""
    told = "".join(
        f" {key.rstrip('_').replace('_', '-')}" + ("" if value is True else f'="{escape(value)}"')
        for key, value in attributes.items()
        if value is not None and value is not False
    )
    return f"<{name}{told}>{''.join(content)}</{name}>"


def text(name: str, words: object, **attributes: object) -> str:
    """An element that holds plain words."""
    return tag(name, escape(words), **attributes)


def table(headings: Sequence[str], rows: Iterable[str], **attributes: object) -> str:
    """A table that scrolls sideways by itself where the screen is narrow."""
    head = tag("thead", tag("tr", *(text("th", h, scope="col") for h in headings)))
    return tag("div", tag("table", head, tag("tbody", *rows), **attributes), class_="wide", tabindex=0)


def row(*cells: str, **attributes: object) -> str:
    """A row of cells that are markup already."""
    return tag("tr", *(tag("td", cell) for cell in cells), **attributes)


def facts(pairs: Iterable[tuple[str, str]], **attributes: object) -> str:
    """A list of names and what they are; pairs without words are left out."""
    items = (tag("div", text("dt", name), text("dd", words)) for name, words in pairs if words)
    return tag("dl", *items, **attributes)
