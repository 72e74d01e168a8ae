"""Where does each crate stand on the vehicle, in how many trips, and what holds it? By CP-SAT, crates not stacked."""

from __future__ import annotations

from collections.abc import Sequence

from ortools.sat.python import cp_model

from assembler.catalogue import tables
from assembler.engineering.lashing import (
    SAFETY_FORWARD,
    SAFETY_OTHER,
    straps_against_sliding,
    straps_against_tipping,
)
from assembler.figure.consignment import Crate, Stowed, Straps, Tipping, Trip
from assembler.figure.settings import Vehicle

_LIMIT = 20.0
"""Deterministic seconds of the solver."""


def loads(crates: Sequence[Crate], vehicle: Vehicle) -> tuple[Trip, ...]:
    """The fewest trips, each loaded from the front wall, its mass near the middle line.

    Parameters
    ----------
    crates
        Each has to fit alone, see `fits`.
    vehicle
        Its floor and payload.
    """
    placed = _placed(crates, vehicle)
    trips = []
    for trip in sorted({place[0] for place in placed}):
        chosen = sorted(
            ((place, crate) for place, crate in zip(placed, crates, strict=True) if place[0] == trip),
            key=lambda item: (item[0][1], item[0][2]),
        )
        stowed = tuple(_stowed(crate, (x, y), is_turned) for (_, x, y, is_turned), crate in chosen)
        trips.append(_trip(stowed, [crate for _, crate in chosen]))
    return tuple(trips)


def fits(crate: Crate, vehicle: Vehicle) -> bool:
    """Whether a crate goes in alone, either way round, and is light enough."""
    length, width, height = crate.outer_mm
    floor = (vehicle.length_mm, vehicle.width_mm)
    is_flat = max(length, width) <= max(floor) and min(length, width) <= min(floor)
    return is_flat and height <= vehicle.height_mm and crate.gross_kg <= vehicle.payload_kg


def _placed(crates: Sequence[Crate], vehicle: Vehicle) -> list[tuple[int, float, float, bool]]:
    """Trip, place from the front and from the left, and whether turned, of each crate."""
    model = cp_model.CpModel()
    long, wide = int(vehicle.length_mm), int(vehicle.width_mm)
    # All trips lie behind one another on one long floor, so that one rule keeps crates apart.
    trips = [model.new_int_var(0, len(crates) - 1, f"trip {crate.id}") for crate in crates]
    along, across, turned, spans, bands = [], [], [], [], []
    for crate, trip in zip(crates, trips, strict=True):
        length, width = (int(edge + 0.999) for edge in crate.outer_mm[:2])
        is_turned = model.new_bool_var(f"turned {crate.id}")
        lies = model.new_int_var_from_domain(cp_model.Domain.from_values([length, width]), f"length {crate.id}")
        model.add(lies == length + (width - length) * is_turned)
        x, y = model.new_int_var(0, long, f"x {crate.id}"), model.new_int_var(0, wide, f"y {crate.id}")
        model.add(x + lies <= long)
        model.add(y + length + width - lies <= wide)
        start = model.new_int_var(0, long * len(crates), f"start {crate.id}")
        model.add(start == x + long * trip)
        end = model.new_int_var(0, long * len(crates), f"end {crate.id}")
        spans.append(model.new_interval_var(start, lies, end, f"along {crate.id}"))
        band = model.new_int_var(0, max(length, width), f"width {crate.id}")
        model.add(band == length + width - lies)
        side = model.new_int_var(0, wide, f"side {crate.id}")
        bands.append(model.new_interval_var(y, band, side, f"across {crate.id}"))
        along.append(x)
        across.append((y, band))
        turned.append(is_turned)
    model.add_no_overlap_2d(spans, bands)
    last = model.new_int_var(0, len(crates) - 1, "last trip")
    model.add_max_equality(last, trips)
    aside = []
    for number in range(len(crates)):
        here = []
        for crate, trip in zip(crates, trips, strict=True):
            flag = model.new_bool_var(f"{crate.id} in {number}")
            model.add(trip == number).only_enforce_if(flag)
            model.add(trip != number).only_enforce_if(flag.negated())
            here.append(flag)
        masses = [int(crate.gross_kg + 0.999) for crate in crates]
        model.add(cp_model.LinearExpr.weighted_sum(here, masses) <= int(vehicle.payload_kg))
    for crate, (y, band) in zip(crates, across, strict=True):
        off = model.new_int_var(0, 2 * wide, f"off {crate.id}")
        model.add_abs_equality(off, 2 * y + band - wide)
        aside.append(off)
    # The farthest from the middle line first: of two crates side by side neither leans on its wall alone.
    farthest = model.new_int_var(0, 2 * wide, "farthest aside")
    model.add_max_equality(farthest, aside)
    model.minimize(100_000_000 * last + 100 * sum(along) + 10 * farthest + sum(aside))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    # Its own handler would leave Ctrl-C to the system afterwards, and the command would end without a word.
    solver.parameters.catch_sigint_signal = False
    solver.parameters.max_deterministic_time = _LIMIT
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        raise AssertionError("each crate fits alone: one trip each is a plan")
    return [
        (solver.value(trip), float(solver.value(x)), float(solver.value(y)), bool(solver.value(flag)))
        for trip, x, (y, _), flag in zip(trips, along, across, turned, strict=True)
    ]


def _stowed(crate: Crate, at_mm: tuple[float, float], is_turned: bool) -> Stowed:
    rows = tipping(crate, is_turned=is_turned)
    return Stowed(
        crate=crate.id, at_mm=at_mm, is_turned=is_turned, tipping=rows, straps=_straps(crate, rows, is_turned=is_turned)
    )


def levers(crate: Crate, *, is_turned: bool) -> dict[str, tuple[float, float]]:
    """For each direction of the vehicle, how far the centre of mass is from that edge, and the base across it, mm.

    The crate's inner end, where its length is measured from, points to the front; turned, to the left.
    """
    length, width, _ = crate.outer_mm
    x, y, _ = crate.centre_mm
    if is_turned:
        return {"forward": (width - y, width), "rear": (y, width), "left": (x, length), "right": (length - x, length)}
    return {"forward": (x, length), "rear": (length - x, length), "left": (y, width), "right": (width - y, width)}


def tipping(crate: Crate, *, is_turned: bool) -> tuple[Tipping, ...]:
    """In which directions of the vehicle a crate stands by itself.

    References
    ----------
    EN 12195-1: 0.8 forward, 0.5 to the rear, 0.6 to the side for what may tip.
    """
    asked = {row.direction: row.acceleration_g for row in tables.transport_accelerations()}
    names = {"forward": "forward", "rear": "rear", "left": "side where it may tip", "right": "side where it may tip"}
    return tuple(
        Tipping(direction=direction, stands_g=arm / crate.centre_mm[2], asked_g=asked[names[direction]])
        for direction, (arm, _) in levers(crate, is_turned=is_turned).items()
    )


def _straps(crate: Crate, rows: Sequence[Tipping], *, is_turned: bool) -> Straps:
    arms = levers(crate, is_turned=is_turned)
    asked = {row.direction: row.acceleration_g for row in tables.transport_accelerations()}
    over = max(
        straps_against_tipping(
            crate.gross_kg,
            row.asked_g,
            SAFETY_FORWARD if row.direction == "forward" else SAFETY_OTHER,
            height_mm=crate.centre_mm[2],
            arm_mm=arms[row.direction][0],
            base_mm=arms[row.direction][1],
        )
        for row in rows
    )
    return Straps(
        sliding_forward=straps_against_sliding(crate.gross_kg, asked["forward"], SAFETY_FORWARD),
        sliding_side=straps_against_sliding(crate.gross_kg, asked["side"], SAFETY_OTHER),
        tipping=over,
        blocked=max(1, over),
    )


def _trip(stowed: tuple[Stowed, ...], crates: Sequence[Crate]) -> Trip:
    mass = sum(crate.gross_kg for crate in crates)
    along, across = 0.0, 0.0
    for one, crate in zip(stowed, crates, strict=True):
        arms = levers(crate, is_turned=one.is_turned)
        along += crate.gross_kg * (one.at_mm[0] + arms["forward"][0])
        across += crate.gross_kg * (one.at_mm[1] + arms["left"][0])
    return Trip(stowed=stowed, mass_kg=mass, centre_mm=(along / mass, across / mass))
