"""What a picture says by colour is also said in grey and to readers who see fewer colours.

Simulation: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A Physiologically-based Model for Simulation of Color
Vision Deficiency", IEEE Transactions on Visualization and Computer Graphics 15(6), 2009, matrices for severity 1.0 on
linear RGB. The numbers were compared with colorspacious 1.1.2 (`colorspacious.cvd.machado_et_al_2009_matrix`).
Lightness: CIE 1976 L*, from the luminance of IEC 61966-2-1 (sRGB).
Thresholds: 5 in L* between any two shades of different kinds, 15 between both in full light: common practice, no source
(a difference of 1 can just be seen side by side). 3 : 1 between a line and what it lies on: WCAG 2.x, 1.4.11.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from assembler.drawing import style
from assembler.drawing.linework import Hatch, drawing
from assembler.drawing.raster import Buffers
from assembler.drawing.scenes import Role
from tests.published.reading import source

VISION = {
    "usual": np.eye(3),
    "no long-wave cones": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "no middle-wave cones": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "no short-wave cones": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
APART, APART_IN_LIGHT, LINE = 5.0, 15.0, 3.0
WEIGHTS = np.array([0.2126, 0.7152, 0.0722])


def _linear(colour: tuple[float, float, float]) -> np.ndarray:
    values = np.asarray(colour, dtype=float)
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)


def _luminance(colour: tuple[float, float, float], eyes: str) -> float:
    return float(WEIGHTS @ np.clip(VISION[eyes] @ _linear(colour), 0.0, 1.0))


def _lightness(colour: tuple[float, float, float], eyes: str) -> float:
    y = _luminance(colour, eyes)
    return float(116.0 * np.cbrt(y) - 16.0) if y > 216.0 / 24389.0 else y * 24389.0 / 27.0


def _shades(fill: tuple[float, float, float], shade: float, eyes: str) -> tuple[float, float]:
    """Lightness in the shade and in full light."""
    dark = tuple(value * (1.0 - shade) for value in fill)
    return _lightness(dark, eyes), _lightness(fill, eyes)


KINDS = {
    "standing": (style.LOOKS[Role.STANDING].fill, style.LOOKS[Role.STANDING].shade),
    "standing timber": (style.TIMBER, style.LOOKS[Role.STANDING].shade),
    "new": (style.LOOKS[Role.NEW].fill, style.LOOKS[Role.NEW].shade),
    "hardware": (style.LOOKS[Role.HARDWARE].fill, style.LOOKS[Role.HARDWARE].shade),
}
PAIRS = [pair for pair in itertools.combinations(KINDS, 2) if pair != ("standing", "standing timber")]


@pytest.mark.parametrize("eyes", VISION)
@pytest.mark.parametrize(("one", "other"), PAIRS)
@source("okabe-ito", "cvd")
def test_kinds_are_steps_of_grey_that_do_not_meet(one, other, eyes):
    (dark, light), (low, high) = _shades(*KINDS[one], eyes), _shades(*KINDS[other], eyes)
    assert max(dark - high, low - light) >= APART
    assert abs(light - high) >= APART_IN_LIGHT


@pytest.mark.parametrize("eyes", VISION)
@pytest.mark.parametrize("role", [Role.STANDING, Role.NEIGHBOUR, Role.NEW, Role.HARDWARE, Role.CUT])
@source("wcag")
def test_outlines_stand_out_from_fills_and_paper(role, eyes):
    look = style.LOOKS[role]
    ink = _luminance(look.ink, eyes)
    for colour in (look.fill, (1.0, 1.0, 1.0)):
        assert (_luminance(colour, eyes) + 0.05) / (ink + 0.05) >= LINE


@pytest.mark.parametrize("eyes", VISION)
@source("wcag")
def test_a_bead_is_darker_than_the_face_it_lies_on(eyes):
    assert _lightness(style.BOND_TINT, eyes) - _lightness(style.BEAD_TINT, eyes) >= APART_IN_LIGHT


def _swatch(hatches: list[Hatch]) -> np.ndarray:
    """Luminance of a flat new part with hatches on it."""
    shape = (120, 120)
    flat = Buffers(
        ids=np.ones(shape, dtype=np.uint16),
        near_mm=np.zeros(shape, dtype=np.float32),
        normals=np.broadcast_to(np.array([0.0, 0.0, 1.0], dtype=np.float32), (*shape, 3)).copy(),
    )
    picture = drawing(flat, [style.LOOKS[Role.NEW]], 1.0, hatches)[30:90, 30:90]
    return np.array([[_luminance(tuple(pixel / 255.0), "usual") for pixel in row] for row in picture[::3, ::3]])


@source("wcag")
def test_mating_faces_carry_lines_that_a_copy_in_grey_keeps():
    area = np.ones((120, 120), dtype=bool)
    plain = _swatch([])
    bonded = _swatch([Hatch(mask=area, tint=style.BOND_TINT, spacing_mm=1.5)])
    dry = _swatch([Hatch(mask=area, tint=style.DRY_TINT, spacing_mm=2.6)])
    assert (plain.max() + 0.05) / (plain.min() + 0.05) < 1.1
    for marked in (bonded, dry):
        assert (marked.max() + 0.05) / (marked.min() + 0.05) >= LINE
    # Wide hatching has fewer lines: the two are told apart by the pattern alone.
    dark = [float((marked < 0.5 * marked.max()).mean()) for marked in (bonded, dry)]
    assert dark[0] > 1.4 * dark[1] > 0.0
