"""What pictures cost against one plain colour pass, and whether views of 6 to 60 parts meet their bars.

Run with `pytest tests/bench/drawing_pictures.py -m bench -s`; both sides of each ratio are measured in the same run, in
processor time, so that a busy machine does not move it.
"""

from __future__ import annotations

import os
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from assembler.drawing.details import step_details
from assembler.drawing.keyfigure import key_figure
from assembler.drawing.stage import staged
from assembler.drawing.stepview import step_picture
from assembler.drawing.studio import Studio
from assembler.drawing.style import MAIN_MM, pixels
from assembler.drawing.viewpoints import choose
from assembler.figure.plan import View
from tests.drawing.specimens import Specimen, skittle

pytestmark = pytest.mark.bench

MOST_PASSES = 2.0


def say(line: str) -> None:
    """A measured line, for `-s`."""
    sys.stdout.write(f"\n{line}\n")


def cpu_seconds(work: Callable[[], object]) -> float:
    begin = time.process_time()
    work()
    return time.process_time() - begin


def plain_pass_seconds(specimen: Specimen) -> float:
    """One lit colour pass of all full meshes at the size of a main picture, buffers uploaded, the median of five."""
    os.environ.setdefault("PYOPENGL_PLATFORM", "egl")
    import pyrender
    import trimesh

    scene = pyrender.Scene(ambient_light=[0.3, 0.3, 0.3])
    for name in sorted(specimen.meshes):
        mesh = specimen.meshes[name]
        scene.add(pyrender.Mesh.from_trimesh(trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)))
    high = float(max(mesh.vertices[:, 2].max() for mesh in specimen.meshes.values()))
    pose = np.array(
        [[1.0, 0.0, 0.0, 0.0], [0.0, 0.0, -1.0, -4000.0], [0.0, 1.0, 0.0, high / 2.0], [0.0, 0.0, 0.0, 1.0]]
    )
    scene.add(pyrender.OrthographicCamera(xmag=high * 0.55, ymag=high * 0.55, znear=1.0, zfar=9000.0), pose=pose)
    scene.add(pyrender.DirectionalLight(intensity=3.0), pose=pose)
    renderer = pyrender.OffscreenRenderer(*pixels(MAIN_MM))
    renderer.render(scene)
    seconds = statistics.median(cpu_seconds(lambda: renderer.render(scene)) for _ in range(5))
    renderer.delete()
    return seconds


def views_of(specimen: Specimen, folder: Path, *, with_details: bool) -> tuple[list[View], int, float]:
    """Views of all steps, number of rasters made, processor seconds for all of it but the upload."""
    with Studio(specimen.plan, specimen.meshes, folder) as studio:
        begin = time.process_time()
        views: list[View] = []
        rasters = 0
        previous = None
        for step in specimen.plan.steps:
            stage = staged(studio, step)
            choice = choose(stage.subject(), studio.rasteriser, previous)
            previous = (choice.eye, choice.up)
            key = key_figure(studio, step, choice.eye)
            views.append(step_picture(studio, stage, choice, key).view)
            rasters += 1
            if with_details:
                details = step_details(studio, step, {})
                rasters += sum("-bolt-" not in picture.file for picture in details)
        return views, rasters, time.process_time() - begin


def test_a_picture_costs_at_most_two_colour_passes(tmp_path):
    specimen = skittle(5, 1200)
    triangles = sum(len(mesh.faces) for mesh in specimen.meshes.values())
    one_pass = plain_pass_seconds(specimen)
    _, rasters, seconds = views_of(specimen, tmp_path, with_details=True)
    ratio = seconds / rasters / one_pass
    say(f"{triangles} triangles, pass {one_pass:.2f} s, {rasters} pictures, {ratio:.2f} passes each")
    assert ratio <= MOST_PASSES


@pytest.mark.parametrize("bands", [3, 10, 30])
def test_views_meet_their_bars(bands, tmp_path):
    views, _, _ = views_of(skittle(bands), tmp_path, with_details=False)
    joining = [view for view in views if view.explode_mm > 0.0]
    changes = sum(view.turned_deg > 1.0 for view in views)
    say(
        f"{2 * bands} parts: new visible {min(v.new_visible for v in views):.2f}, mating visible "
        f"{min(v.mating_visible for v in joining):.2f}, views changed {changes} times in {len(views)} steps"
    )
    assert min(view.new_visible for view in views) >= 0.6
    assert min(view.mating_visible for view in joining) >= 0.5
    assert sum(view.label_overlaps for view in views) == 0
    assert changes <= len(views) / 4.0
