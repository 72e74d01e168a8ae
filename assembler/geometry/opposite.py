"""Is there a hole opposite a lone hole, though its mouth could not be read? A mouth and the other body in, a mouth out.

Noise and missing faces tear rims, seldom on both sides at once. Where one side shows a hole, the wall of its partner is
looked for on the same axis.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from assembler.figure.mesh import Mesh
from assembler.geometry.circles import axis_frame, fit_circle
from assembler.geometry.openings import Opening, Shape
from assembler.geometry.opposed import normals_and_heights

_SECTORS = 12
_LEAST_SECTORS = 9
_OFF_MM, _OFF_SHARE = 0.5, 0.12
_MOUTH_MM = 2.0
"""Depth within which the wall has to begin."""
_STEEP = 0.5


def hole_opposite(mesh: Mesh, mouth: Opening) -> Opening | None:
    """The mouth of the partner of a hole in another body; None where no round wall surrounds its axis.

    Parameters
    ----------
    mesh
        The body opposite, mm.
    mouth
        A round mouth; its axis points into the body opposite.
    """
    if mouth.shape is not Shape.ROUND:
        return None
    low, high = mesh.vertices.min(axis=0) - 1.0, mesh.vertices.max(axis=0) + 1.0
    if np.any(mouth.centre_mm < low) or np.any(mouth.centre_mm > high):
        return None
    arms = mesh.vertices - mouth.centre_mm
    along = arms @ mouth.axis
    reach = np.sqrt(np.maximum(np.einsum("ij,ij->i", arms, arms) - along**2, 0.0))
    radius = mouth.width_mm / 2
    slack = max(_OFF_MM, _OFF_SHARE * mouth.width_mm)
    is_near = (np.abs(reach - radius) <= slack) & (along > -slack) & (along < 12 * radius)
    faces = np.flatnonzero(is_near[mesh.faces].all(axis=1))
    if len(faces) < _LEAST_SECTORS:
        return None
    normals, _ = normals_and_heights(mesh, faces)
    middle = arms[mesh.faces[faces]].mean(axis=1)
    outward = middle - (middle @ mouth.axis)[:, None] * mouth.axis
    outward /= np.maximum(np.linalg.norm(outward, axis=1), 1e-12)[:, None]
    is_wall = (np.abs(normals @ mouth.axis) < _STEEP) & (np.einsum("ij,ij->i", normals, outward) < -_STEEP)
    is_wall &= along[mesh.faces[faces]].min(axis=1) < _MOUTH_MM
    return _mouth_of(mesh, faces[is_wall], mouth, slack)


def _mouth_of(mesh: Mesh, wall: np.ndarray, mouth: Opening, slack: float) -> Opening | None:
    used = np.unique(mesh.faces[wall])
    if len(used) < _LEAST_SECTORS:
        return None
    arms = mesh.vertices[used] - mouth.centre_mm
    frame = axis_frame(mouth.axis)[:2]
    flat = arms @ frame.T
    sector = (np.arctan2(flat[:, 1], flat[:, 0]) / (2 * np.pi) * _SECTORS).astype(int) % _SECTORS
    if len(np.unique(sector)) < _LEAST_SECTORS:
        return None
    centre, radius, off = fit_circle(flat)
    if np.linalg.norm(centre) > slack or np.abs(off).max() > slack:
        return None
    along = arms @ mouth.axis
    start = float(np.median([along[sector == number].min() for number in np.unique(sector)]))
    at = mouth.centre_mm + start * mouth.axis + centre @ frame
    return replace(
        mouth, centre_mm=at, width_mm=2 * radius, length_mm=2 * radius, axis=-mouth.axis, spread_mm=float(off.std())
    )
