"""Pictures look as they did when somebody last looked at them, within what an eye would notice.

Stored for one machine image: another renderer draws other edges, so the comparison is skipped there, and says so.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.drawing.golden import FOLDER, LEAST_LIKE, MACHINE, MOST_OFF, likeness, small_copies

RESULTS = Path(__file__).resolve().parents[1] / "results"
STORED = sorted(path.stem for path in FOLDER.glob("*.png"))


@pytest.fixture(scope="module")
def copies(room):
    stored_on = MACHINE.read_text(encoding="utf-8").strip()
    if room.rasteriser.machine != stored_on:
        pytest.skip(f"stored pictures are for {stored_on!r}, this is {room.rasteriser.machine!r}")
    return small_copies(room)


def test_something_is_stored_and_it_is_small():
    assert len(STORED) == 7
    assert sum(path.stat().st_size for path in FOLDER.iterdir()) < 300_000


@pytest.mark.parametrize("name", STORED)
def test_picture_looks_as_stored(copies, name):
    with Image.open(FOLDER / f"{name}.png") as image:
        stored = np.asarray(image.convert("RGB"))
    similarity, off = likeness(stored, copies[name])
    if similarity < LEAST_LIKE or off > MOST_OFF:
        RESULTS.mkdir(exist_ok=True)
        Image.fromarray(copies[name]).save(RESULTS / f"golden-{name}.png")
    assert similarity >= LEAST_LIKE, f"see tests/results/golden-{name}.png"
    assert off <= MOST_OFF, f"see tests/results/golden-{name}.png"


@pytest.mark.parametrize("name", STORED)
def test_a_small_loss_is_noticed(name):
    """A nut's worth of drawing wiped out, a thinner line: the comparison sees both."""
    with Image.open(FOLDER / f"{name}.png") as image:
        stored = np.asarray(image.convert("RGB"))
    rows, columns = np.nonzero(stored.min(axis=2) < 120)
    middle = len(rows) // 2
    wiped = stored.copy()
    wiped[rows[middle] - 3 : rows[middle] + 3, columns[middle] - 3 : columns[middle] + 3] = 255
    assert likeness(stored, wiped)[1] > MOST_OFF
    paler = np.where(stored < 120, stored + np.uint8(60), stored).astype(np.uint8)
    similarity, off = likeness(stored, paler)
    assert similarity < LEAST_LIKE or off > MOST_OFF
