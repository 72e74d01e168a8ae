"""A tall shell with a rough dense skin, cut into any number of parts of equal density, written as STL files."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from manifold3d import Manifold, OpType

RADIUS_MM, TALL_MM, WALL_MM, FLANGE_MM, THICK_MM, HOLE_MM = 300.0, 200.0, 6.0, 36.0, 8.0, 9.0


def write_tower(folder: Path, levels: int, edge_mm: float) -> tuple[int, int]:
    """Write `4 * levels` parts with skin edges of the given length; returns parts and triangles."""
    high = levels * TALL_MM
    skin = _rough_bar(RADIUS_MM, high, edge_mm)
    cavity = _rough_bar(RADIUS_MM - WALL_MM, high, edge_mm).translate((0, 0, 0))
    triangles = 0
    for level in range(levels):
        low = level * TALL_MM
        band = Manifold.cube((4 * RADIUS_MM, 4 * RADIUS_MM, TALL_MM), True).translate((0, 0, low + TALL_MM / 2))
        outer, inner = skin ^ band, cavity ^ band
        keep = _flanges(low, level > 0, level < levels - 1)
        holes = _holes(low, level > 0, level < levels - 1)
        for quarter in range(4):
            cell = Manifold.cube((900, 900, TALL_MM)).rotate((0, 0, 90.0 * quarter)).translate((0, 0, low))
            slab = (Manifold.cube((900, THICK_MM, TALL_MM)) + Manifold.cube((THICK_MM, 900, TALL_MM))).rotate(
                (0, 0, 90.0 * quarter)
            )
            slab = slab.translate((0, 0, low)) - _core(low - 1, TALL_MM + 2)
            part = ((outer ^ cell) - ((inner ^ cell) - (keep + slab))) - holes
            triangles += _write(part, folder / f"L{level + 1:02d}{'ABCD'[quarter]}.stl")
    return 4 * levels, triangles


def _rough_bar(radius: float, high: float, edge_mm: float) -> Manifold:
    count = int(2 * np.pi * radius / edge_mm)
    rows = int(high / edge_mm)
    angle = 2 * np.pi * np.arange(count) / count
    z = np.linspace(0, high, rows + 1)
    grid_a, grid_z = np.meshgrid(angle, z, indexing="xy")
    r = radius + 1.2 * np.sin(9 * grid_a + 0.02 * grid_z) + 0.8 * np.sin(37 * grid_a) * np.sin(0.11 * grid_z)
    points = np.column_stack(((r * np.cos(grid_a)).ravel(), (r * np.sin(grid_a)).ravel(), grid_z.ravel()))
    points = np.vstack((points, [[0, 0, 0], [0, 0, high]]))
    here = np.arange(count)
    after = (here + 1) % count
    base = (np.arange(rows) * count)[:, None]
    a, b = (base + here).ravel(), (base + after).ravel()
    sides = np.vstack((np.column_stack((a, b, b + count)), np.column_stack((a, b + count, a + count))))
    top = rows * count
    caps = np.vstack(
        (
            np.column_stack((after, here, np.full(count, len(points) - 2))),
            np.column_stack((top + here, top + after, np.full(count, len(points) - 1))),
        )
    )
    from manifold3d import Mesh

    faces = np.vstack((sides, caps)).astype(np.uint32)
    return Manifold(Mesh(vert_properties=points.astype(np.float32), tri_verts=faces))


def _core(low: float, high: float) -> Manifold:
    return Manifold.cylinder(high, RADIUS_MM - WALL_MM - FLANGE_MM, circular_segments=128).translate((0, 0, low))


def _flanges(low: float, has_below: bool, has_above: bool) -> Manifold:
    levels = [low] * has_below + [low + TALL_MM - THICK_MM] * has_above
    plates = [Manifold.cube((900, 900, THICK_MM), True).translate((0, 0, z + THICK_MM / 2)) for z in levels]
    return Manifold.batch_boolean(plates, OpType.Add) - _core(low - 1, TALL_MM + 2) if plates else Manifold()


def _holes(low: float, has_below: bool, has_above: bool) -> Manifold:
    tools = []
    reach = RADIUS_MM - WALL_MM - FLANGE_MM / 2
    for z in [low] * has_below + [low + TALL_MM] * has_above:
        for degrees in np.arange(15.0, 360.0, 30.0):
            a = np.radians(degrees)
            tool = Manifold.cylinder(40, HOLE_MM / 2, circular_segments=32, center=True)
            tools.append(tool.translate((reach * np.cos(a), reach * np.sin(a), z)))
    for quarter in range(4):
        a = np.radians(90.0 * quarter)
        for share in (0.3, 0.7):
            tool = Manifold.cylinder(40, HOLE_MM / 2, circular_segments=32, center=True)
            tool = tool.rotate((90, 0, 0) if quarter % 2 == 0 else (0, 90, 0))
            tools.append(tool.translate((reach * np.cos(a), reach * np.sin(a), low + share * TALL_MM)))
    return Manifold.batch_boolean(tools, OpType.Add)


def _write(part: Manifold, path: Path) -> int:
    mesh = part.to_mesh()
    corners = np.asarray(mesh.vert_properties, dtype="<f4")[:, :3][np.asarray(mesh.tri_verts)]
    record = np.zeros(len(corners), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
    record["corners"] = corners
    path.write_bytes(b"\0" * 80 + len(corners).to_bytes(4, "little") + record.tobytes())
    return len(corners)
