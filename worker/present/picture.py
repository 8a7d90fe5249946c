"""Still pictures of bodies: parallel projection, lit faces, drawn edges. Plain arrays, the same bytes everywhere."""

from __future__ import annotations

import math
import struct
import zlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from schemas.base import Frame, Vec3
from worker.present.meshes import Mesh, StageMesh
from worker.present.palette import MODEL, rgb

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]
OVERSAMPLE = 2
"""Each pixel is drawn as 2 x 2 and averaged."""
SMALL = 24
"""Triangles smaller than this many pixels are drawn many at a time."""
CHUNK = 400_000
"""Samples worked on at once."""
EDGE_ON = 1e-6
"""Twice the area in pixels below which a triangle is seen on edge."""
INSIDE = 1e-9
"""A pixel's middle on an edge belongs to both triangles."""
PACKED = 6
"""How hard pictures are packed: the hardest takes three times as long and saves a few hundredths."""
INK = (29, 39, 49)
PAPER = (255, 255, 255)
AZIMUTH, ELEVATION = -58.0, 28.0
"""Usual direction of view in the setup's axes, degrees."""


@dataclass(frozen=True)
class View:
    """A parallel projection onto ``width`` x ``height`` pixels; ``pixels`` a mm, ``middle`` (mm) in the middle."""

    right: Vec3
    up: Vec3
    toward: Vec3
    middle: Vec3
    pixels: float
    width: int
    height: int

    def place(self, point: Vec3) -> tuple[float, float]:
        """Where a point of the part's frame falls: pixels from the left, pixels from the top."""
        d = np.subtract(point, self.middle)
        x, y = float(np.dot(d, self.right)), float(np.dot(d, self.up))
        return self.width / 2 + x * self.pixels, self.height / 2 - y * self.pixels


@dataclass(frozen=True)
class Shown:
    """A mesh as it is painted: colour, and how much of it one sees (1 hides what is behind)."""

    mesh: Mesh
    colour: str
    cover: float = 1.0


def view_of(
    frame: Frame,
    meshes: Sequence[Mesh],
    width: int,
    height: int,
    azimuth: float = AZIMUTH,
    elevation: float = ELEVATION,
    fill: float = 0.94,
) -> View:
    """The view of some meshes from a direction given in the frame's axes (degrees) that shows all of them.

    They fill this share of the picture, the rest is margin.
    """
    a, e = math.radians(azimuth), math.radians(elevation)
    right = frame.direction_to_world((-math.sin(a), math.cos(a), 0.0))
    toward = frame.direction_to_world((math.cos(a) * math.cos(e), math.sin(a) * math.cos(e), math.sin(e)))
    up = tuple(float(c) for c in np.cross(toward, right))
    at = np.concatenate([_vertices(m) for m in meshes])
    axes = np.array([right, up, toward])
    seen = at @ axes.T
    low, high = seen.min(axis=0), seen.max(axis=0)
    extent = np.maximum(high - low, 1e-9)
    pixels = float(min(width * fill / extent[0], height * fill / extent[1]))
    middle = axes.T @ ((low + high) / 2)
    return View(right, up, toward, tuple(float(c) for c in middle), pixels, width, height)  # type: ignore[arg-type]


def stage_shown(stage: StageMesh, stock: str = "as_is") -> list[Shown]:
    """Stock and workholding of a stage; the workholding is seen through."""
    bodies = [b for b in stage.bodies if b.kind in (stock, "workholding") and b.mesh.triangle_count]
    return [
        Shown(b.mesh, MODEL["workholding"], 0.42) if b.kind == "workholding" else Shown(b.mesh, MODEL["stock"])
        for b in bodies
    ]


def paint(shown: Sequence[Shown], view: View) -> bytes:
    """The bodies as PNG: those that hide first, then the others over them."""
    big = View(view.right, view.up, view.toward, view.middle, view.pixels * OVERSAMPLE,
               view.width * OVERSAMPLE, view.height * OVERSAMPLE)  # fmt: skip
    canvas = np.full((big.height, big.width, 3), PAPER, np.float32)
    depth = np.full((big.height, big.width), -np.inf)
    for one in sorted(shown, key=lambda s: s.cover < 1):
        layer = _raster(one, big)
        nearer = layer.depth > depth[layer.window]
        under, over = canvas[layer.window], layer.colours[layer.owner[nearer]]
        if one.cover >= 1:
            under[nearer] = over
            np.maximum(depth[layer.window], layer.depth, out=depth[layer.window])
        else:
            behind = under[nearer]
            under[nearer] = behind + np.float32(one.cover) * (over - behind)
    return png(np.rint(_averaged(canvas)).clip(0, 255).astype(np.uint8))


Paint = Callable[[Sequence[Shown], View], bytes]
"""What stands in for :func:`paint` where pictures are kept."""


def setup_picture(stage: StageMesh, frame: Frame, width: int = 900, height: int = 620, *, by: Paint = paint) -> bytes:
    """The as-is stock of a setup in its workholding, as PNG. ``frame`` is the setup's, in mm."""
    shown = stage_shown(stage)
    if not shown:
        return png(np.full((height, width, 3), 255, np.uint8))
    return by(shown, view_of(frame, [s.mesh for s in shown], width, height))


def _averaged(canvas: Singles) -> Singles:
    """The mean of each pixel's samples."""
    offsets = range(OVERSAMPLE)
    samples = [canvas[row::OVERSAMPLE, column::OVERSAMPLE] for row in offsets for column in offsets]
    total = samples[0].copy()
    for sample in samples[1:]:
        total += sample
    return total / np.float32(len(samples))


@dataclass(frozen=True)
class _Layer:
    """The part of the picture that a body covers: where it lies, depth there (mm towards the viewer), and which of
    the colours."""

    window: tuple[slice, slice]
    depth: Floats
    owner: Ints
    colours: Singles


def faces_seen(mesh: Mesh, view: View) -> Ints:
    """The face of the part that is seen at each pixel (height, width); -1 where none is. ``mesh`` has face numbers."""
    corners = _corners(mesh, view)
    faces = np.frombuffer(mesh.faces, "<u4").astype(np.int64)[_look_here(corners)]
    window, _, owner = _nearest(corners[_look_here(corners)], view)
    found = np.full((view.height, view.width), -1)
    found[window] = np.where(owner < 0, -1, faces[owner])
    return found


def _raster(shown: Shown, view: View) -> _Layer:
    """The nearest surface of one body at each pixel, lit, with its edges drawn."""
    corners = _corners(shown.mesh, view)
    corners = corners[_look_here(corners)]
    window, depth, owner = _nearest(corners, view)
    normals = _normals(corners, view)
    light = 0.56 + 0.38 * np.clip(normals @ _unit((-0.42, 0.58, 0.7)), 0, None) + 0.12 * normals[:, 2]
    lit = np.clip(light[:, None] * np.array(rgb(shown.colour)), 0, 255)
    owner[_edges(depth, owner, normals, view)] = len(lit)
    return _Layer(window, depth, owner, np.vstack([lit, INK]).astype(np.float32))


def _nearest(corners: Floats, view: View) -> tuple[tuple[slice, slice], Floats, Ints]:
    """The window that triangles cover, and in it the depth and the number of the nearest one (-1 for none)."""
    low, high = _spans(corners, view)
    first, last = low.min(axis=0), high.max(axis=0) + 1
    corners = corners - np.array([first[0], first[1], 0.0])
    low, high = low - first, high - first
    shape = (int(last[1] - first[1]), int(last[0] - first[0]))
    depth, owner = np.full(shape, -np.inf), np.full(shape, -1)
    large = (high - low).max(axis=1) >= SMALL
    slopes = _slopes(corners)
    for number in np.flatnonzero(large):
        _draw(corners[number, 0], slopes[number], int(number), (low[number], high[number]), depth, owner)
    _scatter(corners, slopes, np.flatnonzero(~large), low, depth, owner)
    return (slice(first[1], last[1]), slice(first[0], last[0])), depth, owner


def _corners(mesh: Mesh, view: View) -> Floats:
    """The triangles on the picture: (M, 3, 3) of x and y in pixels and depth in mm."""
    d = _vertices(mesh) - np.array(view.middle)
    seen = np.stack(
        [
            view.width / 2 + d @ np.array(view.right) * view.pixels,
            view.height / 2 - d @ np.array(view.up) * view.pixels,
            d @ np.array(view.toward),
        ],
        axis=1,
    )
    triangles = np.frombuffer(mesh.triangles, "<u4").reshape(-1, 3)
    return np.asarray(seen[triangles], dtype=np.float64)


def _look_here(corners: Floats) -> NDArray[np.bool_]:
    """Which triangles of a closed body look at the viewer: the others are hidden, and half of all work. Those that are
    seen on edge cover nothing."""
    across, down = corners[:, 1:, 0] - corners[:, :1, 0], corners[:, 1:, 1] - corners[:, :1, 1]
    area = across[:, 0] * down[:, 1] - down[:, 0] * across[:, 1]
    return np.asarray(-area > EDGE_ON)  # the picture counts its rows downwards


def _spans(corners: Floats, view: View) -> tuple[Ints, Ints]:
    """First and last pixel of each triangle, across and down, within the picture."""
    edge = [view.width - 1, view.height - 1]
    low = np.clip(np.floor(corners[:, :, :2].min(axis=1)).astype(np.int64), 0, edge)
    high = np.clip(np.ceil(corners[:, :, :2].max(axis=1)).astype(np.int64), 0, edge)
    return low, np.maximum(high, low)


def _slopes(corners: Floats) -> Floats:
    """How the second and third corner's shares and the depth grow a pixel across and down: (M, 3, 2)."""
    b, c = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    area = b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0]
    second = np.stack([c[:, 1], -c[:, 0]], axis=1) / area[:, None]
    third = np.stack([-b[:, 1], b[:, 0]], axis=1) / area[:, None]
    return np.stack([second, third, second * b[:, 2:] + third * c[:, 2:]], axis=1)


def _inside(second: Floats, third: Floats) -> NDArray[np.bool_]:
    """Where a point's shares of the second and third corner lie in the triangle."""
    return np.asarray((second >= -INSIDE) & (third >= -INSIDE) & (second + third <= 1.0 + INSIDE))


def _draw(first: Floats, slopes: Floats, number: int, ends: tuple[Ints, Ints], depth: Floats, owner: Ints) -> None:
    """One large triangle into the nearest-surface buffers; ``first`` is its first corner."""
    low, high = ends
    window = (slice(low[1], high[1] + 1), slice(low[0], high[0] + 1))
    across = np.arange(low[0], high[0] + 1) + 0.5 - first[0]
    down = np.arange(low[1], high[1] + 1) + 0.5 - first[1]
    second, third, rise = (across * x + (down * y)[:, None] for x, y in slopes)
    near = first[2] + rise
    hit = _inside(second, third) & (near > depth[window])
    depth[window][hit] = near[hit]
    owner[window][hit] = number


def _scatter(corners: Floats, slopes: Floats, members: Ints, low: Ints, depth: Floats, owner: Ints) -> None:
    """Many small triangles at once, each over its own square of pixels; the nearest is written last."""
    height, width = depth.shape
    step = np.arange(SMALL + 1)
    for start in range(0, len(members), max(1, CHUNK // SMALL**2)):
        some = members[start : start + max(1, CHUNK // SMALL**2)]
        x, y = low[some, 0, None] + step, low[some, 1, None] + step
        across, down = (at + 0.5 - corners[some, 0, i, None] for i, at in ((0, x), (1, y)))
        second, third, rise = (
            slopes[some, k, 0, None, None] * across[:, None, :] + (slopes[some, k, 1, None] * down)[:, :, None]
            for k in range(3)
        )
        hit = _inside(second, third) & (x < width)[:, None, :] & (y < height)[:, :, None]
        which, row, column = np.nonzero(hit)
        near, number = corners[some[which], 0, 2] + rise[hit], some[which]
        order = np.lexsort((number, near))
        rows, columns, near, number = y[which, row][order], x[which, column][order], near[order], number[order]
        nearer = near > depth[rows, columns]
        depth[rows[nearer], columns[nearer]] = near[nearer]
        owner[rows[nearer], columns[nearer]] = number[nearer]


def _normals(corners: Floats, view: View) -> Floats:
    """Unit normals towards the viewer, in the picture's axes (x right, y up, z towards)."""
    flipped = corners * np.array([1.0, -1.0, view.pixels])
    cross = np.cross(flipped[:, 1] - flipped[:, 0], flipped[:, 2] - flipped[:, 0])
    length = np.linalg.norm(cross, axis=1, keepdims=True)
    normal = cross / np.where(length > 0, length, 1.0)
    return np.asarray(np.where(normal[:, 2:] < 0, -normal, normal))


def _edges(depth: Floats, owner: Ints, normals: Floats, view: View) -> NDArray[np.bool_]:
    """Pixels where the body begins or ends, or turns by more than about 24 degrees."""
    found = np.zeros(depth.size, bool)
    depths, owners = depth.ravel(), owner.ravel()
    for first, second in _beside(owner):
        begins, ends = owners[first] < 0, owners[second] < 0
        one, other = normals[owners[first]], normals[owners[second]]  # -1: any, overruled below
        slope = 6.0 / view.pixels / np.maximum(np.minimum(one[:, 2], other[:, 2]), 0.12)
        with np.errstate(invalid="ignore"):
            jump = np.abs(depths[first] - depths[second]) > slope
        hit = begins | ends | jump | ((one * other).sum(axis=1) < 0.91)
        found[first[hit & ~begins]] = True
        found[second[hit & ~ends]] = True
    return found.reshape(depth.shape)


def _beside(owner: Ints) -> Iterator[tuple[Ints, Ints]]:
    """Neighbouring pixels that different triangles own, numbered in rows: one below the other, one beside the other."""
    number = np.arange(owner.size).reshape(owner.shape)
    down, across = owner[:-1] != owner[1:], owner[:, :-1] != owner[:, 1:]
    yield number[:-1][down], number[1:][down]
    yield number[:, :-1][across], number[:, 1:][across]


def _vertices(mesh: Mesh) -> Floats:
    return np.frombuffer(mesh.vertices, "<f4").reshape(-1, 3).astype(np.float64)


def _unit(v: Vec3) -> Floats:
    return np.asarray(np.array(v) / np.linalg.norm(v))


def png(pixels: NDArray[np.uint8]) -> bytes:
    """RGB pixels (height, width, 3) as PNG (ISO/IEC 15948), with nothing in it but the picture."""
    height, width = pixels.shape[:2]
    rows = np.zeros((height, 1 + width * 3), np.uint8)
    rows[:, 1:] = pixels.reshape(height, width * 3)
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    chunks = ((b"IHDR", head), (b"IDAT", zlib.compress(rows.tobytes(), PACKED)), (b"IEND", b""))
    body = b"".join(
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data)) for kind, data in chunks
    )
    return b"\x89PNG\r\n\x1a\n" + body
