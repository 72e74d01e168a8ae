"""Five joints of a figure of 27 parts on paper, from hole and grip to length, torque and adhesive."""

from __future__ import annotations

import pytest

from assembler.engineering.bonding import bonding_for_joints
from assembler.engineering.fastening import stacks_for_joints
from assembler.figure.joints import Method, Seat
from assembler.figure.settings import Material
from tests.engineering.specimens import MATERIALS, PARTS, bolt, joint, settings
from tests.published.reading import source

TIMBER = Material(name="timber", density_kg_m3=500.0, bearing_mpa=3.0)
CAPTIVE = (Seat.OPEN, Seat.CAPTIVE)
OPEN = (Seat.OPEN, Seat.OPEN)


@pytest.mark.parametrize(
    ("hole_mm", "grip_mm", "seats", "first", "size", "needed_mm", "length_mm", "preload_n", "torque_nm"),
    [
        # ISO 273, medium: 11 mm is M10, 9 mm M8, 6.6 mm M6. Washers by ISO 7089, greatest thickness 2.2, 1.8, 1.8 mm,
        # outside 20, 16, 12 mm; nuts by ISO 4032, greatest height 8.4, 6.8, 5.2 mm; two pitches of thread past the nut
        # (common practice). Lengths by the series of ISO 4017. Pressure on the face times 0.2 d (T = K F d), then down
        # to the next 0.1 N m. A captive nut has no washer: its own face by ISO 4014's smallest dw counts.
        #
        # A foot on timber, no adhesive: 72 + 2 x 2.2 + 8.4 + 2 x 1.5 = 87.8, the next is 90.
        # 3 MPa x pi/4 (20^2 - 11^2) = 657.4 N; x 0.2 x 10 mm = 1.315 N m.
        (11.0, 72.0, OPEN, TIMBER, "M10", 87.8, 90.0, 657.4, 1.3),
        # Captive M6, bonded (0.3 mm): 16.3 + 1.8 + 5.2 + 2 x 1 = 25.3, the next is 30.
        # 15 MPa x pi/4 (8.88^2 - 6.6^2) = 415.8 N; x 0.2 x 6 mm = 0.499 N m: down, not to 0.5.
        (6.6, 16.0, CAPTIVE, None, "M6", 25.3, 30.0, 415.8, 0.4),
        # M8 with both ends open, bonded: 20.3 + 2 x 1.8 + 6.8 + 2 x 1.25 = 33.2, the next is 35.
        # 15 MPa x pi/4 (16^2 - 9^2) = 2061.7 N; x 0.2 x 8 mm = 3.299 N m.
        (9.0, 20.0, OPEN, None, "M8", 33.2, 35.0, 2061.7, 3.2),
        # Captive M8, bonded, in two joints of 4 and 7 bolts: 16.3 + 1.8 + 6.8 + 2 x 1.25 = 27.4, the next is 30.
        # 15 MPa x pi/4 (11.6^2 - 9^2) = 631.0 N; x 0.2 x 8 mm = 1.010 N m.
        (9.0, 16.0, CAPTIVE, None, "M8", 27.4, 30.0, 631.0, 1.0),
    ],
)
@source("iso-273", "iso-7089", "nut-tables", "iso-4017", "head-face", "metric-torque")
def test_screws_of_joints(
    hole_mm: float,
    grip_mm: float,
    seats: tuple[Seat, Seat],
    first: Material | None,
    size: str,
    needed_mm: float,
    length_mm: float,
    preload_n: float,
    torque_nm: float,
) -> None:
    method = Method.BOLTED if first else Method.BOLTED_AND_BONDED
    one = joint([bolt(hole_mm=hole_mm, grip_mm=grip_mm, seats=seats)], method=method)
    materials = MATERIALS | ({PARTS[0]: first} if first else {})
    (stack,), _ = stacks_for_joints([one], settings(), materials)
    assert stack.size == size
    assert stack.needed_mm == pytest.approx(needed_mm, abs=0.001)
    assert stack.length_mm == length_mm
    # The torque on the page is that of the face that bears least.
    assert stack.torque_nm == pytest.approx(torque_nm)
    assert torque_nm <= 0.2 * preload_n * float(size[1:]) / 1000.0 < torque_nm + 0.1


@pytest.mark.parametrize(
    ("area_mm2", "bolts", "volume_ml", "needed_min"),
    # Area x 0.3 mm x 1.3; closing: area / (2 people x 15 000 mm2/min) + 2 min + bolts x (0.8 + 2 rounds x 0.3) min.
    [
        (10_972.8, 3, 4.279, 6.566),
        (33_529.7, 6, 13.077, 11.518),
        (18_655.8, 4, 7.276, 8.222),
        (43_337.5, 7, 16.902, 13.245),
    ],
)
@source("adhesive-ranges")
def test_adhesive_of_joints(area_mm2: float, bolts: int, volume_ml: float, needed_min: float) -> None:
    # C; waste of 30 % and the times of placing and tightening: common practice, no source.
    rows = [bolt(f"J01.{number}") for number in range(1, bolts + 1)]
    one = joint(rows, method=Method.BOLTED_AND_BONDED, bond_area_mm2=area_mm2)
    (bonding,), _ = bonding_for_joints([one], settings())
    assert bonding.volume_ml == pytest.approx(volume_ml, abs=0.001)
    assert bonding.needed_min == pytest.approx(needed_min, abs=0.001)
