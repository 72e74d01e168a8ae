"""Pictures that nobody can tell apart, and such as anybody can."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from assembler.drawing.sameness import is_same_to_the_eye

Raster = NDArray[np.uint8]


def _paper() -> Raster:
    """Grey paper with a thick black line."""
    raster = np.full((300, 400, 3), 200, dtype=np.uint8)
    raster[140:150, 20:380] = 0
    return raster


def _specks(raster: Raster) -> None:
    """Last bits of a line, far from each other."""
    raster[140, 40:380:40] += 50


def _one_dark_pixel(raster: Raster) -> None:
    raster[30, 30] = 0


def _breath(raster: Raster) -> None:
    """A field that is lighter by less than one in a hundred."""
    raster[160:, :] += 2


def _dot(raster: Raster) -> None:
    raster[30:33, 30:33] = 0


def _hairline(raster: Raster) -> None:
    """As faint as the eye may still follow, and long."""
    raster[60, 20:220] -= 25


def _shade(raster: Raster) -> None:
    """A field that is darker by four in a hundred."""
    raster[160:, :] -= 10


def _shifted(raster: Raster) -> None:
    raster[140] = 200
    raster[150, 20:380] = 0


def _coloured(raster: Raster) -> None:
    """As light as before, but red."""
    raster[40:60, 40:60] = (230, 190, 190)


def _is_same(change: object, folder: Path) -> bool:
    before, now = _paper(), _paper()
    assert callable(change)
    change(now)
    for name, raster in (("before", before), ("now", now)):
        Image.fromarray(raster).save(folder / f"{name}.png")
    forth = is_same_to_the_eye(folder / "before.png", folder / "now.png")
    assert is_same_to_the_eye(folder / "now.png", folder / "before.png") == forth
    return forth


@pytest.mark.parametrize("change", [_specks, _one_dark_pixel, _breath, lambda _: None])
def test_what_nobody_sees_is_the_same(change: object, tmp_path: Path) -> None:
    assert _is_same(change, tmp_path)


@pytest.mark.parametrize("change", [_dot, _hairline, _shade, _shifted, _coloured])
def test_what_somebody_may_see_is_not(change: object, tmp_path: Path) -> None:
    assert not _is_same(change, tmp_path)


def test_pictures_of_another_size_are_not_the_same(tmp_path: Path) -> None:
    for name, width in (("before", 40), ("now", 41)):
        Image.new("RGB", (width, 30), "white").save(tmp_path / f"{name}.png")
    assert not is_same_to_the_eye(tmp_path / "before.png", tmp_path / "now.png")


def test_colours_count_and_not_their_numbers_in_a_palette(tmp_path: Path) -> None:
    Image.fromarray(_paper()).save(tmp_path / "before.png")
    Image.fromarray(_paper()).quantize(8).save(tmp_path / "now.png")
    assert is_same_to_the_eye(tmp_path / "before.png", tmp_path / "now.png")
