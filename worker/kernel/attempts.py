"""The ladder of a boolean: plain first, checked, then one careful way after the other.

Nothing here trusts the kernel's word: shells, bounds of the volume and the inner points of faces judge each result.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

from OCP.BRepAlgoAPI import (
    BRepAlgoAPI_BooleanOperation,
    BRepAlgoAPI_Common,
    BRepAlgoAPI_Cut,
    BRepAlgoAPI_Fuse,
)

from schemas.base import scale
from schemas.tolerances import ASIDE, BALANCE, FUZZY
from worker.kernel.accepted import kernel_accepts
from worker.kernel.errors import KernelError, kernel_step
from worker.kernel.history import Origin, origins
from worker.kernel.measure import is_sum, volume, volumes_alike
from worker.kernel.merge import unwound_traced, wound_faces
from worker.kernel.probe import probe_common, probe_cut
from worker.kernel.shape import (
    Body,
    compound,
    compound_of,
    copied,
    face_index,
    faces,
    is_empty,
    list_of,
    solids,
    translate_body,
)
from worker.kernel.validity import shell_faults

PLAIN = "plain"
REJECTED = "the kernel's check rejects it"
_ASKEW = (0.594, -0.454, 0.664)
"""Direction in which a tool is moved aside: along no wall that a part is likely to have."""


Kind = type[BRepAlgoAPI_BooleanOperation]


@dataclass(frozen=True, slots=True)
class Raw:
    """An operation's own result before joining faces, with the arguments it was run on."""

    arguments: tuple[Body, ...]
    body: Body
    origin: tuple[tuple[Origin, ...], ...]
    piece_of: tuple[tuple[int, ...], ...] = ()
    method: str = "plain"


def resolved(kind: Kind, step: str, arguments: tuple[Body, ...]) -> Raw:
    """All tools at once; where that fails, one by one; where one alone fails, that one a hair aside."""
    try:
        return attempts(kind, step, arguments)
    except KernelError:
        if len(arguments) > 2:
            return _one_by_one(kind, step, arguments)
        return _aside(kind, step, arguments)


def _one_by_one(kind: Kind, step: str, arguments: tuple[Body, ...]) -> Raw:
    """Cut tool after tool, or collect what each has in common with what the earlier ones left."""
    rest = Raw(arguments, arguments[0], tuple(((0, i),) for i in range(len(faces(arguments[0])))))
    taken: list[Raw] = []
    methods: dict[str, None] = {}
    for number, tool in enumerate(arguments[1:], start=1):
        if is_empty(tool) or is_empty(rest.body):
            continue
        pair = (rest.body, tool)
        if kind is BRepAlgoAPI_Common:
            taken.append(_traced_back(resolved(kind, step, pair), rest, number))
            methods[taken[-1].method] = None
        rest = _traced_back(resolved(BRepAlgoAPI_Cut, step, pair), rest, number)
        methods[rest.method] = None
    if kind is BRepAlgoAPI_Common:
        origin = tuple(source for raw in taken for source in raw.origin)
        body = Body(compound_of(solid.wrapped for raw in taken for solid in solids(raw.body)))
        rest = Raw(arguments, body, origin)
    return replace(rest, arguments=arguments, method=f"one by one, {', '.join(methods)}")


def _traced_back(raw: Raw, before: Raw, number: int) -> Raw:
    """The result with origins in the first stock and in tool ``number`` instead of in the two that were combined."""
    named = undivided(raw)

    def back(source: Origin) -> tuple[Origin, ...]:
        return before.origin[source[1]] if source[0] == 0 else ((number, source[1]),)

    return replace(raw, origin=tuple(tuple(o for s in sources for o in back(s)) for sources in named), piece_of=())


def _aside(kind: Kind, step: str, arguments: tuple[Body, ...]) -> Raw:
    """The same with the tool moved a hair."""
    moved = (arguments[0], *(aside(tool) for tool in arguments[1:]))
    raw = attempts(kind, step, moved)
    return replace(raw, method=f"tool moved by {ASIDE:g} mm")


def aside(tool: Body) -> Body:
    """The tool moved by less than any tolerance of the product: walls that touch no longer do."""
    return translate_body(tool, scale(_ASKEW, ASIDE))


def attempts(kind: Kind, step: str, arguments: Sequence[Body], once: bool = False, balance: float = BALANCE) -> Raw:
    """The first attempt that stands its checks: divided faces where these wind, plain, copies, fuzzy, order. ``once``:
    none after the plain one; ``balance``: the share of the stock that may go astray.

    Where only the kernel's own check stands against a result, the balance of cut and common decides.
    """
    complaints, doubted = [], None
    for method, attempt in _ways(kind, step, tuple(arguments)):
        try:
            raw = attempt()
            fault = _first_fault(kind, raw, balance)
        except KernelError as error:
            fault = error.detail
        if not fault:
            return replace(raw, method=method)
        if fault == REJECTED and doubted is None:
            doubted = (raw, method)
        complaints.append(f"{method}: {fault}")
        if once and method == PLAIN:
            break
    if doubted is not None and _balances(kind, doubted[0]):
        return replace(doubted[0], method=f"{doubted[1]}, by balance against the kernel's check")
    raise KernelError(step, "; ".join(complaints))


def _balances(kind: Kind, raw: Raw) -> bool:
    """True when what was cut and what is common add up to the stock."""
    opposite = {BRepAlgoAPI_Cut: BRepAlgoAPI_Common, BRepAlgoAPI_Common: BRepAlgoAPI_Cut}.get(kind)
    if opposite is None:
        return False
    rest = _run(opposite, "balance", raw.arguments).body
    return not any(map(shell_faults, solids(rest))) and is_sum(raw.arguments[0], (raw.body, rest))


def _ways(kind: Kind, step: str, arguments: tuple[Body, ...]) -> Iterator[tuple[str, Callable[[], Raw]]]:
    if any(wound_faces(body) for body in arguments):
        yield "faces divided", partial(_run_divided, kind, step, arguments)
    yield PLAIN, partial(_run, kind, step, arguments)
    yield "copies", partial(_run_copies, kind, step, arguments)
    for fuzzy in (FUZZY, 10.0 * FUZZY):
        yield f"fuzzy {fuzzy:g}", partial(_run, kind, step, arguments, fuzzy=fuzzy)
    yield "tools in reverse order", partial(_run, kind, step, arguments, backwards=True)


def _run(kind: Kind, step: str, arguments: tuple[Body, ...], fuzzy: float = 0.0, backwards: bool = False) -> Raw:
    operation = kind()
    tools = [solid.wrapped for tool in arguments[1:] for solid in solids(tool)]
    operation.SetArguments(list_of(solid.wrapped for solid in solids(arguments[0])))
    operation.SetTools(list_of(reversed(tools) if backwards else tools))
    operation.SetRunParallel(False)
    operation.SetNonDestructive(True)
    operation.SetFuzzyValue(fuzzy)
    with kernel_step(step):
        operation.Build()
    if not operation.IsDone():
        raise KernelError(step, "the kernel reports an error")
    result = compound([Body(operation.Shape())])
    return Raw(arguments, result, origins(operation, arguments, result))


def _run_copies(kind: Kind, step: str, arguments: tuple[Body, ...]) -> Raw:
    """The operation on copies, which carry nothing of earlier operations; faces keep their order."""
    return _run(kind, step, tuple(copied(body) for body in arguments))


def _run_divided(kind: Kind, step: str, arguments: tuple[Body, ...]) -> Raw:
    """The operation on bodies whose overwound faces were divided."""
    divided = [unwound_traced(body) for body in arguments]
    raw = _run(kind, step, tuple(each.body for each in divided))
    return replace(raw, piece_of=tuple(each.piece_of for each in divided))


def _first_fault(kind: Kind, raw: Raw, balance: float) -> str:
    found = [fault for solid in solids(raw.body) for fault in shell_faults(solid)]
    fault = found[0] if found else _FAULTS[kind](raw, balance)
    return fault or ("" if _accepted(raw) else REJECTED)


def _accepted(raw: Raw) -> bool:
    """The kernel's own check, except for faces that an argument brought along unchanged."""
    if is_empty(raw.body) or kernel_accepts(raw.body.wrapped):
        return True
    brought = [face_index(body) for body in raw.arguments]
    new = [face for face in faces(raw.body) if not any(known.Contains(face) for known in brought)]
    return all(map(kernel_accepts, new)) and not all(kernel_accepts(body.wrapped) for body in raw.arguments)


def undivided(raw: Raw) -> tuple[tuple[Origin, ...], ...]:
    """The origins in terms of the faces as they were before any was divided."""
    if not raw.piece_of:
        return raw.origin
    return tuple(tuple((n, raw.piece_of[n][i]) for n, i in sources) for sources in raw.origin)


def _cut_fault(raw: Raw, balance: float) -> str:
    told = list(map(volume, (*raw.arguments, raw.body)))
    if _no_cut(balance, *told) and _no_cut(balance, *volumes_alike((*raw.arguments, raw.body))):
        return f"the volume went from {told[0]:.9g} to {told[-1]:.9g} mm3"
    return probe_cut(raw.arguments, raw.body, raw.origin)


def _no_cut(balance: float, before: float, *tools_and_after: float) -> bool:
    """Whether no cut by tools of such volumes leaves so much, or so little."""
    *tools, after = tools_and_after
    return after > before * (1.0 + balance) or after < before * (1.0 - balance) - sum(tools)


def _common_fault(raw: Raw, balance: float) -> str:
    told = list(map(volume, (*raw.arguments, raw.body)))
    if _no_common(balance, *told) and _no_common(balance, *volumes_alike((*raw.arguments, raw.body))):
        return f"the common volume {told[-1]:.9g} mm3 is impossible"
    return probe_common(raw.arguments, raw.body, raw.origin)


def _no_common(balance: float, body: float, *tools_and_shared: float) -> bool:
    """Whether no body has so much in common with tools of such volumes."""
    *tools, shared = tools_and_shared
    return shared > min(body, sum(tools)) * (1.0 + balance)


def _fuse_fault(raw: Raw, balance: float) -> str:
    parts, joined = [volume(body) for body in raw.arguments], volume(raw.body)
    if not max(parts) * (1.0 - balance) <= joined <= sum(parts) * (1.0 + balance):
        return f"the joined volume {joined:.9g} mm3 is impossible"
    return ""


_FAULTS: dict[Kind, Callable[[Raw, float], str]] = {
    BRepAlgoAPI_Cut: _cut_fault,
    BRepAlgoAPI_Common: _common_fault,
    BRepAlgoAPI_Fuse: _fuse_fault,
}
