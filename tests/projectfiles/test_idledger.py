from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from assembler.figure.parts import Fingerprint
from assembler.projectfiles.idledger import Ledger, issue_part_ids, read_ledger, write_ledger

MARK = Fingerprint(
    volume_mm3=1.0,
    area_mm2=6.0,
    centre_mm=(0.1, 0.2, 0.3),
    inertia_mm5=(1.0, 2.0, 3.0),
    skew_mm6=-0.5,
    low_mm=(0.0, 0.0, 0.0),
    high_mm=(1.0, 1.0, 1.0),
)


def test_ids_follow_names_and_a_valid_stem_keeps_its_own() -> None:
    files = ["left arm FINAL v2.stl", "kopf übergröße.stl", "P07.stl", "base.stl"]
    _, ids = issue_part_ids(Ledger(), dict.fromkeys(files, MARK), {})
    assert ids == {
        "P07.stl": "P07",
        "base.stl": "P08",
        "kopf übergröße.stl": "P09",
        "left arm FINAL v2.stl": "P10",
    }


def test_a_number_that_was_given_out_is_never_given_to_something_else(tmp_path: Path) -> None:
    path = tmp_path / "ids.toml"
    ledger, first = issue_part_ids(Ledger(), {"a.stl": MARK, "b.stl": MARK}, {})
    write_ledger(path, ledger)
    ledger = read_ledger(path)
    ledger, second = issue_part_ids(ledger, {"b.stl": MARK, "c.stl": MARK}, {})
    assert (first["a.stl"], first["b.stl"], second["b.stl"], second["c.stl"]) == ("P01", "P02", "P02", "P03")
    assert [(entry.id, entry.is_retired) for entry in ledger.parts] == [("P01", True), ("P02", False), ("P03", False)]
    ledger, third = issue_part_ids(ledger, {"a.stl": MARK, "b.stl": MARK}, {})
    assert third["a.stl"] == "P01"


def test_a_renamed_file_keeps_its_id() -> None:
    ledger, ids = issue_part_ids(Ledger(), {"a.stl": MARK, "b.stl": MARK}, {})
    ledger, again = issue_part_ids(ledger, {"a new.stl": MARK, "b.stl": MARK}, {"a new.stl": ids["a.stl"]})
    assert again == {"a new.stl": "P01", "b.stl": "P02"}
    assert [entry.file for entry in ledger.parts] == ["a new.stl", "b.stl"]


def test_the_ledger_reads_back_exactly(tmp_path: Path) -> None:
    ledger, _ = issue_part_ids(Ledger(), {'a "quoted" name.stl': replace(MARK, skew_mm6=1e-17)}, {})
    write_ledger(tmp_path / "ids.toml", ledger)
    assert read_ledger(tmp_path / "ids.toml") == ledger
