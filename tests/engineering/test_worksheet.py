"""The calculation on paper says what the stacks and bondings say."""

from __future__ import annotations

from assembler.engineering.bonding import bonding_for_joints
from assembler.engineering.bondsheet import bond_rows
from assembler.engineering.fastening import stacks_for_joints
from assembler.engineering.loads import CarriedLoad
from assembler.engineering.worksheet import WorksheetRow, worksheet
from assembler.figure.joints import Joint, Method, Seat
from assembler.figure.settings import Climate, Settings
from tests.engineering.specimens import MATERIALS, bolt, joint, ring, settings

GLUED = joint(ring(8), method=Method.BOLTED_AND_BONDED)


def _rows(one: Joint, shop: Settings) -> tuple[WorksheetRow, ...]:
    stacks, _ = stacks_for_joints([one], shop, MATERIALS)
    bondings, _ = bonding_for_joints([one], shop)
    return worksheet(one, stacks, bondings[0] if bondings else None, shop)


def _by_quantity(rows: tuple[WorksheetRow, ...]) -> dict[str, WorksheetRow]:
    return {row.quantity: row for row in rows}


def test_every_row_has_a_source_and_a_result() -> None:
    for row in _rows(GLUED, settings()):
        assert row.source, row.quantity
        assert row.result, row.quantity
        assert row.formula, row.quantity


def test_results_are_those_of_the_records() -> None:
    shop = settings()
    (stack, *_), _ = stacks_for_joints([GLUED], shop, MATERIALS)
    (bonding,), _ = bonding_for_joints([GLUED], shop)
    rows = _by_quantity(_rows(GLUED, shop))
    assert rows["bolt size"].result == stack.size
    assert rows["length"].result == f"{stack.length_mm:g}"
    assert rows["length needed"].result == f"{stack.needed_mm:.1f}"
    assert rows["torque to set"].result == f"{stack.torque_nm:g}"
    assert rows["adhesive"].result == f"{bonding.volume_ml:.1f}"
    assert float(rows["hold until handling strength"].result) >= bonding.handling_min
    assert float(rows["open time"].result) <= bonding.open_min


def test_the_inputs_give_the_results() -> None:
    # The numbers printed are the calculation: evaluating them gives the printed result.
    rows = _by_quantity(_rows(GLUED, settings()))
    for quantity in ("length needed", "thread past the nut", "grip", "preload by the bolt"):
        text = str(rows[quantity].inputs).replace(" x ", " * ")
        # Only digits and signs are evaluated; grips are printed to 0.01 mm.
        assert set(text) <= set("0123456789. +-*()")
        value = eval(text, {"__builtins__": {}})
        assert abs(value - float(rows[quantity].result)) <= 0.06, quantity


def test_what_the_joint_holds() -> None:
    rows = _by_quantity(_rows(GLUED, settings()))
    # 8 bolts with 3.2 N m: 8 x 0.5 x 2000 N x 0.1 / 2 / 9.81 = 40.8 kg.
    assert rows["mass that the bolts alone hold against slip"].result == "40"
    # No capacity from an average stress: it would be 40 000 mm2 x 5 MPa / 4 / 9.81 = 5.1 t, and peel decides.
    assert not [name for name in rows if "capacity" in str(name) or "plain shear" in str(name)]
    assert rows["least distance of two holes"].result == "76.5"


def test_a_stress_that_is_rounding_is_printed_as_none() -> None:
    # A piece whose centre lies above its joint but for a ten thousandth of a millimetre: no peel, and not 3.9e-10.
    (bonding,), _ = bonding_for_joints([GLUED], settings())
    load = CarriedLoad(joint=GLUED.id, parts=GLUED.parts[1:], mass_kg=2.0, centre_mm=(1e-4, 0.0, 100.0))
    rows = _by_quantity(tuple(bond_rows(GLUED, bonding, settings(), load)))
    assert rows["greatest peel under what hangs on it"].result == "0"
    # 2 kg x 9.81 / 40 000 mm2 = 0.00049 MPa.
    assert rows["average shear under what hangs on it"].result == "0.00049"


def test_bolts_of_one_kind_share_their_rows() -> None:
    mixed = joint(
        [
            *ring(4),
            bolt("J01.5", hole_mm=6.6, at_mm=(300.0, 0.0, 0.0)),
            bolt("J01.6", hole_mm=6.6, at_mm=(360.0, 0.0, 0.0), seats=(Seat.INSERT, Seat.OPEN)),
        ]
    )
    rows = _rows(mixed, settings())
    assert [row.about for row in rows if row.quantity == "bolt size"] == ["J01.5", "J01.6", "J01.1 to J01.4 (4)"] or [
        row.about for row in rows if row.quantity == "bolt size"
    ] == ["J01.6", "J01.5", "J01.1 to J01.4 (4)"]
    assert "engagement" in _by_quantity(rows)


def test_a_dry_joint_has_no_adhesive_rows() -> None:
    assert "adhesive" not in _by_quantity(_rows(joint(ring(4)), settings()))
    assert _rows(joint(method=Method.DRY), settings()) == ()


def test_outside_the_range_the_rows_use_its_end() -> None:
    rows = _by_quantity(_rows(GLUED, settings(climate=Climate(shop_c=2.0, night_min_c=0.0))))
    assert "(23 - 10)/10" in str(rows["open time"].inputs)
