"""The survey's time against plainly loading the same files, in the same run: `pytest tests/bench/survey_speed.py`."""

from __future__ import annotations

import math
import resource
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
import trimesh

from assembler.figure.ids import PartId
from assembler.figure.tolerances import Tolerances
from assembler.survey.crossings import self_crossings
from assembler.survey.intake import read_parts
from assembler.survey.joints import survey_joints
from tests.bench.survey_sets import write_tower

pytestmark = pytest.mark.bench


def seconds(work: Callable[[], object]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start


def surveyed(folder: Path, levels: int) -> None:
    intake = read_parts(folder, unit_mm=1.0, tolerances=Tolerances())
    survey = survey_joints({PartId(body.file): body.mesh for body in intake.bodies}, Tolerances())
    assert len(survey.joints) == 4 * levels + 4 * (levels - 1)
    assert sum(len(joint.bolts) for joint in survey.joints) == 8 * levels + 12 * (levels - 1)


def test_sixty_parts_take_at_most_five_plain_loads(tmp_path: Path) -> None:
    parts, triangles = write_tower(tmp_path, levels=15, edge_mm=2.6)
    assert parts == 60
    assert triangles > 3_000_000
    plain = seconds(lambda: [trimesh.load(path) for path in sorted(tmp_path.glob("*.stl"))])
    whole = seconds(lambda: surveyed(tmp_path, 15))
    sys.stdout.write(
        f"\n{triangles} triangles: {whole / plain:.2f} times the plain load ({whole:.1f} s of {plain:.1f} s)\n"
    )
    intake = read_parts(tmp_path, unit_mm=1.0, tolerances=Tolerances())
    meshes = {PartId(body.file): body.mesh for body in intake.bodies}
    thorough = whole + seconds(lambda: self_crossings(meshes))
    peak_gib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20
    sys.stdout.write(
        f"with all checks {thorough / plain:.2f} times ({thorough:.1f} s); peak memory {peak_gib:.2f} GiB\n"
    )
    assert whole <= 5 * plain, f"{whole / plain:.2f} times the plain load ({whole:.1f} s of {plain:.1f} s)"
    assert thorough <= 8 * plain, f"{thorough / plain:.2f} times the plain load ({thorough:.1f} s of {plain:.1f} s)"
    assert peak_gib < 3.0


def test_time_grows_with_the_number_of_parts(tmp_path: Path) -> None:
    times = {}
    for levels in (4, 60):
        folder = tmp_path / str(levels)
        folder.mkdir()
        write_tower(folder, levels=levels, edge_mm=12.0)
        surveyed(folder, levels)
        times[levels] = seconds(lambda folder=folder, levels=levels: surveyed(folder, levels))
    exponent = math.log(times[60] / times[4]) / math.log(60 / 4)
    sys.stdout.write(f"\ntime grows with exponent {exponent:.2f}\n")
    assert exponent <= 1.2, f"time grows with exponent {exponent:.2f}"
