from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest

from assembler.figure.findings import Level
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Fingerprint
from assembler.geometry.fingerprints import fingerprint
from assembler.projectfiles.idledger import Ledger, issue_part_ids
from assembler.recut.identity import (
    export_slips,
    factor_between,
    figure_motion,
    figure_shift,
    renamed_files,
    restated_unit,
)
from assembler.recut.likeness import is_mirror_twin, is_same_shape, is_unchanged
from tests.recut.tower import Recipe, marks, mesh_of, re_exported, solids

A = Recipe()


def _ledger(found: Mapping[str, Fingerprint]) -> Ledger:
    return issue_part_ids(Ledger(), found, {})[0]


LEDGER = _ledger(marks(A))


@pytest.mark.parametrize("seed", range(3))
def test_a_re_export_is_the_same_solid(seed: int) -> None:
    for part, solid in solids(A).items():
        mesh = mesh_of(solid)
        again = re_exported(mesh, seed)
        assert len(again.faces) != len(mesh.faces)
        assert is_unchanged(fingerprint(mesh), fingerprint(again)), part


def test_a_text_export_with_two_decimals_is_the_same_solid() -> None:
    for part, solid in solids(A).items():
        mesh = mesh_of(solid)
        again = Mesh(vertices=np.round(mesh.vertices, 2), faces=mesh.faces)
        assert is_unchanged(fingerprint(mesh), fingerprint(again)), part


def test_one_bolt_hole_more_is_another_solid() -> None:
    more = marks(replace(A, bolts={1: 7}))
    kept = [file for file, mark in marks(A).items() if is_unchanged(mark, more[file])]
    assert kept == ["P01.stl", "P04.stl", "P05.stl", "P06.stl"]


def test_mirror_twins_are_alike_but_not_the_same() -> None:
    found = marks(A)
    left, right = found["P05.stl"], found["P06.stl"]
    assert is_mirror_twin(left, right)
    assert not is_same_shape(left, right)
    assert not is_mirror_twin(left, left)
    assert not is_mirror_twin(found["P02.stl"], found["P02.stl"])


def test_nothing_is_renamed_when_every_file_is_what_it_was() -> None:
    assert renamed_files(marks(A), LEDGER) == {}


def test_all_files_renamed_at_once_keep_their_numbers() -> None:
    names = {part: f"otter_{index:03d} final.obj" for index, part in enumerate(sorted(solids(A), reverse=True))}
    found = marks(replace(A, files=names))
    assert renamed_files(found, LEDGER) == {name: part for part, name in names.items()}


def test_mirror_twins_with_exchanged_files_are_recognised() -> None:
    found = marks(replace(A, files={"P05": "P06.stl", "P06": "P05.stl"}))
    assert renamed_files(found, LEDGER) == {"P05.stl": "P06", "P06.stl": "P05"}


def test_the_ledger_follows_exchanged_files() -> None:
    found = marks(replace(A, files={"P05": "P06.stl", "P06": "P05.stl"}))
    ledger, ids = issue_part_ids(LEDGER, found, renamed_files(found, LEDGER))
    assert (ids["P05.stl"], ids["P06.stl"]) == ("P06", "P05")
    assert {entry.id: entry.file for entry in ledger.parts}["P05"] == "P06.stl"
    assert sorted(ids.values()) == [entry.id for entry in LEDGER.parts]
    # And the next run, with nothing changed, leaves it so.
    assert renamed_files(found, ledger) == {}


def test_three_files_exchanged_in_a_ring_are_recognised() -> None:
    found = marks(replace(A, files={"P01": "P02.stl", "P02": "P03.stl", "P03": "P01.stl"}))
    assert renamed_files(found, LEDGER) == {"P02.stl": "P01", "P03.stl": "P02", "P01.stl": "P03"}


def test_the_label_stays_on_the_solid_when_a_file_carries_something_new() -> None:
    found = marks(A)
    found["P03.stl"] = found["P02.stl"]
    found["P02.stl"] = marks(replace(A, bolts={0: 8}))["P02.stl"]
    renamed = renamed_files(found, LEDGER)
    assert renamed == {"P03.stl": "P02"}
    _, ids = issue_part_ids(LEDGER, found, renamed)
    assert (ids["P03.stl"], ids["P02.stl"]) == ("P02", "P07")


def test_no_number_is_taken_from_a_file_that_is_what_it_says() -> None:
    found = marks(A)
    found["copy.stl"] = found["P02.stl"]
    assert renamed_files(found, LEDGER) == {}


def test_a_file_saved_over_another_takes_the_number_of_its_shape() -> None:
    found = marks(A)
    found["P01.stl"] = found.pop("P02.stl")
    assert renamed_files(found, LEDGER) == {"P01.stl": "P02"}


def test_a_part_that_is_renamed_and_moved_is_recognised_by_its_shape_alone() -> None:
    found = marks(replace(A, arms_on=1, files={"P05": "left.stl"}))
    assert renamed_files(found, LEDGER) == {"left.stl": "P05"}


def test_of_several_equal_shapes_none_is_guessed() -> None:
    found = marks(A)
    twice = fingerprint(mesh_of(solids(A)["P05"].translate((0.0, 0.0, -150.0))))
    del found["P05.stl"]
    assert renamed_files({**found, "a.stl": twice, "b.stl": twice}, LEDGER) == {}


def test_the_order_of_files_does_not_matter() -> None:
    found = marks(replace(A, files={"P05": "P06.stl", "P06": "P05.stl", "P01": "foot.stl"}))
    wanted = renamed_files(found, LEDGER)
    for seed in range(5):
        names = random.Random(seed).sample(sorted(found), len(found))
        assert renamed_files({name: found[name] for name in names}, LEDGER) == wanted


def test_a_shifted_export_is_said_with_its_offset() -> None:
    finding = figure_shift(marks(replace(A, shift_mm=(0.0, 10.0, -2.5))), LEDGER)
    assert finding is not None
    assert finding.level is Level.STOP
    assert finding.code == "figure-shifted"
    assert "shifted by (0.00, 10.00, -2.50) mm" in finding.message


@pytest.mark.parametrize(
    ("factor", "said"), [(25.4, "inches"), (0.001, "metres"), (0.1, "centimetres"), (1.02, "1.02")]
)
def test_a_slip_of_units_is_said_with_its_factor(factor: float, said: str) -> None:
    finding = figure_shift(marks(replace(A, factor=factor)), LEDGER)
    assert finding is not None
    assert (finding.level, finding.code) == (Level.STOP, "figure-rescaled")
    assert f"factor of {factor:g}" in finding.message
    assert said in finding.message


def test_a_unit_that_figure_toml_states_anew_is_no_slip() -> None:
    motion = figure_motion(marks(replace(A, factor=1000.0)), LEDGER)
    assert motion is not None
    meant = restated_unit(motion, 1.0, 1000.0)
    assert meant is not None
    assert (meant.level, meant.code) == (Level.NOTE, "unit-restated")
    # The unit stayed, or changed to something else than the size says: the export slipped.
    assert restated_unit(motion, 1.0, 1.0) is None
    assert restated_unit(motion, 1.0, 25.4) is None
    assert restated_unit(motion, None, 1000.0) is None
    assert restated_unit(replace(motion, shift_mm=(0.0, 0.0, 500.0)), 1.0, 1000.0) is None


def test_a_turned_export_is_said_with_its_angle() -> None:
    turned = {A.file(p): fingerprint(mesh_of(s.rotate((90.0, 0.0, 0.0)))) for p, s in solids(A).items()}
    finding = figure_shift(turned, LEDGER)
    assert finding is not None
    assert "turned by 90.0 degrees" in finding.message


def test_a_shift_is_still_seen_when_one_part_was_cut_again_too() -> None:
    found = marks(replace(A, shift_mm=(10.0, 0.0, 0.0), bolts={2: 8}))
    finding = figure_shift(found, LEDGER)
    assert finding is not None
    assert "4 parts bear it out" in finding.message


def test_parts_moved_on_purpose_are_no_shifted_export() -> None:
    # A longer lowest tube lifts everything above it: more than half of the parts move alike, and all are meant to.
    longer = replace(A, cuts=(0.0, 140.0, 260.0, 380.0, 500.0))
    assert figure_shift(marks(longer), LEDGER) is None


def test_an_unchanged_figure_and_a_new_project_have_no_shift() -> None:
    assert figure_shift(marks(A), LEDGER) is None
    assert figure_shift(marks(A), Ledger()) is None


def test_one_part_in_another_unit_is_named() -> None:
    found = marks(A)
    found["P04.stl"] = fingerprint(mesh_of(solids(A)["P04"].scale((1 / 25.4,) * 3)))
    (slip,) = export_slips(found, LEDGER)
    assert (slip.level, slip.code, slip.about) == (Level.STOP, "part-rescaled", ("P04",))
    assert figure_shift(found, LEDGER) is None
    assert export_slips(marks(replace(A, factor=10.0)), LEDGER) == ()


@pytest.mark.parametrize("volume", [1e-300, 5e-324, 1e300])
def test_a_volume_that_no_part_has_is_no_factor(volume: float) -> None:
    mark = next(iter(marks(A).values()))
    assert factor_between(replace(mark, volume_mm3=volume), mark) is None
    assert factor_between(mark, replace(mark, volume_mm3=volume)) is None
