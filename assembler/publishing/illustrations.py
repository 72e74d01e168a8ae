"""Which picture belongs to which place of the book: what the drawing room hands to the pages."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from assembler.figure.ids import PartId, SectionId, StepNumber
from assembler.figure.pictures import Picture


@dataclass(frozen=True, slots=True, kw_only=True)
class Pictures:
    """All pictures of a book; their files lie in the folder the book is written to.

    Parameters
    ----------
    cover
        The finished figure.
    overview
        All parts apart; None: the page is set without it.
    steps
        By step: the main view first, then details. A step that is missing here gets a page without a picture.
    thumbnails
        By part.
    sections
        By section.
    """

    cover: Picture | None = None
    overview: Picture | None = None
    steps: Mapping[StepNumber, tuple[Picture, ...]] = field(default_factory=dict)
    thumbnails: Mapping[PartId, Picture] = field(default_factory=dict)
    sections: Mapping[SectionId, Picture] = field(default_factory=dict)
