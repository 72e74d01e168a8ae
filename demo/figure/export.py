"""The files of the generated figure: one binary STL per part, and the truth as JSON."""

import json
from pathlib import Path

import numpy as np
from manifold3d import Manifold

from demo.figure.truth import Joint, as_record


def write_figure(folder: Path, parts: dict[str, Manifold], joints: list[Joint], materials: dict[str, str]) -> None:
    """Write ``parts/*.stl`` and ``truth.json`` into `folder`; STL files of an earlier run are replaced."""
    part_folder = folder / "parts"
    part_folder.mkdir(parents=True, exist_ok=True)
    for stale in part_folder.glob("*.stl"):
        stale.unlink()
    for name, solid in sorted(parts.items()):
        (part_folder / f"{name}.stl").write_bytes(stl_bytes(name, solid))
    truth = {
        "units": "mm",
        "parts": [
            {"file": f"{name}.stl", "material": materials[name], "triangles": solid.num_tri()}
            for name, solid in sorted(parts.items())
        ],
        "joints": [as_record(joint) for joint in joints],
    }
    (folder / "truth.json").write_text(json.dumps(truth, indent=1) + "\n", encoding="utf-8")


def stl_bytes(name: str, solid: Manifold) -> bytes:
    """Return a solid as binary STL, its name in the header."""
    mesh = solid.to_mesh64()
    corners = np.asarray(mesh.vert_properties)[:, :3][np.asarray(mesh.tri_verts).astype(np.int64)]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    record = np.zeros(len(corners), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
    record["normal"], record["corners"] = normals, corners
    return name.encode("ascii")[:80].ljust(80) + np.uint32(len(corners)).tobytes() + record.tobytes()
