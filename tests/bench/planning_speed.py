"""How fast is planning? Blocking against stepped solids, a whole plan of 60 parts, and growth from 30 to 240 parts.

Run by name (`pytest tests/bench/planning_speed.py -s`); the numbers are printed, the bars asserted.
"""

from __future__ import annotations

import math
import sys
import time
from typing import Any

import fcl
import numpy as np
import pytest

from assembler.figure.mesh import Mesh
from assembler.geometry.sweeps import blocked_pairs, solid
from assembler.planning.order import plan_build
from tests import specimens

pytestmark = pytest.mark.bench
STEP_MM = 5.0


def say(text: str) -> None:
    """A line for who runs this by hand."""
    sys.stderr.write(f"\n{text}")


def tower(parts: int, triangles: int) -> dict[str, Any]:
    """A flanged tower with a plate, its skin refined to about so many triangles."""
    made = specimens.tower((parts - 1) // 2)
    area = sum(body.surface_area() for body in made.solids.values())
    # Equilateral triangles of this edge cover the surface in the wanted number.
    edge = math.sqrt(area / triangles * 4 / math.sqrt(3))
    made.solids = {name: body.refine_to_length(1.6 * edge) for name, body in made.solids.items()}
    return made.given


def directions(count: int) -> list[tuple[float, float, float]]:
    """Directions spread evenly over the sphere (Fibonacci lattice)."""
    k = np.arange(count) + 0.5
    polar, turn = np.arccos(1 - 2 * k / count), math.pi * (1 + math.sqrt(5)) * k
    rows = np.column_stack([np.cos(turn) * np.sin(polar), np.sin(turn) * np.sin(polar), np.cos(polar)])
    return [(float(x), float(y), float(z)) for x, y, z in rows]


def stepped_hit(first: Mesh, second: Mesh, bodies: tuple[Any, Any], direction: np.ndarray) -> bool:
    """The baseline: fcl rules out, manifold3d judges, every 5 mm until the boxes have parted."""
    models = []
    for mesh in (first, second):
        model = fcl.BVHModel()
        model.beginModel(len(mesh.vertices), len(mesh.faces))
        model.addSubModel(mesh.vertices, mesh.faces)
        model.endModel()
        models.append(model)
    standing = fcl.CollisionObject(models[1], fcl.Transform())
    travel = float((second.vertices @ direction).max() - (first.vertices @ direction).min())
    for at in np.arange(STEP_MM, max(travel, STEP_MM), STEP_MM):
        moving = fcl.CollisionObject(models[0], fcl.Transform(np.eye(3), direction * at))
        if fcl.collide(moving, standing, fcl.CollisionRequest(), fcl.CollisionResult()) == 0:
            continue
        common = bodies[0].translate(tuple((direction * at).tolist())) ^ bodies[1]
        area = common.surface_area()
        if common.volume() > 1.0 and area and 2 * common.volume() / area > 0.3:
            return True
    return False


def test_blocking_of_all_pairs_against_stepping() -> None:
    given = tower(61, 500_000)
    meshes = [given["meshes"][part.id] for part in given["parts"]]
    ways = directions(60)
    start = time.process_time()
    tables = [blocked_pairs(meshes, way, cell_mm=5.0, overlap_mm=0.3) for way in ways]
    own = time.process_time() - start
    rng = np.random.default_rng(1)
    sample = [(int(rng.integers(60)), *rng.choice(len(meshes), 2, replace=False).tolist()) for _ in range(60)]
    bodies = {k: solid(meshes[k])._body for _, i, j in sample for k in (i, j)}  # type: ignore[union-attr]
    start = time.process_time()
    hits = [stepped_hit(meshes[i], meshes[j], (bodies[i], bodies[j]), np.asarray(ways[way])) for way, i, j in sample]
    pairs = len(ways) * len(meshes) * (len(meshes) - 1)
    baseline = (time.process_time() - start) / len(sample) * pairs
    differing = [
        (ways[way], i, j) for (way, i, j), hit in zip(sample, hits, strict=True) if bool(tables[way].wide[i, j]) != hit
    ]
    say(f"{len(meshes)} parts, 60 directions: {own:.1f} s; stepping, scaled from {len(sample)} pairs: {baseline:.0f} s")
    say(f"ratio {baseline / own:.0f}; verdicts that differ: {differing}")
    assert baseline > 100 * own
    assert not differing


def test_plan_of_sixty_parts() -> None:
    given = tower(61, 500_000)
    triangles = sum(len(mesh.faces) for mesh in given["meshes"].values())
    start, cpu = time.perf_counter(), time.process_time()
    plan = plan_build(**given)
    wall_s, cpu_s = time.perf_counter() - start, time.process_time() - cpu
    say(f"61 parts, {triangles} triangles: {wall_s:.1f} s wall, {cpu_s:.1f} s cpu")
    assert len(plan.steps) >= 30
    assert cpu_s <= 60.0


def test_growth_from_30_to_240_parts() -> None:
    seconds = []
    counts = [31, 61, 121, 241]
    for count in counts:
        given = tower(count, 2_000 * count)
        start = time.process_time()
        plan_build(**given)
        seconds.append(time.process_time() - start)
    exponent = float(np.polyfit(np.log(counts), np.log(seconds), 1)[0])
    say(f"{dict(zip(counts, seconds, strict=True))}: exponent {exponent:.2f}")
    assert exponent <= 1.5
