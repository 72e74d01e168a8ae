"""Openings that could not be read: each by itself while they are few, their share in one line where they are many."""

from __future__ import annotations

import numpy as np
import pytest

from assembler.figure.ids import JointId, PartId
from assembler.survey.bolting import Bolting
from assembler.survey.contacts import Touch
from assembler.survey.jointfindings import MOST_UNREAD, hole_findings


@pytest.mark.parametrize("count", [MOST_UNREAD, MOST_UNREAD + 1])
def test_many_unread_openings_are_one_line(count: int) -> None:
    touch = Touch(parts=(PartId("P01"), PartId("P02")), patches=(), loose=(), curved=None, seam_mm=0.0)
    met = (touch, Bolting(axes=(), pins=(), unmatched=(), unread=tuple((np.full(3, k), 6.0) for k in range(count))))
    found = hole_findings([JointId("J01")], [met])
    if count <= MOST_UNREAD:
        assert len(found) == count
    else:
        (line,) = found
        assert str(line.message).startswith(f"{count} of {count} openings that face each other could not be read")
        assert str(line.message).endswith(f": J01 {count}")
