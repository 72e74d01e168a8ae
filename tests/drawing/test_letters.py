"""Words of pictures are at least 9.4 pt high on the page, on both sheets, and marks of steps too."""

from __future__ import annotations

import re

import pytest

from assembler.drawing.details import StepDetails, step_details
from assembler.drawing.style import DETAIL_MM, PX_PER_MM, REFERENCE_MM, SECTION_MM
from assembler.figure.pictures import Picture
from assembler.publishing.sheets import SHEETS
from assembler.publishing.steplayout import LATER_MM, SHORT_SHARE
from tests.drawing.specimens import skittle

POINT_MM = 25.4 / 72.0
LEAST_PT = 9.4


def smallest_pt(picture: Picture, shown_as: float) -> float:
    """Size of the smallest letters, shown at a share of the size the picture is made for."""
    sizes = [float(size) for size in re.findall(r'font-size="([\d.]+)"', picture.overlay_svg)]
    return min(sizes) / PX_PER_MM * shown_as / POINT_MM


@pytest.mark.parametrize("sheet", SHEETS.values(), ids=lambda sheet: sheet.name)
def test_words_of_details_can_be_read(room, sheet):
    details = step_details(room, StepDetails(step=skittle().drawn[2].close_up, eye=(0.0, -1.0, 0.3)))
    kinds = set()
    for picture in details:
        kind = picture.file.split("-")[2]
        kinds.add(kind)
        # Faces stand as high as the row, cuts and bolts no lower than the least height of what stands later.
        shown_mm, made_mm = (sheet.close_up_mm, DETAIL_MM[1]) if kind == "face" else (LATER_MM, SECTION_MM[1])
        assert smallest_pt(picture, shown_mm / made_mm) >= LEAST_PT
    assert kinds == {"face", "cut", "bolt"}


def test_ids_in_the_picture_of_a_short_step_can_be_read():
    assert REFERENCE_MM * SHORT_SHARE / POINT_MM >= LEAST_PT
