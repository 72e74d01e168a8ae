"""Words of pictures are at least 8 pt high on the page, on both sheets, and marks of steps too."""

from __future__ import annotations

import re

import pytest

from assembler.drawing.details import StepDetails, step_details
from assembler.drawing.style import DETAIL_MM, PX_PER_MM, SECTION_MM
from assembler.figure.pictures import Picture
from assembler.publishing.sheets import SHEETS
from assembler.publishing.steplayout import DETAIL_LEAST_MM, SECTION_LEAST_MM
from tests.drawing.specimens import skittle

POINT_MM = 25.4 / 72.0
LEAST_PT = 8.0


def smallest_pt(picture: Picture, shown_as: float) -> float:
    """Size of the smallest letters, shown at a share of the size the picture is made for."""
    sizes = [float(size) for size in re.findall(r'font-size="([\d.]+)"', picture.overlay_svg)]
    return min(sizes) / PX_PER_MM * shown_as / POINT_MM


@pytest.mark.parametrize("sheet", SHEETS.values(), ids=lambda sheet: sheet.name)
def test_words_of_details_can_be_read(room, sheet):
    details = step_details(room, StepDetails(step=skittle().drawn[2].close_up, eye=(0.0, -1.0, 0.3)))
    kinds = set()
    for picture in details:
        is_face = "-face-" in picture.file
        kinds.add(picture.file.split("-")[2])
        room_mm, made_mm = (sheet.detail_mm, DETAIL_MM[1]) if is_face else (sheet.section_mm, SECTION_MM[1])
        assert smallest_pt(picture, min(room_mm / made_mm, 1.0)) >= LEAST_PT
    assert kinds == {"face", "cut", "bolt"}


def test_close_ups_that_are_made_smaller_for_a_full_page_can_still_be_read(room):
    for picture in step_details(room, StepDetails(step=skittle().drawn[2].close_up, eye=(0.0, -1.0, 0.3))):
        is_face = "-face-" in picture.file
        least_mm, made_mm = (DETAIL_LEAST_MM, DETAIL_MM[1]) if is_face else (SECTION_LEAST_MM, SECTION_MM[1])
        assert smallest_pt(picture, least_mm / made_mm) >= LEAST_PT
