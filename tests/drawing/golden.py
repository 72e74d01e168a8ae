"""Stored pictures: small copies of a few rasters, and how alike another one is.

`python -m tests.drawing.golden` draws them anew, after somebody has looked at why they differ.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
from PIL import Image
from scipy import ndimage
from skimage.metrics import structural_similarity

from assembler.drawing.camera import direction
from assembler.drawing.cutview import cut_picture
from assembler.drawing.drawnstep import DrawnStep, Solids
from assembler.drawing.explode import axes_of
from assembler.drawing.faceview import face_picture
from assembler.drawing.keyfigure import key_figure, key_view
from assembler.drawing.overview import cover_picture
from assembler.drawing.parting import parted
from assembler.drawing.stage import staged
from assembler.drawing.stepview import ShownStep, step_picture
from assembler.drawing.studio import Studio
from assembler.drawing.viewpoints import Choice, measured
from assembler.figure.ids import StepNumber
from assembler.figure.pictures import Picture
from tests.drawing.specimens import skittle

FOLDER = Path(__file__).parent / "golden"
MACHINE = FOLDER / "machine.txt"
SMALLER = 4
"""Stored at a quarter of the size: 75 dpi on paper, where a line of 0.35 mm is still a pixel wide."""
LEAST_LIKE = 0.97
"""Structural similarity (Wang et al., IEEE Trans. Image Processing 13(4), 2004) of the copies."""
MOST_OFF = 12.0
"""Of 255, for any patch of three pixels (1 mm on paper): a missing bolt or reference to another face is far above."""


def pictures(studio: Studio) -> dict[str, Picture]:
    """What is stored: main views of a slide, a lowering and turned work, a face, a cut, the cover."""
    steps = skittle().drawn
    lying = replace(steps[2], up=(0.0, -1.0, 0.0), number=StepNumber("3a"))
    third = steps[2]
    made = {
        "slide": _main(studio, steps[1]),
        "lower": _main(studio, third),
        "lying": _main(studio, lying),
        "cover": cover_picture(studio),
    }
    joint = third.closed[0]
    face = face_picture(studio, third, joint, tuple(bolt.id for bolt in joint.bolts), (0.0, -1.0, 0.3))
    cut = cut_picture(studio, third, axes_of(third), 1)
    assert face is not None
    assert cut is not None
    return {**made, "face": face, "cut": cut}


def _main(studio: Studio, step: DrawnStep) -> Picture:
    """From a fixed side, so that the search for views is not tested here."""
    x, y, z = (float(v) for v in direction(60.0, 30.0, step.up))
    shown = measured(staged(studio, step).subject(), studio.rasteriser, (x, y, z))
    choice = parted(studio, staged(studio, step), Choice(eye=(x, y, z), up=step.up, shown=shown, changed_deg=0.0))
    return step_picture(studio, ShownStep(step=step, choice=choice, key=None))


def small_copies(studio: Studio) -> dict[str, np.ndarray]:
    """Copies to store or compare, (h, w, 3) uint8."""
    copies = {}
    specimen = skittle()
    whole = Solids(specimen.plan, specimen.meshes)
    view = key_view(specimen.drawn[2], (0.5, -0.8, 0.3), whole.of(whole.known))
    assert view is not None
    key = key_figure(studio, view)
    files = {name: picture.file for name, picture in pictures(studio).items()}
    for name, file in {**files, "key": key.file}.items():
        with Image.open(studio.out_dir / file) as image:
            size = (image.width // SMALLER, image.height // SMALLER)
            copies[name] = np.asarray(image.convert("RGB").resize(size, Image.Resampling.BOX))
    return copies


def likeness(one: np.ndarray, other: np.ndarray) -> tuple[float, float]:
    """Structural similarity, and the greatest difference of patches of three pixels."""
    if one.shape != other.shape:
        return 0.0, 255.0
    similarity = float(structural_similarity(one, other, channel_axis=2))
    off = np.abs(one.astype(float) - other.astype(float))
    return similarity, float(ndimage.uniform_filter(off, size=(3, 3, 1)).max())


def store() -> None:
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, skittle().studio(Path(folder)) as studio:
        for name, copy in small_copies(studio).items():
            Image.fromarray(copy).save(FOLDER / f"{name}.png", optimize=True)
        MACHINE.write_text(studio.rasteriser.machine + "\n", encoding="utf-8")
    sys.stdout.write(f"{sum(file.stat().st_size for file in FOLDER.iterdir())} bytes in {FOLDER}\n")


if __name__ == "__main__":
    store()
