"""Pictures with a palette: exact where they can be, else near, and no rare colour lost."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from assembler.drawing.image import COLOURS, indexed

Bytes = NDArray[np.uint8]


def shaded(height: int, width: int) -> Bytes:
    """Two ramps of shade as a drawing has them, with a fine line of a colour that is nowhere else."""
    ramp = np.linspace(20, 255, width)
    picture = np.empty((height, width, 3), dtype=np.uint8)
    picture[: height // 2] = np.stack([ramp, ramp * 0.97, ramp * 0.93], axis=1)
    picture[height // 2 :] = np.stack([ramp * 0.9, ramp * 0.6, np.flip(ramp) * 0.3], axis=1)
    picture[::7] = picture[::7] // 2 + 40
    picture[3, 5:9] = (0, 114, 178)
    return picture


@pytest.mark.parametrize("colours", [1, 2, 200, COLOURS])
def test_few_colours_are_kept_exactly(colours: int) -> None:
    random = np.random.default_rng(7)
    palette = random.integers(0, 256, (colours, 3), dtype=np.uint8)
    picture = palette[random.integers(0, colours, (40, 50))]
    indices, found = indexed(picture)
    assert np.array_equal(found[indices], picture)
    assert len(found) <= colours


def test_many_colours_stay_near_and_the_rare_one_survives() -> None:
    picture = shaded(400, 600)
    assert len(np.unique(picture.reshape(-1, 3), axis=0)) > 3 * COLOURS
    indices, colours = indexed(picture)
    assert colours.shape == (COLOURS, 3)
    past = np.abs(colours[indices].astype(int) - picture)
    # 8 of 255 is what the eye and a printer's screen cannot tell; the mean is far below.
    assert past.max() <= 8
    assert past.mean() < 1.5
    assert tuple(colours[indices[3, 6]]) == (0, 114, 178)


def test_the_palette_depends_on_the_pixels_only() -> None:
    picture = shaded(60, 80)
    first, again = indexed(picture), indexed(picture.copy())
    assert np.array_equal(first[0], again[0])
    assert np.array_equal(first[1], again[1])
