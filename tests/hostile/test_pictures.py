"""What the pages show lies in the book: nothing is fetched from elsewhere, and a logo holds all it shows."""

from __future__ import annotations

import base64
import io
import tempfile
from collections.abc import Callable
from pathlib import Path

import pikepdf
import pytest
from PIL import Image

from assembler.errors import BookFolderError, Fault
from assembler.projectfiles import logofile
from assembler.projectfiles.logofile import read_logo
from assembler.publishing.binding import Leaves, bound
from assembler.publishing.pdf import Typesetter, write_pdf
from assembler.publishing.rasters import STAND_IN


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """A folder of a book; beside it lies what must not get into it."""
    folder = tmp_path / "book"
    folder.mkdir()
    for name in ("secret.png", "book/own.png"):
        Image.new("RGB", (4, 2), "navy").save(tmp_path / name)
    (tmp_path / "secret.css").write_text("p { color: red }", encoding="utf-8")
    return folder


def _page(body: str, style: str = "") -> str:
    return f"<html lang='en'><head><title>t</title><style>{style}</style></head><body>{body}</body></html>"


def _svg(body: str) -> bytes:
    spaces = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    return f'<svg {spaces} viewBox="0 0 40 20" width="40" height="20">{body}</svg>'.encode()


def _address(svg: bytes) -> str:
    return f"data:image/svg+xml;base64,{base64.b64encode(svg).decode()}"


def _addresses(folder: Path) -> dict[str, str]:
    outside = folder.parent / "secret.png"
    return {
        "absolute": str(outside),
        "absolute in the book": f"http://book.invalid/{outside}",
        "parent encoded": "%2e%2e/secret.png",
        "parent encoded twice": "a/%2e%2e/%2e%2e/secret.png",
        "file": outside.as_uri(),
        "localhost": outside.as_uri().replace("file://", "file://localhost"),
        "http": "http://example.invalid/a.png",
        "ftp": "ftp://example.invalid/a.png",
        "link": "link.png",
    }


@pytest.mark.parametrize(
    "ask",
    [
        lambda address: _page(f"<img src='{address}' alt='x'>"),
        lambda address: _page(f'<svg width="9" height="9"><image href="{address}" width="9" height="9"></image></svg>'),
        lambda address: _page("<p>x</p>", f"p {{ background: url('{address}') }}"),
        lambda address: _page("<p>x</p>", f"@import url('{address}');"),
        lambda address: _page("<p>x</p>", f"@font-face {{ font-family: x; src: url('{address}') }}"),
        lambda address: _page(f"<link rel='stylesheet' href='{address}'><p>x</p>"),
        lambda address: _page(f"<object data='{address}'></object>"),
    ],
    ids=["img", "image", "background", "import", "font", "sheet", "object"],
)
def test_a_page_gets_nothing_from_outside_the_book(book: Path, ask: Callable[[str], str]) -> None:
    (book / "link.png").symlink_to(book.parent / "secret.png")
    for kind, address in _addresses(book).items():
        with pytest.raises(BookFolderError) as caught:
            write_pdf(ask(address), book / "t.pdf", base=book, is_tagged=False)
        assert all("\n" not in str(fault) for fault in caught.value.faults), kind
        assert not (book / "t.pdf").exists(), kind


@pytest.mark.parametrize("name", ["absolute", "parent encoded", "file", "http"])
def test_a_picture_written_into_the_page_gets_nothing_from_outside_either(book: Path, name: str) -> None:
    image = f'<image href="{_addresses(book)[name]}" width="4" height="2"/>'
    with pytest.raises(BookFolderError):
        write_pdf(_page(f"<img src='{_address(_svg(image))}' alt='x'>"), book / "t.pdf", base=book)


@pytest.mark.parametrize("sheet", ["@import 'file:///etc/hostname';", "@import url(http://example.invalid/a.css);"])
def test_the_style_of_all_pages_gets_nothing_from_outside_either(book: Path, sheet: str) -> None:
    with pytest.raises(BookFolderError, match="is no picture of the book"):
        Typesetter(base=book, style=sheet).pages(_page("<p>x</p>"))
    with pytest.raises(BookFolderError, match="is no picture of the book"):
        Typesetter(base=book, style=sheet).heights(_page('<div class="measured" data-block="a">x</div>'))


def test_pictures_of_the_book_and_in_the_page_are_shown(book: Path) -> None:
    own = base64.b64encode((book / "own.png").read_bytes()).decode()
    drawing = _address(_svg('<rect width="4" height="2"/>'))
    images = [
        "<img src='own.png' alt='x'>",
        f"<img src='data:image/png;base64,{own}' alt='x'>",
        f"<img src='{drawing}' alt='x'>",
    ]
    assert write_pdf(_page("".join(images)), book / "t.pdf", base=book).complaints == ()


def test_a_large_file_is_no_picture(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("assembler.publishing.bookpictures.PICTURE_BYTES", 10)
    with pytest.raises(BookFolderError, match="MB"):
        write_pdf(_page("<img src='own.png' alt='x'>"), book / "t.pdf", base=book)


def test_no_font_is_loaded_and_no_folder_stays_behind(
    book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "scratch").mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "scratch"))
    face = "@font-face { font-family: x; src: local('DejaVu Sans'), url(data:font/ttf;base64,AAEA) }"
    drawing = _address(_svg(f"<style>{face}</style>"))
    setter = Typesetter(base=book, style=face)
    with pytest.raises(BookFolderError, match="install the font on this machine"):
        setter.pages(_page("<p style='font-family: x'>x</p>"))
    with pytest.raises(BookFolderError, match="@font-face x"):
        write_pdf(_page(f"<img src='{drawing}' alt='x'>"), book / "t.pdf", base=book)
    assert list((tmp_path / "scratch").iterdir()) == []


def test_elements_nested_without_end_are_one_line(book: Path) -> None:
    with pytest.raises(BookFolderError, match="nested too deep"):
        write_pdf(_page("<div>" * 900), book / "t.pdf", base=book)


# The time may be over just when an object is given back; it is over again a little later.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.parametrize(
    ("body", "style"),
    [
        ("<p>x</p>" * 5000, "@page { size: 1px; margin: 0 }"),
        ("<p>" + "x " * 50000, "p { column-count: 900; column-fill: balance; height: 1mm }"),
    ],
)
def test_setting_ends(book: Path, monkeypatch: pytest.MonkeyPatch, body: str, style: str) -> None:
    monkeypatch.setattr("assembler.publishing.pdf.MOST_SECONDS", 0.3)
    with pytest.raises(BookFolderError, match="does not end within"):
        write_pdf(_page(body, style), book / "t.pdf", base=book)


def test_a_kept_page_cannot_ask_for_a_file_outside_the_book(book: Path) -> None:
    """What is kept lies in the project's .cache, and came with it."""
    stream = io.BytesIO()
    write_pdf(_page("<img src='own.png' alt='x'>"), book / "t.pdf", base=book)
    with pikepdf.open(book / "t.pdf") as pdf:
        (picture,) = [picture for page in pdf.pages for picture in page.Resources.XObject.as_dict().values()]
        picture[f"/{STAND_IN}"] = pikepdf.String("../secret.png")
        pdf.save(stream)
    with pytest.raises(BookFolderError, match="lies outside the book"):
        bound([Leaves(content=stream.getvalue(), bookmarks=(), labels=("1",))], book)


def _read(folder: Path, svg: bytes) -> object:
    (folder / "logo.svg").write_bytes(svg)
    return read_logo(folder / "figure.toml", "logo.svg")


_USES = "".join(f'<g id="g{n}"><use href="#g{n + 1}"/><use xlink:href="#g{n + 1}"/></g>' for n in range(40))


@pytest.mark.parametrize(
    ("body", "wrong"),
    [
        ('<image href="http://example.invalid/a.png"/>', "refers to 'http://example.invalid/a.png'"),
        ('<image xlink:href="../secret.png"/>', "refers to '../secret.png'"),
        ('<image href="%2e%2e/secret.png"/>', "refers to '%2e%2e/secret.png'"),
        ('<image href="data:image/svg+xml,%3Csvg/%3E"/>', "refers to 'data:image/svg+xml"),
        ('<use href="other.svg#a"/>', "refers to 'other.svg#a'"),
        ('<a href="http://example.invalid/"><rect/></a>', "refers to 'http://example.invalid/'"),
        ('<g xml:base="file:///"><rect/></g>', "refers to 'file:///'"),
        ('<rect style="fill: url(http://example.invalid/a.svg#b)"/>', "refers to 'http://example.invalid/a.svg#b'"),
        ("<rect fill=\"URL( 'a.svg#b' )\"/>", "refers to 'a.svg#b"),
        ('<rect style="fill: \\75 rl(a.svg)"/>', "refers to 'a.svg'"),
        ("<style>@import 'a.css';</style>", "loads something (@import)"),
        ("<style>@\\69mport 'a.css';</style>", "loads something (@import)"),
        ("<style>@font-face { font-family: x }</style>", "loads something (@font-face)"),
        ("<script>1</script>", "has an element <script>"),
        ("<foreignObject><p>x</p></foreignObject>", "has an element <foreignObject>"),
        ('<rect onclick="x()"/>', "has a script in 'onclick'"),
        (f"{_USES}<g id='g40'><rect/></g>", "draws more than 100000 elements"),
    ],
)
def test_a_logo_that_reaches_out_is_refused(tmp_path: Path, body: str, wrong: str) -> None:
    fault = _read(tmp_path, _svg(body))
    assert isinstance(fault, Fault)
    assert wrong in fault.wrong
    assert (fault.place, "\n" in str(fault)) == ("shop.logo", False)


@pytest.mark.parametrize(
    ("before", "wrong"),
    [
        ('<!DOCTYPE svg [<!ENTITY e SYSTEM "file:///etc/hostname">]>', "entity"),
        ("<!DOCTYPE svg [<!ENTITY e \"@import 'a.css'\">]>", "entity"),
        ('<?xml-stylesheet href="file:///etc/hostname"?>', "style sheet outside it"),
    ],
)
def test_a_logo_with_something_before_it_is_refused(tmp_path: Path, before: str, wrong: str) -> None:
    body = "<style>&e;</style>" if "ENTITY" in before else ""
    fault = _read(tmp_path, before.encode() + _svg(body))
    assert isinstance(fault, Fault)
    assert wrong in fault.wrong


def test_a_logo_that_holds_all_it_shows_is_taken(tmp_path: Path) -> None:
    own = base64.b64encode(b"x").decode()
    body = (
        '<defs><linearGradient id="a"/><linearGradient id="b" xlink:href="#a"/></defs>'
        '<style>.c { fill: url(#b); content: "\\201C" }</style><g id="me"><use href="#me"/></g>'
        f'<rect class="c" style="stroke: url(\'#b\')"/><image href="data:image/png;base64,{own}"/>'
    )
    assert isinstance(_read(tmp_path, _svg(body)), logofile.Logo)
