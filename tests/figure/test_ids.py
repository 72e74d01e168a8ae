from __future__ import annotations

import random

from assembler.figure.ids import natural_key


def test_numbers_sort_as_people_count() -> None:
    wanted = ["2", "12", "12.1", "12a", "12b", "12z", "12za", "13", "J03", "J03.1", "J03.2", "J03.10", "P2", "P10"]
    shuffled = random.Random(4).sample(wanted, len(wanted))
    assert sorted(shuffled, key=natural_key) == wanted
