"""A wrong unit does not pass silently."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from assembler.engineering.plausibility import plausibility_findings
from assembler.figure.findings import Level
from assembler.figure.settings import Climate, Crew
from tests.engineering.specimens import PLASTIC, bolt, glue, joint, settings


def test_sensible_settings_pass() -> None:
    assert plausibility_findings(settings(), [joint([bolt()])]) == ()


@pytest.mark.parametrize(
    ("changes", "looks_like"),
    [
        ({"materials": {"plastic": replace(PLASTIC, density_kg_m3=0.95)}}, "g/cm3"),
        ({"materials": {"plastic": replace(PLASTIC, bearing_mpa=15000.0)}}, "kPa"),
        ({"adhesive": glue(bond_line_mm=300.0)}, "micrometres"),
        ({"adhesive": glue(bond_line_mm=0.0003)}, "m"),
        ({"adhesive": glue(waste=30.0)}, "per cent"),
        ({"adhesive": glue(sheet_c=73.0)}, "Fahrenheit"),
        ({"adhesive": glue(sheet_c=296.0)}, "kelvin"),
        ({"adhesive": glue(handling_min=8.0)}, "another unit"),
        ({"adhesive": glue(full_cure_min=604800.0)}, "seconds"),
        ({"adhesive": glue(strength_mpa=5000.0)}, "kPa"),
        ({"adhesive": glue(handling_mpa=200.0)}, "kPa"),
        ({"adhesive": glue(peel_mpa=0.001)}, "GPa"),
        ({"climate": Climate(night_site_c=280.0)}, "kelvin"),
        ({"climate": Climate(shop_c=68.0)}, "Fahrenheit"),
        ({"climate": Climate(site_c=288.0)}, "kelvin"),
        ({"crew": Crew(reach_mm=60.0)}, "cm"),
        ({"crew": Crew(hand_opening_mm=9.5)}, "cm"),
        ({"crew": Crew(forearm_opening_mm=4.5)}, "inches"),
        ({"crew": Crew(upper_arm_opening_mm=12.5)}, "cm"),
        ({"crew": Crew(spread_mm2_min=150.0)}, "cm2"),
        ({"crew": Crew(lift_one_kg=200.0)}, "newtons"),
    ],
)
def test_a_wrong_unit_is_found(changes: dict[str, Any], looks_like: str) -> None:
    findings = plausibility_findings(settings(**changes))
    assert findings
    assert all(finding.level is Level.STOP for finding in findings)
    assert any(looks_like in str(finding.remedy) for finding in findings)


@pytest.mark.parametrize("hole_mm", [0.009, 0.354, 9000.0])
def test_holes_in_another_unit_are_found(hole_mm: float) -> None:
    (finding,) = plausibility_findings(settings(), [joint([bolt(hole_mm=hole_mm)])])
    assert finding.about == ("J01.1",)
