"""How numbers are written: rounding on the safe side."""

from __future__ import annotations

import pytest

from assembler.publishing import quantities


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        (quantities.mass(12.44), "12.4 kg"),
        (quantities.mass(0.354), "0.35 kg"),
        (quantities.size((400.0001, 260.2, 390.0)), "400 × 261 × 390 mm"),
        (quantities.torque(6.24), "6.2 N·m"),
        (quantities.torque(48.6), "49 N·m"),
        (quantities.volume(12.1), "13 ml"),
        (quantities.volume(203.0), "205 ml"),
        (quantities.litres(0.31), "0.4 l"),
        (quantities.duration(24.2), "25 min"),
        (quantities.duration(61.0), "1 h 05 min"),
        (quantities.duration(240.0), "4 h"),
        (quantities.duration(1182.0), "19 h 45 min"),
        (quantities.duration(7716.4), "129 h"),
        (quantities.span(14.9), "14 min"),
        (quantities.span(125.0), "2 h 05 min"),
        (quantities.angle(16.9), "16°"),
    ],
)
def test_quantities_as_printed(written: str, expected: str) -> None:
    assert written.replace(quantities.NO_BREAK, " ") == expected


INCHES = quantities.Units(has_inches=True)


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        (INCHES.length(254.0), "254 mm (10.0 in)"),
        (INCHES.size((254.0, 25.5, 1000.0)), "254 × 26 × 1000 mm (10.0 × 1.1 × 39.4 in)"),
        (INCHES.mass(45.359237), "45.4 kg (100.0 lb)"),
        (INCHES.torque(1.1298482902), "1.1 N·m (10 lbf·in)"),
        (INCHES.torque(27.116359), "27 N·m (20 lbf·ft)"),
        (INCHES.temperature(-40.0), "-40 °C (-40 °F)"),
        (quantities.Units().length(254.0), "254 mm"),
    ],
)
def test_inches_stand_beside_by_option(written: str, expected: str) -> None:
    assert written.replace(quantities.NO_BREAK, " ") == expected
