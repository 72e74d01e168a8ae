"""What a section has to stand on the road: forces on it, and whether it tips in the vehicle.

Goes in: mass, tip angle. Comes out: forces by direction, and the acceleration at which it tips. Lashing is for the
haulier. The values are those for lorries above 3.5 t; lighter vehicles brake and swerve harder.
"""

from __future__ import annotations

import math
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
    EN 12195-1, accelerations in road transport. Its scope leaves out vehicles up to 3.5 t, on which accelerations are
    higher; VDI 2700-16, as a maker's manual quotes it, gives 0.6 g sideways for these.
    """
    return tuple(
        TransportForce(
            direction=row.direction,
            acceleration_g=row.acceleration_g,
            force_n=mass_kg * row.acceleration_g * GRAVITY_M_S2,
        )
        for row in tables.transport_accelerations()
    )


def tips_at_g(tip_deg: float) -> float:
    """Horizontal acceleration, in g, at which a load tips over the nearest edge of what it stands on.

    Which way a section is loaded is not known: the edge that gives way first counts, whichever way the vehicle goes.

    Parameters
    ----------
    tip_deg
        Tip angle of the load as it stands in the vehicle (`assembler.engineering.standing.tip_angle_deg`): feet and
        centre of mass are in it, not the box around the load.

    Returns
    -------
    float
        0 for a load that does not stand by itself.

    References
    ----------
    Distance of the centre of mass from the edge over its height, which is the tangent of the tip angle (statics).
    """
    return max(0.0, math.tan(math.radians(min(tip_deg, 89.0))))


def asked_in_transport_g() -> float:
    """Acceleration that a load has to stand without tipping when it may be loaded any way round: braking.

    References
    ----------
    EN 12195-1: 0.8 forward, 0.6 sideways for loads that may tip, 0.5 to the rear.
    """
    return max(row.acceleration_g for row in tables.transport_accelerations() if row.direction != "down")


def stands_in_transport(tip_deg: float) -> bool:
    """Whether a load stands by itself on a lorry whichever way it is loaded, without lashing against tipping."""
    return tips_at_g(tip_deg) >= asked_in_transport_g()
