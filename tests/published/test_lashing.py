"""Straps over the top of a load, against the tables that drivers use."""

from __future__ import annotations

import math

import pytest

from assembler.engineering import lashing
from assembler.engineering.constants import GRAVITY_M_S2
from assembler.engineering.lashing import (
    SAFETY_FORWARD,
    SAFETY_OTHER,
    mass_per_strap_kg,
    straps_against_sliding,
    straps_against_tipping,
)
from tests.published.reading import source


@source("eu-securing-2014", "en-12195-1")
@pytest.mark.parametrize(
    ("friction", "sideways_t", "forward_t"),
    [
        (0.15, 0.31, 0.15),
        (0.20, 0.48, 0.21),
        (0.25, 0.72, 0.29),
        (0.30, 1.1, 0.38),
        (0.35, 1.7, 0.49),
        (0.40, 2.9, 0.63),
    ],
)
def test_mass_that_one_strap_keeps_from_sliding(friction: float, sideways_t: float, forward_t: float) -> None:
    # M: the quick lashing guide prints tonnes for one strap of 400 daN at 75 to 90 degrees, two figures.
    sideways = mass_per_strap_kg(0.5, SAFETY_OTHER, friction) / 1000.0
    forward = mass_per_strap_kg(0.8, SAFETY_FORWARD, friction) / 1000.0
    # Half of the last figure that is printed.
    assert sideways == pytest.approx(sideways_t, abs=0.005 if sideways_t < 1.0 else 0.05)
    assert forward == pytest.approx(forward_t, abs=0.005)


@source("insht-1038")
def test_the_formula_as_a_safety_institute_prints_it() -> None:
    # V2: n = (c - mu cz) m g f / (k mu sin a F), with k = 1.5 for one tensioner; EN 12195-1:2010 takes 2 in its place.
    mass_kg, c, mu, k = 1000.0, 0.8, 0.3, 1.5
    printed = (c - mu) * mass_kg * GRAVITY_M_S2 / (k * mu * math.sin(math.radians(75.0)) * lashing.STRAP_N) * 1.25
    assert mass_kg / mass_per_strap_kg(c, 1.25, mu) == pytest.approx(printed * k / 2.0)
    assert straps_against_sliding(mass_kg, c, 1.25, mu) == math.ceil(printed * k / 2.0)


@source("en-12195-1")
def test_friction_alone_is_enough_where_it_is_above_the_acceleration() -> None:
    assert straps_against_sliding(5000.0, 0.5, SAFETY_OTHER, 0.6) == 0
    assert math.isinf(mass_per_strap_kg(0.5, SAFETY_OTHER, 0.5))


@source("statics")
def test_straps_against_tipping_balance_the_moment() -> None:
    """A load of 1 t, its centre 1.5 m up and 0.5 m from the edge, on a base of 1 m, sideways 0.6 g: by hand.

    0.6 x 1.5 - 0.5 = 0.4 m short; 1000 x 9.80665 x 1.1 x 0.4 = 4315 Nm; a strap holds 4000 sin 75 x 1 = 3864 Nm.
    """
    given = {"height_mm": 1500.0, "arm_mm": 500.0, "base_mm": 1000.0}
    assert straps_against_tipping(1000.0, 0.6, 1.1, **given) == 2
    assert straps_against_tipping(890.0, 0.6, 1.1, **given) == 1
    assert straps_against_tipping(1000.0, 0.3, 1.1, **given) == 0
