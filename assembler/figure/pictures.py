"""A picture as the book takes it: a raster of surfaces and lines under real, searchable text."""

from __future__ import annotations

from dataclasses import dataclass

from assembler.figure.plan import View


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
    """

    file: str
    width_px: int
    height_px: int
    overlay_svg: str = ""
    legend: tuple[tuple[str, str], ...] = ()
    alt: str = ""
    view: View = View()
