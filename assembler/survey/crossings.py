"""Which parts pass through themselves? Meshes in, findings out: the check that a quick survey leaves out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from assembler.figure.findings import Finding, Level, sort_findings
from assembler.figure.ids import PartId, natural_key
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Vector
from assembler.geometry.selfcrossings import find_crossings
from assembler.words import say

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
    rest = say("crossings.more_places", count=count - _MOST_PLACES) if count > _MOST_PLACES else ""
    pairs = say("crossings.one_pair") if crossing == 1 else say("crossings.pairs", crossing=crossing)
    return Finding(
        level=Level.WARN,
        code="self-intersection",
        about=(part,),
        message=say("finding.self-intersection", part=part, pairs=pairs, named=named, rest=rest),
        remedy=say("remedy.self-intersection"),
    )
