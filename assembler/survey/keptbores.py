"""Where do the holes of a part lead? Followed in its mesh only where no earlier run followed the same hole in it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh, mesh_digest
from assembler.geometry.holes import Bore, BoreProbe, Kind
from assembler.geometry.openings import Opening
from assembler.geometry.outlinerecords import opening_record
from assembler.projectfiles.answers import Answers


class KeptProbe:
    """A mesh whose holes are followed, with a memory; made ready for it when a hole is first asked for that is new.

    Parameters
    ----------
    mesh
        In mm.
    answers
        What earlier runs found in the same mesh.
    """

    def __init__(self, mesh: Mesh, answers: Answers) -> None:
        self.mesh = mesh
        self._answers = answers
        self._probe: BoreProbe | None = None

    def follow(self, mouth: Opening, inward: NDArray[np.float64]) -> Bore:
        """The hole behind a mouth, as `BoreProbe.follow` tells it."""
        asked = self._answers.key("bore", mesh_digest(self.mesh), opening_record(mouth), inward.tolist())
        if not self._answers.has(asked):
            self._probe = self._probe or BoreProbe(self.mesh)
            self._answers.put(asked, _record(self._probe.follow(mouth, inward)))
        # Also a hole followed just now comes out of its record: the same numbers, whether remembered or not.
        return _bore(self._answers.get(asked))


class KeptProbes(dict[PartId, KeptProbe]):
    """Probes of all parts, each made when it is first asked for.

    Parameters
    ----------
    meshes, answers
        As for a probe.
    """

    def __init__(self, meshes: Mapping[PartId, Mesh], answers: Answers) -> None:
        super().__init__()
        self._meshes = meshes
        self._answers = answers

    def __missing__(self, part: PartId) -> KeptProbe:
        probe = self[part] = KeptProbe(self._meshes[part], self._answers)
        return probe


def _record(bore: Bore) -> dict[str, Any]:
    return {
        **asdict(bore),
        "depth_mm": float(bore.depth_mm),
        "room_mm": float(bore.room_mm),
        "is_pocket": bool(bore.is_pocket),
        "is_counterbored": bool(bore.is_counterbored),
    }


def _bore(record: Mapping[str, Any]) -> Bore:
    return Bore(**{**record, "kind": Kind(record["kind"])})
