"""What the text of an ISO 10303-21 file tells before the kernel sees it: cheap refusals and the length unit.

A file that refers to itself in a ring crashes the kernel's reader, one without a length unit is silently taken as
mm, and a large one without any solid costs seconds: all three show in the text. Works on bytes alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import chain

from worker.kernel import stepfaults

MAX_BYTES = 64 * 1024 * 1024
"""Largest file read (bytes): a prismatic part of 90 faces takes 0.3 MB."""
MAX_OCCURRENCES = 10_000
"""Most component occurrences that an assembly structure may unfold to."""
INCH = 25.4
"""mm in an inch (ISO 31, exact)."""

_SI_PREFIX = {
    b"EXA": 1e18, b"PETA": 1e15, b"TERA": 1e12, b"GIGA": 1e9, b"MEGA": 1e6, b"KILO": 1e3, b"HECTO": 1e2, b"DECA": 1e1,
    b"DECI": 1e-1, b"CENTI": 1e-2, b"MILLI": 1e-3, b"MICRO": 1e-6, b"NANO": 1e-9, b"PICO": 1e-12,
    b"FEMTO": 1e-15, b"ATTO": 1e-18,
}  # fmt: skip
_STRING_OR_COMMENT = re.compile(rb"('[^']*(?:''[^']*)*'|/\*.*?\*/)", re.DOTALL)
_INSTANCE = re.compile(rb"#(\d+)\s*=\s*([^;]*);")
_REFERENCE = re.compile(rb"#(\d+)")
_SOLID = re.compile(rb"(?<![A-Z_])(?:MANIFOLD_SOLID_BREP|BREP_WITH_VOIDS|FACETED_BREP)(?![A-Z_])")
_SURFACES = re.compile(rb"SHELL_BASED_SURFACE_MODEL|FACE_BASED_SURFACE_MODEL|OPEN_SHELL|CLOSED_SHELL|ADVANCED_FACE")
_SCHEMA = re.compile(rb"FILE_SCHEMA\s*\(\s*\(\s*'([^']*)'", re.IGNORECASE)
_KNOWN_SCHEMAS = (b"AUTOMOTIVE_DESIGN", b"CONFIG_CONTROL_DESIGN", b"AP203", b"AP214", b"AP242", b"CONFIG_CONTROL")
_CONE = re.compile(rb"(?<![A-Z_])CONICAL_SURFACE\s*\(")
_SURFACE_MODEL = re.compile(rb"SURFACE_MODEL")
_ASSIGNED = re.compile(rb"GLOBAL_UNIT_ASSIGNED_CONTEXT")
_REPRESENTATION = re.compile(rb"^\w*REPRESENTATION\s*\(")
_SI_UNIT = re.compile(rb"SI_UNIT\s*\(\s*(?:\.(\w+)\.|\$)\s*,\s*\.METRE\.\s*\)")
_CONVERSION = re.compile(rb"CONVERSION_BASED_UNIT\s*\(\s*'([^']*)'\s*,\s*#(\d+)\s*\)")
_MEASURE = re.compile(
    rb"MEASURE_WITH_UNIT\s*\(\s*(?:(?:POSITIVE_)?LENGTH_MEASURE\s*\()?\s*([-+0-9.Ee]+)\s*\)?\s*,\s*#(\d+)"
)


_ODD = (b".#", b"NAN", b"INF")
"""What an instance holds, in capitals, that has a number that is none."""
_NO_NUMBER = re.compile(rb"[(,]\s*([-+]?(?:NAN|INF(?:INITY)?|\d+\.#\w+))\s*(?=[,)])", re.IGNORECASE)
_POINT = re.compile(rb"^\s*CARTESIAN_POINT\s*\(")
_LARGE = re.compile(rb"(?<![\d.])(?:\d[\d.]*E\+?\d+|\d{10,})", re.IGNORECASE)
_FACE = re.compile(rb"(?<![A-Z_])(?:ADVANCED_FACE|FACE_SURFACE)\s*\(")
LOOKS = 8
"""So often the instances are gone through for such as are in no ring, before those left are followed one by one."""
FARTHEST = 1e8
"""Coordinates beyond this, in whatever unit, are damage: the reader may follow them for minutes."""


@dataclass(frozen=True)
class StepText:
    """The instances of a file: number to text, strings blanked except where a name is needed.

    ``twice`` is the number of an instance that the file gives twice, differently; None where there is none.
    """

    instances: dict[int, bytes]
    schema: str
    twice: int | None = None

    @cached_property
    def references(self) -> dict[int, tuple[int, ...]]:
        """Instance number to the numbers it refers to."""
        return {n: tuple(map(int, _REFERENCE.findall(text))) for n, text in self.instances.items()}

    @cached_property
    def missing(self) -> set[int]:
        """Numbers that instances refer to and that the file does not hold."""
        return set(chain.from_iterable(self.references.values())).difference(self.instances)

    @cached_property
    def most_edges(self) -> int:
        """How many edges the face with most of them has."""
        known, found = self.references, 0
        for face in self.of_type(_FACE, b"FACE"):
            bounds = [b for b in known[face][:-1] if b in known]
            found = max(found, sum(len(known[loop]) for b in bounds for loop in known[b] if loop in known))
        return found

    def of_type(self, name: re.Pattern[bytes], word: bytes) -> tuple[int, ...]:
        """Numbers of the instances whose text matches, ascending; ``word`` is in whatever does."""
        return tuple(sorted(n for n, text in self.instances.items() if word in text and name.search(text)))

    @cached_property
    def solids(self) -> tuple[int, ...]:
        """Numbers of the solids."""
        return self.of_type(_SOLID, b"BREP")

    @cached_property
    def contexts(self) -> tuple[int, ...]:
        """Numbers of the contexts of the representations that hold a body."""
        bodies = set(self.solids) or set(self.of_type(_SURFACE_MODEL, b"SURFACE_MODEL"))
        found: dict[int, None] = {}
        for number in self.of_type(_REPRESENTATION, b"REPRESENTATION"):
            references = self.references[number]
            if len(references) > 1 and bodies.intersection(references[:-1]):
                found[references[-1]] = None
        return tuple(found)


@dataclass(frozen=True, slots=True)
class Surveyed:
    """What the text says: mm per unit of the solid's representation, its name, the schema and remarks.

    ``most_edges``: how many the face with most of them has.
    """

    unit_mm: float
    unit: str
    schema: str
    notes: tuple[str, ...]
    most_edges: int


def survey(data: bytes, name: str = "part", limit: int = MAX_BYTES) -> Surveyed:
    """Read the text or raise the Problem that names what is wrong with the file ``name``."""
    refuse_foreign(data, name, limit)
    if not (_SOLID.search(data) or _SURFACES.search(data)):
        raise stepfaults.no_solid(name)
    text = parse(data)
    _refuse_without_solid(text, name)
    _refuse_twins(text, name)
    _refuse_rings(text, name)
    _refuse_gaps(text, name)
    _refuse_no_numbers(text, name)
    _refuse_unfolding(text, name)
    factors = _solid_units(text, name)
    _refuse_without_angle(text, name)
    notes = () if len(factors) == 1 else (f"the file uses several length units: {_names(factors)}",)
    return Surveyed(factors[0], _unit_name(factors[0]), text.schema, notes, text.most_edges)


def refuse_foreign(data: bytes, name: str, limit: int = MAX_BYTES) -> None:
    """Raise unless the bytes look like a complete STEP file of a sensible size."""
    if len(data) > limit:
        detail = f"The file is {len(data) / 2**20:.0f} MB large; at most {limit // 2**20} MB are read."
        raise stepfaults.too_large(name, detail)
    head = data[:4096].lstrip(b"\xef\xbb\xbf \t\r\n\x00")
    if not head.startswith(b"ISO-10303-21"):
        raise stepfaults.not_step(name, _what_it_is(data))
    if b"END-ISO-10303-21" not in data[-4096:]:
        raise stepfaults.not_step(name, "The file ends before its END-ISO-10303-21 line: it was cut off.")
    schema = _SCHEMA.search(data[:65536])
    if schema is None or not any(known in schema.group(1).upper() for known in _KNOWN_SCHEMAS):
        found = schema.group(1).decode("ascii", "replace")[:60] if schema else "none"
        raise stepfaults.not_step(name, f"The file's schema is '{found}', not AP203, AP214 or AP242.")


def _what_it_is(data: bytes) -> str:
    known = ((b"PK\x03\x04", "a ZIP archive"), (b"solid ", "an STL mesh"), (b"\x1f\x8b", "a gzip archive"),
             (b"%PDF", "a PDF document"), (b"DBRep", "a native B-rep dump"), (b"{", "JSON"), (b"<", "XML"))  # fmt: skip
    for magic, words in known:
        if data.lstrip()[: len(magic)] == magic:
            return f"The file is {words}, not STEP."
    return "The file is empty." if not data.strip() else "The file does not begin with ISO-10303-21."


def parse(data: bytes) -> StepText:
    """The instances of the DATA section; strings and comments are blanked so that their text cannot mislead."""
    schema = _SCHEMA.search(data[:65536])
    body = data[data.find(b"DATA") :]
    pieces = _STRING_OR_COMMENT.split(body)
    told = {text: _blank(text) for text in set(pieces[1::2])}
    pieces[1::2] = map(told.__getitem__, pieces[1::2])
    found = _INSTANCE.findall(b"".join(pieces))
    instances = {int(number): content for number, content in found}
    twice = _given_twice(found) if len(instances) < len(found) else None
    return StepText(instances, schema.group(1).decode("ascii", "replace") if schema else "", twice)


def _given_twice(found: list[tuple[bytes, bytes]]) -> int | None:
    """The first number that stands for two different instances."""
    seen: dict[int, bytes] = {}
    return next((int(n) for n, content in found if seen.setdefault(int(n), content) != content), None)


def _blank(text: bytes) -> bytes:
    if text.startswith(b"/*"):
        return b" "
    return text if text[1:-1].isalnum() and len(text) < 40 else b"''"


def _refuse_without_solid(text: StepText, name: str) -> None:
    if not any(_SOLID.search(t) or _SURFACES.search(t) for t in text.instances.values()):
        raise stepfaults.no_solid(name)


def _refuse_twins(text: StepText, name: str) -> None:
    if text.twice is not None:
        raise stepfaults.contradiction(name, f"The file gives instance #{text.twice} twice, and not alike.")


def _refuse_gaps(text: StepText, name: str) -> None:
    """What a body stands on must be there: the reader crashes on some gaps, and drops faces at others."""
    if not text.missing:
        return
    rest = list(text.solids or text.of_type(_SURFACES, b""))
    seen = set(rest)
    while rest:
        number = rest.pop()
        for target in text.references[number]:
            if target not in text.instances:
                detail = f"Instance #{number} refers to #{target}, which the file does not hold."
                raise stepfaults.contradiction(name, detail)
            if target not in seen:
                seen.add(target)
                rest.append(target)


def _refuse_no_numbers(text: StepText, name: str) -> None:
    whole = b";".join(text.instances.values())
    capitals = whole.upper()
    if not any(word in capitals for word in _ODD) and not _LARGE.search(whole):
        return
    for number, instance in text.instances.items():
        odd = _NO_NUMBER.search(instance)
        if odd:
            raise stepfaults.contradiction(
                name, f"Instance #{number} holds {odd.group(1).decode()}, which is no number."
            )
        far = _POINT.match(instance) and next((m for m in _LARGE.findall(instance) if float(m) > FARTHEST), None)
        if far:
            raise stepfaults.contradiction(
                name, f"Instance #{number} is a point at {far.decode()}: no part is so large."
            )


def _refuse_rings(text: StepText, name: str) -> None:
    at = find_ring(_not_ringless(text))
    if at is not None:
        detail = f"Instance #{at} of the file refers to itself, directly or in a ring."
        raise stepfaults.contradiction(name, detail)


def _not_ringless(text: StepText) -> dict[int, tuple[int, ...]]:
    """The instances without those that refer, over others as well, to nothing in a ring: most files' all.

    What an instance refers to mostly comes after it, or before it; a few looks from the end find nearly all.
    """
    sound, rest = set(text.missing), list(text.references.items())
    for _ in range(LOOKS):
        left = []
        for item in reversed(rest):
            if sound.issuperset(item[1]):
                sound.add(item[0])
            else:
                left.append(item)
        rest = left[::-1]
    return dict(rest)


def find_ring(references: dict[int, tuple[int, ...]]) -> int | None:
    """The number of an instance on a ring of references, or None. Linear, without recursion."""
    done: set[int] = set()
    for start in references:
        if start in done:
            continue
        found = _walk(start, references, done)
        if found is not None:
            return found
    return None


def _walk(start: int, references: dict[int, tuple[int, ...]], done: set[int]) -> int | None:
    path: set[int] = {start}
    stack: list[tuple[int, Iterator[int]]] = [(start, iter(references[start]))]
    while stack:
        node, rest = stack[-1]
        target = next(rest, None)
        if target is None:
            stack.pop()
            path.discard(node)
            done.add(node)
        elif target in path:
            return target
        elif target not in done and target in references:
            path.add(target)
            stack.append((target, iter(references[target])))
    return None


_USAGE = re.compile(rb"^\s*NEXT_ASSEMBLY_USAGE_OCCURRENCE\s*\([^#]*#(\d+)\s*,\s*#(\d+)")


def _refuse_unfolding(text: StepText, name: str) -> None:
    """An assembly of assemblies can unfold to billions of parts from a few kilobytes, or contain itself."""
    children: dict[int, list[int]] = {}
    for instance in text.instances.values():
        usage = _USAGE.match(instance)
        if usage:
            children.setdefault(int(usage.group(1)), []).append(int(usage.group(2)))
    if find_ring({n: tuple(c) for n, c in children.items()}) is not None:
        raise stepfaults.contradiction(name, "An assembly of the file contains itself.")
    counts: dict[int, int] = {}
    largest = max((_unfolded(n, children, counts) for n in children), default=0)
    if largest > MAX_OCCURRENCES:
        detail = f"The assembly unfolds to more than {MAX_OCCURRENCES} components."
        raise stepfaults.too_large(name, detail)


def _unfolded(node: int, children: dict[int, list[int]], counts: dict[int, int]) -> int:
    """Occurrences below a node (ring-free; post-order without recursion)."""
    stack = [node]
    while stack:
        top = stack[-1]
        missing = [c for c in children.get(top, ()) if c not in counts]
        if missing:
            stack.extend(missing)
            continue
        counts[top] = 1 + sum(counts[c] for c in children.get(top, ()))
        stack.pop()
    return counts[node]


def _solid_units(text: StepText, name: str) -> tuple[float, ...]:
    """mm per unit in the contexts of the representations that hold a body; the body's own first."""
    contexts = text.contexts or text.of_type(_ASSIGNED, b"GLOBAL_UNIT")
    per_context = [_context_units(text, context) for context in contexts]
    if not per_context or any(not units for units in per_context):
        raise stepfaults.no_unit(name, "The file does not say in which length unit its geometry is.")
    if any(len(units) > 1 for units in per_context):
        raise stepfaults.no_unit(name, f"The file gives two length units at once: {_names(per_context[0])}.")
    factors = tuple(dict.fromkeys(units[0] for units in per_context))
    _refuse_odd_inch(text, name)
    return factors


def _context_units(text: StepText, context: int) -> tuple[float, ...]:
    instance = text.instances.get(context, b"")
    assigned = re.search(rb"GLOBAL_UNIT_ASSIGNED_CONTEXT\s*\(\s*\(([^)]*)\)", instance)
    if assigned is None:
        return ()
    units = (unit_factor(text, int(n)) for n in _REFERENCE.findall(assigned.group(1)))
    return tuple(dict.fromkeys(u for u in units if u is not None))


def unit_factor(text: StepText, number: int, depth: int = 0) -> float | None:
    """mm per length unit of an instance, None when it is no length unit."""
    instance = text.instances.get(number, b"")
    metre = _SI_UNIT.search(instance)
    if metre is not None:
        prefix = 1.0 if metre.group(1) is None else _SI_PREFIX.get(metre.group(1))
        return None if prefix is None else 1000.0 * prefix
    conversion = _CONVERSION.search(instance)
    if conversion is None or b"LENGTH_UNIT" not in instance or depth > 8:
        return None
    measure = _MEASURE.search(text.instances.get(int(conversion.group(2)), b""))
    base = unit_factor(text, int(measure.group(2)), depth + 1) if measure else None
    return None if measure is None or base is None else round(float(measure.group(1)) * base, 9)


def _refuse_without_angle(text: StepText, name: str) -> None:
    """A cone's half angle without a unit: the reader takes degrees for radians, or the other way round, in silence."""
    contexts = text.contexts
    assigned = {n for context in contexts for n in text.references[context]}
    if any(b"PLANE_ANGLE_UNIT" in text.instances.get(n, b"") for n in assigned) or not contexts:
        return
    if text.of_type(_CONE, b"CONICAL"):
        raise stepfaults.no_unit(name, "The file does not say in which unit the angles of its cones are.", "angle")


def _refuse_odd_inch(text: StepText, name: str) -> None:
    for number in text.of_type(_CONVERSION, b"CONVERSION_BASED_UNIT"):
        conversion = _CONVERSION.search(text.instances[number])
        factor = unit_factor(text, number)
        if conversion and factor and conversion.group(1).upper() in (b"INCH", b"IN") and abs(factor - INCH) > 1e-6:
            raise stepfaults.unit_suspect(name, f"The file calls its unit inch but makes it {factor:g} mm long.")


def _unit_name(factor: float) -> str:
    known = {1.0: "mm", 10.0: "cm", 1000.0: "m", INCH: "inch", 304.8: "foot", 1e-3: "micrometre"}
    return next((word for size, word in known.items() if abs(factor - size) < 1e-9 * size), f"{factor:g} mm")


def _names(factors: tuple[float, ...]) -> str:
    return ", ".join(_unit_name(f) for f in factors)
