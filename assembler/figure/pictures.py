"""A picture as the book takes it: a raster of surfaces and lines under real, searchable text."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from assembler.figure.ids import PartId, SectionId, StepNumber
from assembler.figure.plan import View
from assembler.figure.records import Spoken


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """One finished picture.

    Parameters
    ----------
    file
        File name of the PNG beside the book.
    width_px, height_px
        Size of the PNG.
    overlay_svg
        SVG elements (no outer <svg>) in pixel coordinates of the PNG: leader lines, item references, arrows, words.
        Drawn over the raster, so that text stays text.
    legend
        Item references used in the overlay: (reference as printed, what it is: a part id or a hardware item).
    alt
        What the picture shows, in one or two sentences, for readers who cannot see it.
    view
        How it was taken and what it shows.
    corner_px
        Its left upper corner in the frame of its camera, whose empty borders are cut away.
    is_turn_told
        Whether words in it say how the work lies or was turned.
    """

    file: str
    width_px: int
    height_px: int
    overlay_svg: str = ""
    legend: tuple[tuple[str, str], ...] = ()
    alt: Spoken = ""
    view: View = View()
    corner_px: tuple[float, float] = (0.0, 0.0)
    is_turn_told: bool = False


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
