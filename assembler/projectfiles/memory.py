"""What earlier runs of a project found out: answers and arrays, for the rooms that ask costly questions."""

from __future__ import annotations

from dataclasses import dataclass, field

from assembler.projectfiles.answers import Answers
from assembler.projectfiles.keptarrays import KeptArrays


@dataclass(frozen=True, slots=True, kw_only=True)
class Memory:
    """Answers and arrays of earlier runs; as it is made by default, of this run only.

    Parameters
    ----------
    answers
        Small: JSON values by question.
    arrays
        Large: meshes and grids.
    """

    answers: Answers = field(default_factory=Answers)
    arrays: KeptArrays = field(default_factory=KeptArrays)

    def save(self) -> None:
        """Write what this run found out.

        Raises
        ------
        OSError
            If it cannot be written.
        """
        self.answers.save()
        self.arrays.save()
