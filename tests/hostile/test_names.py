"""Names are text wherever they are printed: in pages, links, spreadsheets."""

from __future__ import annotations

import csv
import io
import xml.etree.ElementTree as ElementTree
from dataclasses import fields, is_dataclass, replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import openpyxl
import pypdf
import pytest

from assembler.drawing.overlay import words
from assembler.errors import TemplateError
from assembler.publishing.binding import Leaves, bound
from assembler.publishing.contactsheet import contact_cards
from assembler.publishing.ordergraph import order_diagrams
from assembler.publishing.pdf import Typesetter
from assembler.publishing.sheets import sheet_size
from assembler.publishing.supplies import Supply
from assembler.publishing.tables import hardware_csv, hardware_xlsx, plain_text
from assembler.publishing.templating import Templates
from assembler.publishing.words import Words, load_words
from tests.publishing import sample
from tests.publishing.conftest import documents_html, source_of

EVIL = """"'><script>x</script><img src=file:///etc/hostname>&{joint}{0.__class__}{{7*7}}{% x %}%s=1+1"""


class Elements(HTMLParser):
    """Kinds of elements, ids, and where links lead."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.kinds: list[str] = []
        self.ids: list[str] = []
        self.links: set[str] = set()
        self.text = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.kinds.append(tag)
        self.ids += [value or "" for key, value in attrs if key == "id"]
        self.links |= {value or "" for key, value in attrs if key == "href" and tag == "a"}

    def handle_data(self, data: str) -> None:
        self.text += data


def _renamed(thing: Any, old: str, new: str) -> Any:
    """The same with a name changed wherever it stands."""
    if type(thing) is str:
        return thing.replace(old, new)
    if isinstance(thing, tuple):
        return tuple(_renamed(other, old, new) for other in thing)
    if isinstance(thing, dict):
        return {_renamed(key, old, new): _renamed(value, old, new) for key, value in thing.items()}
    if is_dataclass(thing) and not isinstance(thing, type | Words):
        return replace(thing, **{field.name: _renamed(getattr(thing, field.name), old, new) for field in fields(thing)})
    return thing


def test_names_stay_text_on_every_page(tmp_path: Path) -> None:
    plain = source_of(tmp_path)
    expected = Elements(documents_html(plain))
    step, finding = sample.STEPS[0].title, sample.FINDINGS[0].message
    stated = ("J02", "Sample hare", "Sample client", "Sample shop", "legs_front.stl", "PA12 sintered", sample.ADHESIVE)
    evil = plain
    for name in (*stated, step, finding):
        evil = _renamed(evil, name, name + EVIL)
    found = Elements(documents_html(replace(evil, pictures=plain.pictures)))
    assert found.kinds == expected.kinds
    assert len(found.ids) == len(expected.ids)
    assert {link.removeprefix("#") for link in found.links} <= set(found.ids)
    assert [name for name in ("J02", *stated[1:2], *stated[4:], step) if name + EVIL not in found.text] == []


@pytest.mark.parametrize(
    "drawn",
    [
        words((0.0, 0.0), EVIL),
        order_diagrams(_renamed(sample.PLAN, sample.STEPS[0].title, EVIL), {}, load_words())[0].body_svg,
    ],
)
def test_a_name_stays_text_in_a_drawing(drawn: str) -> None:
    texts = "".join(ElementTree.fromstring(f"<svg>{drawn}</svg>").itertext())
    assert "<script" not in drawn
    assert EVIL[:20] in texts


def test_a_link_leads_to_an_odd_id(tmp_path: Path) -> None:
    name = "=cmd|' /C calc'!A0 <b>{x}{{7*7}} é"
    page = "<html lang='en'><head><title>t</title></head><body>{}</body></html>"
    evil = name.replace("<", "&lt;")
    setter = Typesetter(base=tmp_path, is_piece=True)
    bodies = (f'<p><a href="#{evil}">there</a></p>', f'<h1 id="{evil}">here</h1>')
    pieces = [setter.pages(page.replace("{}", body)) for body in bodies]
    leaves = [Leaves(content=piece.content, bookmarks=piece.bookmarks, labels=("1",)) for piece in pieces]
    reader = pypdf.PdfReader(io.BytesIO(bound(leaves, tmp_path)))
    (link,) = [reference.get_object() for reference in reader.pages[0]["/Annots"]]
    assert link["/Dest"] == name
    assert "/A" not in link
    assert name in reader.named_destinations


def test_a_name_stays_text_on_the_contact_sheet() -> None:
    def html(name: str) -> str:
        joints = _renamed(sample.JOINTS, "J02", name)
        words = load_words()
        return Templates(None, {"w": words}).filled(
            "contactsheet.html",
            cards=contact_cards(joints, _renamed(sample.PARTS, "legs_front", name), {}, sample.SETTINGS, words),
            figure=name,
            revision="A",
            date="2031-01-01",
            count="1",
            language="en",
            sheet=sheet_size("A4"),
        )

    assert Elements(html("J02" + EVIL)).kinds == Elements(html("J02")).kinds


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t=", "\r=", "\n=", " =", "\0", "＝", "a;="])
def test_no_cell_of_the_table_is_a_formula(start: str) -> None:
    evil = f"{start}cmd|' /C calc'!A0\r=1+1"
    supplies = [Supply(item=evil, standard=evil, size=evil, grade=evil, bag=evil, step=evil, joint=evil, tool=evil)]
    text = hardware_csv(supplies)
    assert "\r" not in text
    rows = list(csv.reader(io.StringIO(text)))
    assert len({len(row) for row in rows}) == 1
    # Where the comma is the decimal sign, a semicolon begins a cell.
    cells = [cell.strip() for row in rows for part in row for cell in part.split(";")]
    assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@", "\0", "＝"))]
    sheets = openpyxl.load_workbook(io.BytesIO(hardware_xlsx(supplies, load_words())))
    kinds = {cell.data_type for sheet in sheets for row in sheet.iter_rows() for cell in row}
    assert kinds <= {"s", "n"}


def test_ordinary_texts_and_numbers_stay_as_they_are() -> None:
    supplies = [Supply(item=line.item, size=line.size, count=line.count) for line in sample.HARDWARE]
    text = hardware_csv(supplies)
    assert "'" not in text
    assert all(float(row["count"]) > 0 for row in csv.DictReader(io.StringIO(text)))
    assert plain_text("ISO 4017 - M8 x 40 - 8.8") == "ISO 4017 - M8 x 40 - 8.8"


@pytest.mark.parametrize("name", ["a[b]", "x" * 32, "By bag"])
def test_a_sheet_name_that_cannot_be_is_one_line(tmp_path: Path, name: str) -> None:
    (tmp_path / "words.en.toml").write_text(f'[table.sheet]\nbuy = "{name}"\n', encoding="utf-8")
    with pytest.raises(TemplateError, match=r"words.en.toml: table.sheet.(buy|bag): got"):
        hardware_xlsx((), load_words(tmp_path))
