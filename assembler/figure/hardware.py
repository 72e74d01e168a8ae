"""Hardware for one bolt axis: what fastening makes of a hole and a grip."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from assembler.figure.ids import BoltId, JointId
from assembler.figure.records import NOT_NEGATIVE, UNWRITTEN, Spoken, digits, key
from assembler.words import Said, say


@dataclass(frozen=True, slots=True, kw_only=True)
class Stack:
    """All pieces on one bolt axis, head side first.

    Sizes of the pieces follow from the standards; plan.json leaves them out, and a stack read from it has zeros there.

    Parameters
    ----------
    bolt, joint
        The axis and the joint whose bag holds the pieces.
    size
        'M8'.
    screw, nut, washer
        Standards ('ISO 4017'); `nut` is empty for an insert, `washer` where none fits.
    length_mm
        Nominal length chosen from the standard's series.
    needed_mm
        Grip + bond line + washers + nut + protrusion: what the length was rounded up from.
    grip_mm
        Between the seats, a bond line that the model lacks included.
    washers
        Pieces: one under the head, one under an open nut.
    washer_mm
        Greatest thickness of one washer.
    washer_outer_mm
        Outside diameter of the washer.
    head_mm, nut_mm
        Height of head and nut.
    across_flats_mm
        Of hexagon head (0 for socket heads) and nut: what spanners and sockets fit.
    nut_across_flats_mm
        Of the nut.
    key_mm
        Hexagon key of a socket head; 0 for a hexagon head.
    head_outer_mm
        Largest width of the head.
    protrusion_mm
        Thread past the nut with the chosen length.
    torque_nm
        Tightening torque; what limited it is in `torque_rule`.
    torque_rule
        'washer pressure on PA12' or 'proof load 8.8'.
    """

    bolt: BoltId
    joint: JointId
    size: str
    screw: str
    nut: str
    washer: str
    length_mm: Annotated[float, NOT_NEGATIVE]
    needed_mm: Annotated[float, digits(3)]
    grip_mm: Annotated[float, digits(3)]
    washers: int
    protrusion_mm: Annotated[float, digits(3)]
    torque_nm: Annotated[float, NOT_NEGATIVE, digits(2)]
    torque_rule: Spoken
    washer_mm: Annotated[float, UNWRITTEN] = 0.0
    washer_outer_mm: Annotated[float, UNWRITTEN] = 0.0
    head_mm: Annotated[float, UNWRITTEN] = 0.0
    nut_mm: Annotated[float, UNWRITTEN] = 0.0
    across_flats_mm: Annotated[float, UNWRITTEN] = 0.0
    nut_across_flats_mm: Annotated[float, UNWRITTEN] = 0.0
    key_mm: Annotated[float, UNWRITTEN] = 0.0
    head_outer_mm: Annotated[float, UNWRITTEN] = 0.0

    @property
    def tool(self) -> Said:
        """Tool on the head side, with its size."""
        if self.key_mm:
            return say("tool.hexagon_key", size_mm=self.key_mm)
        return say("tool.socket", size_mm=self.across_flats_mm)

    @property
    def nut_tool(self) -> Said:
        """Tool on an open nut."""
        return say("tool.spanner", size_mm=self.nut_across_flats_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class HardwareLine:
    """One line of a hardware list: pieces of one kind for one joint (or a total).

    Parameters
    ----------
    joint
        Whose bag it is; empty in totals.
    item
        Full standard designation ('Hexagon head screw ISO 4017 - M8 x 35 - 8.8').
    kind
        'screw', 'nut' or 'washer'.
    size, length_mm
        'M8'; 0 for nuts and washers.
    count
        Pieces.
    torque_nm
        For screws; 0 otherwise.
    """

    joint: JointId
    item: Spoken
    kind: str
    size: str
    length_mm: Annotated[float, NOT_NEGATIVE]
    count: Annotated[int, NOT_NEGATIVE]
    torque_nm: Annotated[float, NOT_NEGATIVE, digits(2)]


@dataclass(frozen=True, slots=True, kw_only=True)
class BuyLine:
    """What to buy of one kind.

    Parameters
    ----------
    item, kind
        As in `HardwareLine`.
    count, spares, packs, pack
        Pieces in the figure, spares by the stated rule, packs to buy, pieces in a pack.
    """

    item: Spoken
    kind: str
    count: int
    spares: int
    packs: int
    pack: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Bonding:
    """Adhesive for one joint.

    Parameters
    ----------
    joint, name
        The joint and the adhesive.
    area_mm2, volume_ml
        Net area; dose with waste.
    temperature_c
        Of the parts where the joint is closed.
    open_min, needed_min
        Open time at that temperature, and the time to spread, close and tighten.
    fixture_min, handling_min, full_cure_min
        At `hold_c`.
    hold_c
        Temperature that the hold is counted at: the night minimum where it runs over night. None: `temperature_c`.
    """

    joint: JointId
    name: str
    area_mm2: Annotated[float, NOT_NEGATIVE, digits(1)]
    volume_ml: Annotated[float, NOT_NEGATIVE, digits(2)]
    temperature_c: float
    open_min: Annotated[float, NOT_NEGATIVE, digits(1), key("open_minutes")]
    needed_min: Annotated[float, NOT_NEGATIVE, digits(1), key("needed_minutes")]
    fixture_min: Annotated[float, NOT_NEGATIVE, digits(1), key("fixture_minutes")]
    handling_min: Annotated[float, NOT_NEGATIVE, digits(1), key("handling_minutes")]
    full_cure_min: Annotated[float, NOT_NEGATIVE, digits(1), key("full_cure_minutes")]
    hold_c: Annotated[float | None, UNWRITTEN] = None
