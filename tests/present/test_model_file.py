"""The stage model as others read it: glTF 2.0 (ISO/IEC 12113), read back by a reference library."""

from __future__ import annotations

import io
import json
import struct

import numpy as np
import pytest
import trimesh

from worker.kernel import primitives
from worker.kernel.mesh import triangulate
from worker.present.meshes import MeshBody, StageMesh, mesh
from worker.present.model_file import stage_glb


def stage() -> StageMesh:
    stock = primitives.box((0.0, 0.0, 0.0), (40.0, 30.0, 20.0))
    jaw = primitives.box((-10.0, -20.0, -5.0), (50.0, 0.0, 8.0))
    bodies = (
        MeshBody("as_is", mesh(*triangulate(stock)[:2])),
        MeshBody("workholding", mesh(*triangulate(jaw)[:2]), name="fixed jaw", role="jaw_fixed"),
    )
    return StageMesh("S1", bodies)


def test_the_file_is_gltf_2_in_metres_with_the_parts_z_up() -> None:
    data = stage_glb(stage())
    magic, version, size = struct.unpack("<4sII", data[:12])
    assert (magic, version, size) == (b"glTF", 2, len(data))
    length = struct.unpack("<I", data[12:16])[0]
    document = json.loads(data[20 : 20 + length])
    assert {n["name"] for n in document["nodes"]} >= {"00 as_is", "01 workholding fixed jaw"}
    scene = trimesh.load(io.BytesIO(data), file_type="glb")
    volumes = sorted(m.volume for m in scene.dump())
    assert volumes == pytest.approx([60 * 20 * 13 * 1e-9, 40 * 30 * 20 * 1e-9], rel=1e-6)  # closed form, m3
    assert np.allclose(scene.bounds, [[-0.010, -0.005, -0.030], [0.050, 0.020, 0.020]], atol=1e-7)  # y up, z = -y


def test_the_same_stage_gives_the_same_bytes() -> None:
    assert stage_glb(stage()) == stage_glb(stage())
