"""Bolt groups by the elastic method."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from assembler.engineering.standing import elastic_bolt_group
from tests.published.reading import json_cases, source


@pytest.mark.parametrize("case", json_cases("bolt_groups.json"), ids=lambda case: case["id"])
@source("bhandari", "shigley")
def test_bolt_groups(case: dict[str, Any]) -> None:
    # Bhandari, Design of Machine Elements, Ex. 7.3 and 7.4 (V2 inputs from an open companion, C forces);
    # Shigley, bar bolted to a channel (M inputs, C forces).
    forces = elastic_bolt_group(np.array(case["bolts"], dtype=float), tuple(case["load"]), tuple(case["at"]))
    sizes = np.linalg.norm(forces, axis=1)
    np.testing.assert_allclose(forces.sum(axis=0), case["load"], atol=1e-9)
    if "resultants" in case:
        np.testing.assert_allclose(sizes, case["resultants"], atol=0.001)
    else:
        assert sizes.max() == pytest.approx(case["resultant_max"], abs=0.001)
        if "resultant_min" in case:
            assert sizes.min() == pytest.approx(case["resultant_min"], abs=0.001)
