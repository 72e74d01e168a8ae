"""The figure that is attacked: two plates with two bolts, the smallest with a joint, a step and a hold."""

from __future__ import annotations

from pathlib import Path

import trimesh
from manifold3d import Manifold

from tests.specimens import box, rod, two_boxes


def write_parts(folder: Path) -> Path:
    """The two plates as STL files."""
    for name, body in two_boxes().solids.items():
        write_part(folder / f"{name}.stl", body)
    return folder


def write_recut(folder: Path) -> Path:
    """The same with one corner of the upper plate cut off."""
    solids = two_boxes().solids
    solids["B"] -= rod((200, 100, 15), (0, 0, 1), 20.0, 20.0)
    for name, body in solids.items():
        write_part(folder / f"{name}.stl", body)
    return folder


def write_part(path: Path, body: Manifold) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    mesh = body.to_mesh64()
    trimesh.Trimesh(mesh.vert_properties[:, :3], mesh.tri_verts, process=False).export(path)


def block() -> Manifold:
    """A plain box that stands beside the plates and touches neither."""
    return box((300, 0, 0), (340, 40, 10))
