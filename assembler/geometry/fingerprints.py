"""Is this the solid we saw before? Numbers that a re-export does not move, and their comparison by tolerance."""

from __future__ import annotations

import math

import numpy as np

from assembler.figure.mesh import Mesh
from assembler.figure.parts import Fingerprint
from assembler.geometry.solids import MassProperties, bounds, mass_properties


def fingerprint(mesh: Mesh, properties: MassProperties | None = None) -> Fingerprint:
    """What a solid is recognised by.

    Parameters
    ----------
    mesh
        In mm, in the frame of the figure.
    properties
        Its `mass_properties`, where they are known already.

    Returns
    -------
    Fingerprint
        `skew_mm6` is the cube root of the product of the third moments (integral of r |r|^2) along the principal
        axes, taken as a right-handed frame in ascending order of inertia. Turning two axes over leaves it as it is;
        mirroring the solid changes its sign. It is zero for a solid with a mirror plane, and also for one with a
        two-fold axis of rotation, whose mirrored twins it therefore cannot tell apart.
    """
    if properties is None:
        properties = mass_properties(mesh)
    moments, axes = np.linalg.eigh(properties.inertia_mm5)
    if np.linalg.det(axes) < 0:
        axes[:, 2] *= -1
    along = properties.third_mm6 @ axes
    skew = float(np.cbrt(along[0]) * np.cbrt(along[1]) * np.cbrt(along[2]))
    low_mm, high_mm = bounds(mesh)
    return Fingerprint(
        volume_mm3=properties.volume_mm3,
        area_mm2=properties.area_mm2,
        centre_mm=properties.centre_mm,
        inertia_mm5=(float(moments[0]), float(moments[1]), float(moments[2])),
        skew_mm6=skew,
        low_mm=low_mm,
        high_mm=high_mm,
    )


def is_same_shape(a: Fingerprint, b: Fingerprint, *, tolerance_mm: float = 0.05) -> bool:
    """Whether two solids are alike wherever they stand, mirrored twins told apart.

    Parameters
    ----------
    a, b
        Fingerprints.
    tolerance_mm
        Shift of the surface that still counts as the same solid: rounding of single precision, healing.
    """
    return _is_alike(a, b, tolerance_mm) and _skew_matches(a.skew_mm6, b.skew_mm6, a, tolerance_mm)


def is_same_solid(a: Fingerprint, b: Fingerprint, *, tolerance_mm: float = 0.05) -> bool:
    """Whether two solids are alike and stand in the same place.

    Parameters
    ----------
    a, b, tolerance_mm
        As in `is_same_shape`.
    """
    shifts = [math.dist(a.centre_mm, b.centre_mm)]
    shifts += [math.dist(p, q) for p, q in zip(a.box_mm, b.box_mm, strict=True)]
    return max(shifts) <= 2 * tolerance_mm and is_same_shape(a, b, tolerance_mm=tolerance_mm)


def is_mirror_twin(a: Fingerprint, b: Fingerprint, *, tolerance_mm: float = 0.05) -> bool:
    """Whether one solid is the mirror image of the other and not the same.

    Parameters
    ----------
    a, b, tolerance_mm
        As in `is_same_shape`.
    """
    if not _is_alike(a, b, tolerance_mm) or _skew_matches(a.skew_mm6, b.skew_mm6, a, tolerance_mm):
        return False
    return _skew_matches(a.skew_mm6, -b.skew_mm6, a, tolerance_mm)


def _is_alike(a: Fingerprint, b: Fingerprint, tolerance_mm: float) -> bool:
    """Whether everything that mirroring leaves alone agrees."""
    swept = max(a.area_mm2, b.area_mm2) * tolerance_mm
    if abs(a.volume_mm3 - b.volume_mm3) > swept:
        return False
    if abs(a.area_mm2 - b.area_mm2) > 0.005 * max(a.area_mm2, b.area_mm2):
        return False
    reach = _reach(a)
    # A surface shifted by the tolerance moves a second moment by at most the swept volume times the reach squared.
    return all(abs(p - q) <= swept * reach**2 for p, q in zip(a.inertia_mm5, b.inertia_mm5, strict=True))


def _skew_matches(a: float, b: float, like: Fingerprint, tolerance_mm: float) -> bool:
    # Compared as cubes: a product of three moments, each uncertain by the swept volume times the reach cubed.
    reach = _reach(like)
    slack = like.area_mm2 * tolerance_mm * reach**3 * 0.1
    return abs(a - b) <= max(slack, 0.02 * max(abs(a), abs(b)))


def _reach(a: Fingerprint) -> float:
    """Radius of gyration, mm."""
    across = math.dist(*a.box_mm)
    if a.volume_mm3 <= 0:
        return across / 2
    # Marks are read from files too: no radius is larger than the box.
    return min(math.sqrt(sum(a.inertia_mm5) / 2 / a.volume_mm3), across)
