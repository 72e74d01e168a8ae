"""What a section has to stand on the road: forces on it, and whether it tips in the vehicle.

Goes in: mass, size, centre. Comes out: forces by direction, stability. Lashing is for the haulier.
"""

from __future__ import annotations

from dataclasses import dataclass

from assembler.catalogue import tables
from assembler.engineering.constants import GRAVITY_M_S2


@dataclass(frozen=True, slots=True, kw_only=True)
class TransportForce:
    """Force of inertia in one direction.

    Parameters
    ----------
    direction
        'forward', 'rear', 'side', 'side where it may tip', 'down'.
    acceleration_g
        In multiples of standard gravity.
    force_n
        On the section's centre of mass.
    """

    direction: str
    acceleration_g: float
    force_n: float


def transport_forces(mass_kg: float) -> tuple[TransportForce, ...]:
    """Forces on a section in road transport, one for each direction.

    Parameters
    ----------
    mass_kg
        Of the section in its crate.

    References
    ----------
    EN 12195-1, accelerations in road transport.
    """
    return tuple(
        TransportForce(
            direction=row.direction,
            acceleration_g=row.acceleration_g,
            force_n=mass_kg * row.acceleration_g * GRAVITY_M_S2,
        )
        for row in tables.transport_accelerations()
    )


def is_stable_in_transport(length_mm: float, width_mm: float, centre_height_mm: float) -> bool:
    """Whether a crate stands by itself on a lorry, forward, to the rear and sideways, without lashing against tipping.

    Parameters
    ----------
    length_mm, width_mm
        Of the crate's footprint, along and across the vehicle; its centre of mass is taken in the middle.
    centre_height_mm
        Of the centre of mass above the floor of the vehicle.

    References
    ----------
    EN 12195-1: half the footprint over the height of the centre of mass, against 0.8 forward and 0.6 sideways (the
    value where a load may tip).
    """
    needed = {row.direction: row.acceleration_g for row in tables.transport_accelerations()}
    along, across = length_mm / (2.0 * centre_height_mm), width_mm / (2.0 * centre_height_mm)
    return along > needed["forward"] and across > needed["side where it may tip"]
