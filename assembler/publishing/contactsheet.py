"""Sheets to check a survey by: every joint face-on with its holes numbered; one joint, part or step looked at alone.

Goes in: joints, parts and a drawing of each joint's face; pictures of one thing. Comes out: contact-sheet.pdf; a page.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from assembler.figure.ids import JointId, natural_key
from assembler.figure.joints import Joint, Seat
from assembler.figure.parts import Part
from assembler.figure.pictures import Picture
from assembler.figure.settings import Settings
from assembler.publishing.pdf import write_pdf
from assembler.publishing.sheets import sheet_size
from assembler.publishing.templating import Templates
from assembler.publishing.words import load_words
from assembler.words import Words

PDF = "contact-sheet.pdf"
_PX_PER_MM = 300.0 / 25.4
"""Of the pictures of a book."""
FACE_MM = (78.0, 50.0)
"""Width and height of one drawing on paper."""


HORIZONTAL = 0.7
"""A joint whose normal is steeper than this is seen from above or below, and has no up on the sheet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One joint on the sheet.

    Parameters
    ----------
    id, parts, method
        Which joint, between what, held how.
    facts
        Area, seam, bolts with holes and grips: one line each.
    seen
        From which side; says where up is.
    is_upright
        Whether up on the sheet is up in the figure.
    face_svg
        The drawing.
    """

    id: str
    parts: str
    method: str
    facts: tuple[str, ...]
    seen: str
    is_upright: bool
    face_svg: str


def contact_cards(
    joints: Sequence[Joint], parts: Sequence[Part], faces: Mapping[JointId, str], settings: Settings, words: Words
) -> tuple[Card, ...]:
    """One card for each joint, in the order of the ids."""
    files = {part.id: part.file for part in parts}
    return tuple(
        Card(
            id=joint.id,
            parts=words(
                "contact.parts",
                first=f"{joint.parts[0]} {files[joint.parts[0]]}",
                second=f"{joint.parts[1]} {files[joint.parts[1]]}",
            ),
            method=words(f"method.{joint.method.replace(' ', '_')}"),
            facts=_facts(joint, words),
            seen=words(f"contact.seen.{_side(joint, settings)}", part=joint.parts[0]),
            is_upright=_side(joint, settings) == "level",
            face_svg=faces.get(joint.id, ""),
        )
        for joint in sorted(joints, key=lambda joint: natural_key(joint.id))
    )


def _side(joint: Joint, settings: Settings) -> str:
    """From where the first part sees the joint."""
    rise = sum(one * way for one, way in zip(joint.normal, settings.up, strict=True))
    if abs(rise) < HORIZONTAL:
        return "level"
    return "below" if rise > 0 else "above"


def _facts(joint: Joint, words: Words) -> tuple[str, ...]:
    lines = [words("contact.area", area=f"{joint.bond_area_mm2 / 100:.1f}", seam=f"{joint.seam_mm:.0f}")]
    kinds: dict[tuple[str, str, str], list[str]] = {}
    for bolt in joint.bolts:
        seats = [seat.value for seat in bolt.seats if seat is not Seat.OPEN]
        key = (f"{bolt.hole_mm:.1f}", f"{bolt.grip_mm:.1f}", ", ".join(seats))
        kinds.setdefault(key, []).append(bolt.id.rpartition(".")[2])
    for (hole, grip, seat), numbers in sorted(kinds.items()):
        line = words("contact.bolts", numbers=", ".join(numbers), hole=hole, grip=grip)
        lines.append(f"{line}, {seat}" if seat else line)
    return tuple(lines)


def write_contact_sheet(
    *,
    joints: Sequence[Joint],
    parts: Sequence[Part],
    faces: Mapping[JointId, str],
    settings: Settings,
    out_dir: Path,
    overrides: Path | None = None,
) -> Path:
    """The contact sheet as `contact-sheet.pdf`.

    Parameters
    ----------
    joints, parts
        As surveyed.
    faces
        One <svg> element for each joint.
    settings
        Name of the figure, and the sheet size.
    out_dir
        Folder that exists.
    overrides
        Folder beside the project whose templates and words win.

    Raises
    ------
    TemplateError
        If an override, or the catalogue, is broken.
    BookFolderError
        If the file cannot be written.
    """
    words = load_words(overrides)
    html = Templates(overrides, {"w": words}).filled(
        "contactsheet.html",
        cards=contact_cards(joints, parts, faces, settings, words),
        figure=settings.name,
        revision=settings.revision,
        date=settings.date,
        count=str(len(joints)),
        language=words("book.language"),
        sheet=sheet_size(settings.sheet),
    )
    write_pdf(html, out_dir / PDF, base=out_dir)
    return out_dir / PDF


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One joint, part or step, on a page of its own.

    Parameters
    ----------
    title, facts
        What it is, and a line for each thing to know of it.
    pictures
        The main one first.
    """

    title: str
    facts: tuple[str, ...]
    pictures: tuple[Picture, ...]

    @property
    def widths_mm(self) -> tuple[str, ...]:
        """Of the pictures, as large as in a book."""
        return tuple(f"{one.width_px / _PX_PER_MM:.1f}" for one in self.pictures)

    @property
    def heights_mm(self) -> tuple[str, ...]:
        """The same."""
        return tuple(f"{one.height_px / _PX_PER_MM:.1f}" for one in self.pictures)


def write_look(look: Look, folder: Path, *, overrides: Path | None = None) -> Path:
    """One page as `look.pdf`, beside the files of its pictures.

    Raises
    ------
    TemplateError
        If an override, or the catalogue, is broken.
    BookFolderError
        If a picture cannot be read.
    """
    words = load_words(overrides)
    html = Templates(overrides, {"w": words}).filled("look.html", look=look, language=words("book.language"))
    write_pdf(html, folder / "look.pdf", base=folder, is_tagged=False)
    return folder / "look.pdf"
