"""Is a body sound? The kernel's own check is not enough: shells and their nesting are checked as well."""

from __future__ import annotations

from OCP.BOPAlgo import BOPAlgo_ArgumentAnalyzer
from OCP.BRep import BRep_Builder, BRep_Tool
from OCP.BRepClass3d import BRepClass3d_SolidClassifier
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from OCP.TopAbs import TopAbs_State
from OCP.TopoDS import TopoDS_Shape, TopoDS_Shell, TopoDS_Solid

from schemas.tolerances import COINCIDENT
from worker.kernel.accepted import kernel_accepts
from worker.kernel.measure import volume
from worker.kernel.shape import Body, is_empty, shells, solids, vertices


def faults(body: Body, thorough: bool = True) -> tuple[str, ...]:
    """What is wrong with the body, in words; empty when it is sound. ``thorough`` adds the kernel's own check."""
    found = [] if not thorough or is_empty(body) or kernel_accepts(body.wrapped) else ["the kernel's check rejects it"]
    for number, solid in enumerate(solids(body), start=1):
        found += [f"solid {number}: {fault}" for fault in shell_faults(solid)]
    return tuple(found)


def crosses_itself(body: Body) -> bool:
    """True when faces of the body cut through one another. Takes 0.2 s at 60 faces, 30 s at 1000: ask only once
    something has failed.
    """
    search = BOPAlgo_ArgumentAnalyzer()
    search.SetShape1(body.wrapped)
    search.ArgumentTypeMode = search.SmallEdgeMode = search.RebuildFaceMode = search.TangentMode = False
    search.MergeVertexMode = search.MergeEdgeMode = search.ContinuityMode = search.CurveOnSurfaceMode = False
    search.SelfInterMode = True
    search.Perform()
    return bool(search.HasFaulty())


def is_sound(body: Body) -> bool:
    """True for a body that booleans may rely on."""
    return not faults(body)


def shell_faults(solid: Body, weighed: bool = False) -> tuple[str, ...]:
    """Open shells, an inside-out shell, or several shells that are not one skin with voids within it.

    ``weighed``: somebody asks for the solid's volume anyway. Then its sign says whether a single skin is inside out.
    """
    skins = shells(solid.wrapped)
    if not skins:
        return ("it has no shell",)
    if any(not BRep_Tool.IsClosed_s(skin) for skin in skins):
        return ("a shell is open",)
    if weighed and len(skins) == 1:
        return () if volume(solid) > 0 else ("it is inside out",)
    outer = [skin for skin in skins if not _holds_infinity(skin)]
    if not outer:
        return ("it is inside out",)
    if len(outer) > 1:
        return (f"it has {len(outer)} outer shells",)
    hollow = [skin for skin in skins if not skin.IsSame(outer[0])]
    return () if all(_inside(outer[0], skin) for skin in hollow) else ("a void lies outside its outer shell",)


def _holds_infinity(skin: TopoDS_Shell) -> bool:
    """True when the metal side of the shell is outside: a void, or a skin turned inside out."""
    classifier = BRepClass3d_SolidClassifier(_full(skin))
    classifier.PerformInfinitePoint(COINCIDENT)
    return bool(classifier.State() == TopAbs_State.TopAbs_IN)


def signed_volume(shape: TopoDS_Shape) -> float:
    """Volume by the orientation of the faces: negative for a void or an inside-out shell."""
    total = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, total)
    return float(total.Mass())


def _full(skin: TopoDS_Shell) -> TopoDS_Solid:
    solid = TopoDS_Solid()
    builder = BRep_Builder()
    builder.MakeSolid(solid)
    builder.Add(solid, skin)
    return solid


def _inside(outer: TopoDS_Shell, inner: TopoDS_Shell) -> bool:
    classifier = BRepClass3d_SolidClassifier(_full(outer))
    for vertex in vertices(inner):
        classifier.Perform(BRep_Tool.Pnt_s(vertex), COINCIDENT)
        if classifier.State() == TopAbs_State.TopAbs_OUT:
            return False
    return True
