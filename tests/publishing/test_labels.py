"""Labels: one for each part and bag, and codes that say what is printed."""

from __future__ import annotations

import re
from pathlib import Path

import pypdf

from assembler.publishing.labels import bag_labels, part_labels, write_labels
from assembler.publishing.words import load_words
from tests.publishing import sample


def test_each_part_and_each_bag_has_one_label() -> None:
    words = load_words()
    assert [label.id for label in part_labels(sample.PLAN, words)] == [part.id for part in sample.PARTS]
    bags = bag_labels(sample.PLAN, sample.HARDWARE, words)
    assert [label.id for label in bags] == [joint.id for joint in sample.JOINTS if joint.bolts]
    assert bags[0].lines == tuple(
        text.replace(" x ", "\u00a0×\u00a0") for text in ("6 screws M8 x 40", "12 washers M8", "6 nuts M8")
    )


def test_the_code_holds_words_and_differs_from_label_to_label() -> None:
    labels = part_labels(sample.PLAN, load_words())
    assert labels[1].code.alt == "Sample hare B | P02 | legs_front.stl | step 1"
    assert len({label.code.body_svg for label in labels}) == len(labels)


def test_the_sheet_has_all_of_them(tmp_path: Path) -> None:
    path = write_labels(plan=sample.PLAN, settings=sample.SETTINGS, hardware=sample.HARDWARE, out_dir=tmp_path)
    text = "\n".join(page.extract_text() for page in pypdf.PdfReader(path).pages)
    for name, file in sample.NAMES.items():
        assert text.count(f"{name}{file}") == 1
    for joint in sample.JOINTS:
        assert len(re.findall(rf"bag\n{joint.id}", text)) == bool(joint.bolts)
