"""Which parts pass through themselves? Meshes in, findings out: the check that a quick survey leaves out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from assembler.figure.findings import Finding, Level, sort_findings
from assembler.figure.ids import PartId, natural_key
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Vector
from assembler.geometry.selfcrossings import find_crossings

_MOST_PLACES = 3


def self_crossings(meshes: Mapping[PartId, Mesh], progress: Callable[[str], None] | None = None) -> tuple[Finding, ...]:
    """A finding for each part whose surface passes through itself.

    Parameters
    ----------
    meshes
        In mm.
    progress
        Called with one line.
    """
    if progress:
        progress("looking for parts that pass through themselves")
    found = []
    for part in sorted(meshes, key=natural_key):
        crossings = find_crossings(meshes[part])
        if crossings is not None:
            found.append(_finding(part, len(crossings.pairs), crossings.places_mm))
    return sort_findings(found)


def _finding(part: PartId, crossing: int, places_mm: Sequence[Vector]) -> Finding:
    count = len(places_mm)
    named = "; ".join("(" + ", ".join(f"{value:.0f}" for value in place) + ") mm" for place in places_mm[:_MOST_PLACES])
    rest = f" and in {count - _MOST_PLACES} more places" if count > _MOST_PLACES else ""
    pairs = "one pair" if crossing == 1 else f"{crossing} pairs"
    return Finding(
        level=Level.WARN,
        code="self-intersection",
        about=(part,),
        message=f"{part} passes through itself: {pairs} of faces cross near {named}{rest}",
        remedy="unite the pieces or mend the mesh there; where it overlaps itself, volume and mass are counted twice",
    )
