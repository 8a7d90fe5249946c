"""Pictures against what their geometry says must be seen."""

import io
import math

import numpy as np
import pytest
from PIL import Image

from schemas.base import Frame
from tests.support.solids import box_mesh, stage_meshes
from worker.present.meshes import mesh
from worker.present.palette import MODEL, rgb
from worker.present.picture import Shown, faces_seen, paint, png, setup_picture, view_of

FRAME = Frame()


def pixels(data: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB")).astype(int)


def covered(data: bytes) -> float:
    """Share of the picture that is not paper."""
    return float((pixels(data) != 255).any(axis=2).mean())


def test_png_is_read_back_as_it_was_written() -> None:
    image = np.arange(5 * 7 * 3, dtype=np.uint8).reshape(5, 7, 3)
    assert (pixels(png(image)) == image).all()


def test_a_box_seen_from_above_covers_its_own_area() -> None:
    box = box_mesh((0, 0, 0), (60, 40, 10))
    view = view_of(FRAME, [box], 600, 600, azimuth=-90, elevation=90)
    share = 60 * 40 * view.pixels**2 / 600**2
    assert covered(paint([Shown(box, MODEL["stock"])], view)) == pytest.approx(share, abs=0.01)


def test_a_box_seen_aslant_covers_its_projected_area() -> None:
    # parallel projection of a box: sum over the axes of face area times |cosine to the direction of view|
    box = box_mesh((0, 0, 0), (60, 40, 30))
    view = view_of(FRAME, [box], 600, 600, azimuth=-58, elevation=28)
    a, e = math.radians(-58), math.radians(28)
    toward = (math.cos(a) * math.cos(e), math.sin(a) * math.cos(e), math.sin(e))
    area = 40 * 30 * abs(toward[0]) + 60 * 30 * abs(toward[1]) + 60 * 40 * abs(toward[2])
    assert covered(paint([Shown(box, MODEL["stock"])], view)) == pytest.approx(area * view.pixels**2 / 600**2, abs=0.01)


def test_small_and_large_triangles_give_the_same_picture() -> None:
    whole = box_mesh((0, 0, 0), (60, 40, 10))
    tiles = [box_mesh((x, y, 0), (x + 2, y + 2, 10)) for x in range(0, 60, 2) for y in range(0, 40, 2)]
    view = view_of(FRAME, [whole], 300, 300, azimuth=-90, elevation=90)
    # the tiles' own edges are drawn, so compare what is covered
    many = paint([Shown(t, MODEL["stock"]) for t in tiles], view)
    assert covered(many) == pytest.approx(covered(paint([Shown(whole, MODEL["stock"])], view)), abs=2e-3)


def test_a_step_between_two_level_faces_is_drawn() -> None:
    """Seen from above both faces look alike: only the jump in depth tells where one ends."""
    low, high = box_mesh((0, 0, 0), (60, 60, 10)), box_mesh((20, 0, 10), (40, 60, 30))
    vertices = np.concatenate([np.frombuffer(m.vertices, "<f4").reshape(-1, 3) for m in (low, high)])
    triangles = np.concatenate(
        [np.frombuffer(m.triangles, "<u4").reshape(-1, 3) + 8 * k for k, m in enumerate((low, high))]
    )
    both = mesh(vertices, triangles)
    view = view_of(FRAME, [both], 200, 200, azimuth=-90, elevation=90)
    row = pixels(paint([Shown(both, MODEL["stock"])], view))[100].astype(int).sum(axis=1)
    dark = np.flatnonzero(row < row[100] - 200) + 0.5
    assert dark.tolist() == pytest.approx([view.place((x, 30.0, 10.0))[0] for x in (20, 40)], abs=1.0)


def test_the_side_that_looks_here_is_seen() -> None:
    """Faces of a closed body point outwards: from above the top is nearest, not the underside through it."""
    box = box_mesh((0, 0, 0), (60, 40, 10))
    corners = np.frombuffer(box.vertices, "<f4").reshape(-1, 3)[np.frombuffer(box.triangles, "<u4").reshape(-1, 3)]
    seen = faces_seen(box, view_of(FRAME, [box], 60, 60, azimuth=-90, elevation=90))
    (side,) = set(np.unique(seen).tolist()) - {-1}
    assert (corners[np.frombuffer(box.faces, "<u4") == side][:, :, 2] == 10).all()


def test_what_stands_in_front_hides_what_is_behind() -> None:
    near, far = box_mesh((0, -20, 0), (40, -10, 40)), box_mesh((0, 10, 0), (40, 20, 40))
    view = view_of(FRAME, [near, far], 200, 200, azimuth=-90, elevation=0)
    front = pixels(paint([Shown(far, MODEL["part"]), Shown(near, MODEL["stock"])], view))[100, 100]
    red, _, blue = rgb(MODEL["stock"])
    assert front[0] > front[2]  # brass, not blue
    assert front[0] / front[2] == pytest.approx(red / blue, rel=0.05)


def test_glass_lets_the_stock_show() -> None:
    stock, jaw = box_mesh((0, 0, 0), (40, 40, 40)), box_mesh((0, -20, 0), (40, -5, 40))
    view = view_of(FRAME, [stock, jaw], 200, 200, azimuth=-90, elevation=0)
    seen = pixels(paint([Shown(stock, MODEL["stock"]), Shown(jaw, MODEL["workholding"], 0.4)], view))[100, 100]
    alone = pixels(paint([Shown(stock, MODEL["stock"])], view))[100, 100]
    wall = pixels(paint([Shown(jaw, MODEL["workholding"])], view))[100, 100]
    assert seen == pytest.approx(0.6 * alone + 0.4 * wall, abs=2)


def test_points_fall_where_they_are_drawn() -> None:
    box = box_mesh((0, 0, 0), (60, 40, 10))
    view = view_of(FRAME, [box], 600, 400, azimuth=-90, elevation=90)
    assert view.place((30, 20, 5)) == pytest.approx((300, 200))
    left, bottom = view.place((0, 0, 0))
    assert (left, bottom) == pytest.approx((300 - 30 * view.pixels, 200 + 20 * view.pixels))


def test_the_same_setup_gives_the_same_bytes() -> None:
    stage = stage_meshes()[0]
    frame = Frame(location=(0, 0, 30))
    assert setup_picture(stage, frame, 300, 200) == setup_picture(stage, frame, 300, 200)
