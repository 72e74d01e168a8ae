"""Which file is which part? Names change, files are exchanged, whole exports slip; geometry tells.

The fingerprints of all files and the ledger go in; ids for files whose name does not tell, and findings, come out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from assembler.figure.findings import Finding, Level
from assembler.figure.ids import PartId, natural_key
from assembler.figure.parts import Fingerprint
from assembler.projectfiles.idledger import Ledger, PartEntry
from assembler.recut.likeness import SAME, Sameness, is_same_shape, is_unchanged
from assembler.recut.motion import Motion, common_motion, factor_between, unit_slip

_UNIT_SHARE = 1e-3


def renamed_files(fingerprints: Mapping[str, Fingerprint], ledger: Ledger, same: Sameness = SAME) -> dict[str, PartId]:
    """Ids of files whose geometry says something else than their name.

    Parameters
    ----------
    fingerprints
        Of every file there is now, by file name.
    ledger
        Ids given out so far.
    same
        Tolerances.

    Returns
    -------
    dict
        New names of known parts, and known names that were exchanged among parts (mirror twins swapped, say). The id
        follows the geometry, because the label sticks to the printed part. Each id occurs once. A file that is not
        in it keeps the id of its name, or is new.

    Notes
    -----
    A file that carries the solid of a part takes over its id even from a file of that part's own name, if that one
    carries something else by now: the print with that label on it is still right. Where two candidates are equally
    good, the first by natural order wins. A solid in its old place is recognised first; one that was renamed and
    moved as well only when nothing else has its shape.
    """
    by_file = {entry.file: entry for entry in ledger.parts}
    files = sorted(fingerprints, key=natural_key)
    # Files that are what their name says are settled; all others look for a part that lies exactly where they lie.
    settled = {
        by_file[file].id for file in files if file in by_file and _is_itself(fingerprints[file], by_file[file], same)
    }
    restless = [file for file in files if file not in by_file or by_file[file].id not in settled]
    entries = _by_preference(entry for entry in ledger.parts if entry.id not in settled)
    found: dict[str, PartEntry] = {}
    for file in restless:
        taken = {entry.id for entry in found.values()}
        for entry in entries:
            if entry.id not in taken and is_unchanged(fingerprints[file], entry.fingerprint, same):
                found[file] = entry
                break
    found = {file: entry for file, entry in found.items() if entry.file != file}
    found.update(_moved_and_renamed(fingerprints, entries, found, by_file, same))
    return {file: found[file].id for file in sorted(found, key=natural_key)}


def _is_itself(mark: Fingerprint, entry: PartEntry, same: Sameness) -> bool:
    return not entry.is_retired and is_unchanged(mark, entry.fingerprint, same)


def _by_preference(entries: Iterable[PartEntry]) -> list[PartEntry]:
    return sorted(entries, key=lambda entry: (entry.is_retired, natural_key(entry.id)))


def _moved_and_renamed(
    fingerprints: Mapping[str, Fingerprint],
    entries: Iterable[PartEntry],
    found: Mapping[str, PartEntry],
    by_file: Mapping[str, PartEntry],
    same: Sameness,
) -> dict[str, PartEntry]:
    """Unknown files with the shape of exactly one part whose file is gone, and the reverse."""
    claimed = {entry.id for entry in found.values()}
    gone = [e for e in entries if e.id not in claimed and e.file not in fingerprints and not e.is_retired]
    unknown = [file for file in sorted(fingerprints, key=natural_key) if file not in by_file and file not in found]
    matches = {
        file: [entry for entry in gone if is_same_shape(fingerprints[file], entry.fingerprint, same)]
        for file in unknown
    }
    claims = [entries_of[0].id for entries_of in matches.values() if len(entries_of) == 1]
    return {
        file: entries_of[0]
        for file, entries_of in matches.items()
        if len(entries_of) == 1 and claims.count(entries_of[0].id) == 1
    }


def ledger_fingerprints(ledger: Ledger) -> dict[str, Fingerprint]:
    """Fingerprint of every part in use, by file name."""
    return {entry.file: entry.fingerprint for entry in ledger.parts if not entry.is_retired}


def figure_motion(fingerprints: Mapping[str, Fingerprint], ledger: Ledger, same: Sameness = SAME) -> Motion | None:
    """How the whole export was shifted, turned or rescaled against what the ledger knows; None where it was not.

    Parameters
    ----------
    fingerprints, ledger, same
        As in `figure_shift`.
    """
    return common_motion(ledger_fingerprints(ledger), fingerprints, same)


def restated_unit(motion: Motion, was_mm: float | None, is_mm: float | None) -> Finding | None:
    """A note where the whole figure changed its size because figure.toml states another unit now; else None.

    Parameters
    ----------
    motion
        From `figure_motion`.
    was_mm, is_mm
        Length of one unit of the files, when the ledger was written and now; None: not stated.
    """
    if was_mm is None or is_mm is None or was_mm == is_mm:
        return None
    is_meant = abs(motion.factor / (is_mm / was_mm) - 1.0) < _UNIT_SHARE
    if not is_meant or max(abs(shift) for shift in motion.shift_mm) > _UNIT_SHARE * max(is_mm, was_mm):
        return None
    return Finding(
        level=Level.NOTE,
        code="unit-restated",
        about=(),
        message=f"figure.toml states another unit than at the last survey ({is_mm:g} mm instead of {was_mm:g} mm); "
        "everything was measured anew",
        remedy="look at holes and places that were written into joints.toml by hand",
    )


def figure_shift(fingerprints: Mapping[str, Fingerprint], ledger: Ledger, same: Sameness = SAME) -> Finding | None:
    """A `stop` when the whole export was shifted, turned or rescaled against what the ledger knows; else None.

    Parameters
    ----------
    fingerprints
        Of every file there is now, by file name.
    ledger
        As it was before this export: once it has taken the new fingerprints over, there is nothing left to see.
    same
        Tolerances.
    """
    motion = figure_motion(fingerprints, ledger, same)
    if motion is None:
        return None
    remedy = "export again with the origin and axes of the last export"
    if motion.factor != 1.0:
        remedy = "export again in the unit of the last export, or correct [figure] unit in figure.toml"
    remedy += _if_meant(motion)
    return Finding(
        level=Level.STOP,
        code="figure-rescaled" if motion.factor != 1.0 else "figure-shifted",
        about=(),
        message=f"the whole export is {motion.words()} against the last one ({motion.parts} parts bear it out); "
        "the plan is made as if it were not",
        remedy=remedy,
    )


def _if_meant(motion: Motion) -> str:
    """How to go on with a motion that is no slip; a shift can be taken back at every reading."""
    if motion.factor == 1.0 and motion.turn is None:
        shift = ", ".join(f"{value:.3f}" for value in motion.shift_mm)
        return f"; if it is meant, write moved_mm = [{shift}] under [figure] in figure.toml: it is taken back then"
    return "; if it is meant, start a new project: numbers and places of this one belong to the old export"


def export_slips(fingerprints: Mapping[str, Fingerprint], ledger: Ledger, same: Sameness = SAME) -> tuple[Finding, ...]:
    """A `stop` for each single part that was exported in another unit; empty when all were (see `figure_shift`).

    Parameters
    ----------
    fingerprints, ledger, same
        As in `figure_shift`.
    """
    if figure_shift(fingerprints, ledger, same) is not None:
        return ()
    known = {entry.file: entry for entry in ledger.parts if not entry.is_retired}
    slips: list[Finding] = []
    for file in sorted(fingerprints.keys() & known.keys(), key=natural_key):
        factor = factor_between(known[file].fingerprint, fingerprints[file], same)
        if factor is None or not (why := unit_slip(factor)):
            continue
        slips.append(
            Finding(
                level=Level.STOP,
                code="part-rescaled",
                about=(known[file].id,),
                message=f"{known[file].id} ({file}) is {factor:.6g} times its last size: {why}",
                remedy="export this part again in the unit of the others",
            )
        )
    return tuple(slips)
