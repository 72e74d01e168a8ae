"""Arrays kept from run to run: the same bits back, by everything asked, and never an error from a damaged file."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from assembler.projectfiles.cachefolder import CacheFolder
from assembler.projectfiles.keptarrays import KeptArrays


def _kept(root: Path, common: str = "code 1") -> KeptArrays:
    return KeptArrays(CacheFolder(root=root), common=common)


def _filled(root: Path) -> str:
    kept = _kept(root)
    key = kept.key("grid", [1, 2.5])
    kept.put(key, {"numbers": np.array([[0.1, np.pi], [-0.0, 1e300]]), "flags": np.zeros(0, dtype=bool)}, {"low": [3]})
    kept.save()
    return key


def test_arrays_come_back_bit_for_bit_with_their_value(tmp_path: Path) -> None:
    found = _kept(tmp_path).get(_filled(tmp_path))
    assert found is not None
    assert found.value == {"low": [3]}
    assert found.arrays["numbers"].tobytes() == np.array([[0.1, np.pi], [-0.0, 1e300]]).tobytes()
    assert found.arrays["flags"].shape == (0,)
    assert found.arrays["flags"].dtype == bool


def test_nothing_is_written_before_it_is_saved(tmp_path: Path) -> None:
    kept = _kept(tmp_path / "cache")
    key = kept.key("grid")
    kept.put(key, {"numbers": np.arange(3)})
    assert kept.get(key) is not None
    assert not (tmp_path / "cache").exists()


def test_another_question_and_other_code_find_nothing(tmp_path: Path) -> None:
    key = _filled(tmp_path)
    same, other = _kept(tmp_path), _kept(tmp_path, "code 2")
    assert same.key("grid", [1, 2.5]) == key
    assert len({key, same.key("grid", [1, 2.25]), same.key("grid", 1, 2.5), other.key("grid", [1, 2.5])}) == 4
    assert same.get(same.key("grid", [1])) is None


@pytest.mark.parametrize("harm", ["cut short", "other bytes", "no file", "no list"])
def test_a_damaged_entry_is_not_there_and_can_be_made_again(tmp_path: Path, harm: str) -> None:
    key = _filled(tmp_path)
    (file,) = tmp_path.glob("*/*/*.bin")
    data = file.read_bytes()
    if harm == "cut short":
        file.write_bytes(data[: len(data) // 2])
    elif harm == "other bytes":
        file.write_bytes(data[:-40] + bytes(40))
    elif harm == "no file":
        file.unlink()
    else:
        # Whole by its own list, and yet not what is expected.
        (file.parent / "entry.json").unlink()
        file.unlink()
        file.parent.rmdir()
        CacheFolder(root=tmp_path).store(key, {"arrays.bin": b"not a list of arrays"})
    assert _kept(tmp_path).get(key) is None


def test_objects_are_refused(tmp_path: Path) -> None:
    kept = _kept(tmp_path)
    with pytest.raises(ValueError, match="numbers"):
        kept.put(kept.key("grid"), {"words": np.array(["a", None], dtype=object)})
