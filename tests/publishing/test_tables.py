"""hardware.csv read back: sums agree, nothing is lost."""

from __future__ import annotations

import csv
import io
from collections import Counter

from assembler.publishing.tables import COLUMNS, hardware_csv
from assembler.words import built_in
from tests.publishing import sample


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def test_bags_add_up_to_what_is_bought() -> None:
    rows = rows_of(hardware_csv(built_in(), sample.HARDWARE, sample.BUY))
    bags: Counter[str] = Counter()
    for row in rows:
        if row["list"] == "bag":
            bags[row["item"]] += int(row["count"])
    assert bags == {row["item"]: int(row["count"]) for row in rows if row["list"] == "buy"}
    assert {row["bag"] for row in rows if row["list"] == "bag"} == {line.joint for line in sample.HARDWARE}


def test_the_order_of_the_input_does_not_matter() -> None:
    assert hardware_csv(built_in(), sample.HARDWARE[::-1], sample.BUY) == hardware_csv(
        built_in(), sample.HARDWARE, sample.BUY
    )


def test_without_hardware_only_the_head_is_left() -> None:
    assert hardware_csv(built_in(), (), ()) == ",".join(COLUMNS) + "\n"
