"""How well the metal of a setup is known, and where the exact solid model gave up."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Standing:
    """What a stock's solid is worth.

    ``known``: the solid is the metal; otherwise it stands in for metal that no solid model could give, and has more of
    it. ``facets``: its round faces are flats that stay within this of the true ones (mm); 0 for exact faces.
    ``doubt``: how much volume the flats may cut off or add (mm3).
    """

    known: bool = True
    facets: float = 0.0
    doubt: float = 0.0

    @property
    def exact(self) -> bool:
        """True for a solid with the true faces."""
        return self.known and self.facets == 0.0


EXACT = Standing()
UNKNOWN = Standing(known=False)


@dataclass(frozen=True)
class Failure:
    """An operation of a setup that no exact way could do.

    ``index`` is the position of its step in ``Stage.cuts``, None where the whole setup is meant. ``what`` failed, in
    words that follow "the"; ``detail`` is what the kernel said. ``meshes``: meshes gave the metal instead, and the
    solid is faceted from there on; otherwise only the dexel field knows it.
    """

    index: int | None
    what: str
    detail: str
    meshes: bool = False
