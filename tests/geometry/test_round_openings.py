"""Round mouths of holes, seen along their axis."""

from __future__ import annotations

import numpy as np

from assembler.geometry.openings import round_opening


def test_corners_beside_a_torn_mouth_are_left_out() -> None:
    """Up to a quarter of the corners may lie beside the circle; more of them, and it is no round mouth."""
    angle = np.linspace(0.0, 2 * np.pi, 24, endpoint=False)
    rim = np.column_stack((5.5 * np.cos(angle), 5.5 * np.sin(angle), np.zeros(24)))
    axis = np.array([0.0, 0.0, 1.0])
    rim[[2, 9, 17], :2] *= 1.3
    assert round_opening(rim, axis) is None
    opening = round_opening(rim, axis, is_torn=True)
    assert opening is not None
    assert abs(opening.width_mm - 11.0) < 0.01
    rim[::3, :2] *= 1.4
    assert round_opening(rim, axis, is_torn=True) is None
