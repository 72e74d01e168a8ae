"""Whether the bolts of a joint carry it alone, without slip or gap, while the adhesive is still soft.

Goes in: a joint, its stacks, the mass it carries and where that is. Comes out: safety against slip and against gaping.
Only where both are large enough may a fresh joint be loaded (`work_on_bolts`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assembler.engineering.constants import GRAVITY_M_S2
from assembler.engineering.standing import elastic_bolt_group
from assembler.figure.hardware import Stack
from assembler.figure.ids import JointId
from assembler.figure.joints import Joint
from assembler.figure.parts import Vector

WET_FRICTION = 0.1
"""Friction of faces wet with adhesive (common practice, no source: a low value on purpose)."""

DRY_FRICTION = 0.1
"""Static friction of nylon on itself, dry: 0.04 to 0.13.

Shackelford, Materials Science and Engineering Handbook, 3rd ed., table 399 (read second-hand).
"""

KEPT_PRELOAD = 0.5
"""Share of the preload that is left after the first hours: plastic creeps (common practice, no source)."""

ASKED_SAFETY = 2.0
"""Safety asked against slip and gap (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoltsAlone:
    """How well the bolts hold a joint by themselves.

    Parameters
    ----------
    joint
        The joint.
    preload_n
        Left on each bolt.
    slip_safety
        Friction of the worst bolt's share over the shear on it; infinite without shear.
    gap_safety
        Preload over the pull on the worst bolt; infinite without pull.
    """

    joint: JointId
    preload_n: float
    slip_safety: float
    gap_safety: float

    @property
    def is_enough(self) -> bool:
        """Whether both are at least 2."""
        return min(self.slip_safety, self.gap_safety) >= ASKED_SAFETY


def preload_n(stack: Stack, nut_factor: float) -> float:
    """Preload that the printed torque gives: T / (K d).

    Parameters
    ----------
    stack
        With its torque and size ('M8').
    nut_factor
        K.
    """
    diameter_mm = float(stack.size.removeprefix("M"))
    return stack.torque_nm * 1000.0 / (nut_factor * diameter_mm)


def bolts_alone(
    joint: Joint, stacks: Sequence[Stack], carried_kg: float, centre_mm: Vector, up: Vector, nut_factor: float
) -> BoltsAlone:
    """Safety of a joint against slip and gap with its bolts only.

    Parameters
    ----------
    joint
        With its bolts.
    stacks
        Of all joints or of this one.
    carried_kg, centre_mm
        What hangs on the joint.
    up
        Direction that is up on the bench.
    nut_factor
        K.

    Returns
    -------
    BoltsAlone
        A joint without bolts has safety 0 as soon as it carries anything.

    References
    ----------
    Elastic bolt group in shear (`elastic_bolt_group`), and in tension: M r / sum(r^2) about the group's centre, plus
    the pull shared equally (any text on machine design).
    """
    own = {stack.bolt: stack for stack in stacks if stack.joint == joint.id}
    bolts = [bolt for bolt in joint.bolts if bolt.id in own]
    if not bolts:
        safety = math.inf if carried_kg == 0 else 0.0
        return BoltsAlone(joint=joint.id, preload_n=0.0, slip_safety=safety, gap_safety=safety)
    kept_n = KEPT_PRELOAD * min(preload_n(own[bolt.id], nut_factor) for bolt in bolts)
    friction = WET_FRICTION if joint.method.is_bonded else DRY_FRICTION
    points = np.array([bolt.at_mm for bolt in bolts], dtype=np.float64)
    middle, normal = points.mean(axis=0), np.asarray(joint.normal, dtype=np.float64)
    force = -np.asarray(up, dtype=np.float64) * carried_kg * GRAVITY_M_S2
    lever = np.asarray(centre_mm, dtype=np.float64) - middle
    moment = np.cross(lever, force)
    shear_n = _shear(points - middle, normal, force, float(moment @ normal))
    pull_n = _pull(points - middle, normal, force, moment)
    return BoltsAlone(
        joint=joint.id,
        preload_n=kept_n,
        slip_safety=friction * max(0.0, kept_n - pull_n) / shear_n if shear_n > 0 else math.inf,
        gap_safety=kept_n / pull_n if pull_n > 0 else math.inf,
    )


def _shear(arms: np.ndarray, normal: np.ndarray, force: np.ndarray, twist_nmm: float) -> float:
    """Greatest share of the force along the faces, the twist about the normal included, N."""
    helper = np.eye(3)[int(np.argmin(np.abs(normal)))]
    first = np.cross(helper, normal)
    first /= np.linalg.norm(first)
    frame = np.vstack((first, np.cross(normal, first)))
    flat = arms @ frame.T
    along = frame @ force
    polar = float((flat**2).sum())
    if polar < 1e-9:
        return float(np.linalg.norm(along)) / len(arms) + (math.inf if abs(twist_nmm) > 1e-6 else 0.0)
    shares = elastic_bolt_group(flat, (float(along[0]), float(along[1])), (0.0, 0.0))
    turned = np.column_stack((-flat[:, 1], flat[:, 0])) * (twist_nmm / polar)
    return float(np.linalg.norm(shares + turned, axis=1).max())


def _pull(arms: np.ndarray, normal: np.ndarray, force: np.ndarray, moment: np.ndarray) -> float:
    """Greatest pull on one bolt from the force across the faces and from the bending moment, N.

    The sign of the force across is not used: which part is carried is not known here, so it counts as a pull.
    """
    across_n = abs(float(force @ normal)) / len(arms)
    bending = moment - (moment @ normal) * normal
    size = float(np.linalg.norm(bending))
    if size < 1e-9:
        return across_n
    rises = arms @ np.cross(bending / size, normal)
    square = float((rises**2).sum())
    return across_n + (size * float(np.abs(rises).max()) / square if square > 1e-9 else math.inf)
