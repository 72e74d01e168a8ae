"""Whole books: where they are written to, and what templates, words and pictures of a stranger do in them."""

from __future__ import annotations

import itertools
import os
import random
import shutil
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import assembler
from tests.hostile.mutations import mutated_bytes, mutated_text
from tests.hostile.projectcases import CHECK, DONE, RECORD, RECUT, REFUSED, Edit, Start, put, swap
from tests.hostile.trial import Case, Place

BOOK = (("book", "{project}"),)
ISSUE = (("book", "{project}", "--issue"),)


def _case(start: Start, kind: str, name: str, edit: Edit, calls: Any = BOOK, **more: Any) -> Case:
    def build(place: Place) -> None:
        start.copy(place, is_warm=True)
        edit(place)

    more = {"keeps": ("project/books/A",), "is_full": True, **more}
    return Case(kind=kind, name=name, build=build, calls=calls, **more)


def _precious(place: Place) -> None:
    (place.case / "precious").mkdir()
    (place.case / "precious" / "thesis.txt").write_text("my thesis")


def _like_a_book(place: Place) -> None:
    _precious(place)
    (place.case / "precious" / "book.json").write_text('{"revision": "draft"}')


def _by_a_link(place: Place) -> None:
    _precious(place)
    (place.case / "link").symlink_to(place.case / "precious")


def _notes_in_the_draft(place: Place) -> None:
    draft = place.project / "books" / "draft"
    draft.mkdir(exist_ok=True)
    (draft / "notes by hand.txt").write_text("do not lose me")


def crafted_books(start: Start) -> Iterator[Case]:
    """Where a book is written to, what was there, and what is in it."""
    yield from _written_to(start)
    yield from _in_a_book(start)


def _written_to(start: Start) -> Iterator[Case]:
    # No place outside of the case's own folders, ever: a program with a hole would do what it is asked to do.
    everything = (
        "project/figure.toml",
        "project/joints.toml",
        "project/ids.toml",
        "project/parts",
        "project/books/A",
        "precious",
    )
    for name, edit, word in (
        ("a folder with other things", _precious, "{case}/precious"),
        ("a folder that looks like a book", _like_a_book, "{case}/precious"),
        ("a link to a folder", _by_a_link, "{case}/link"),
        ("the project", _precious, "{project}"),
        ("its books", _precious, "{project}/books"),
        ("an issued book", _precious, "{project}/books/A"),
        ("a new place among its books", _precious, "{project}/books/B"),
        ("its parts", _precious, "{project}/parts"),
        ("inside its parts", _precious, "{project}/parts/new"),
        ("its cache", _precious, "{project}/.cache"),
        ("its kept meshes", _precious, "{project}/kept-meshes"),
        ("the folder above", _precious, "{case}"),
        ("outside", _precious, "{outside}"),
        ("a dot", _precious, "."),
        ("nothing", _precious, ""),
        ("round about", _precious, "{project}/books/../books/A"),
        ("a file", _precious, "{case}/precious/thesis.txt"),
        ("below a file", _precious, "{case}/precious/thesis.txt/book"),
        ("a long name", _precious, "{case}/" + "n" * 300),
        ("a folder that is not there", _precious, "{case}/none/at/all"),
    ):
        codes = (
            frozenset((0, 1, 2))
            if name
            in ("a folder that is not there", "a new place among its books", "nothing", "a dot", "inside its parts")
            else REFUSED
        )
        more: dict[str, Any] = {}
        yield _case(
            start,
            "book",
            f"-o {name}",
            edit,
            (("book", "{project}", "-o", word),),
            codes=codes,
            keeps=everything,
            **more,
        )

    def other_words(place: Place) -> None:
        swap("figure.toml", r"^client = .*$", 'client = "Another"')(place)

    yield _case(
        start, "book", "draft with notes in it", _notes_in_the_draft, keeps=("project/books/draft/notes by hand.txt",)
    )
    yield _case(start, "book", "issue again", lambda place: None, ISSUE, codes=DONE)
    yield _case(start, "book", "issue again, other input", other_words, ISSUE, codes=REFUSED)
    yield _case(
        start,
        "book",
        "issue again, other output",
        lambda place: None,
        (("book", "{project}", "--issue", "-o", "{case}/elsewhere"),),
    )


def _in_a_book(start: Start) -> Iterator[Case]:
    for key in ("name", "client", "contact"):
        for value in (
            "<script>alert(1)</script>",
            "{{7*7}}",
            "n" * 3000,
            "&lt;",
            "=1+1",
            "\\u202eabc",
            "\\u001b[31m",
            "\\ud7ff\\uffff",
            "\\U0001f600",
        ):
            edit = swap("figure.toml", rf"^{key} = .*$", f'{key} = "{value}"')
            yield _case(start, "book", f"figure {key} {value[:20]}", edit)
    for value in ("=1+1", "../../../WRITTEN", "a b/c", "<b>", "=cmd|' C calc'!A0", "@SUM(A1)", "+1", "-1"):
        edits = (
            swap("joints.toml", r'^id = "J01"$', f'id = "{value}"'),
            swap("ids.toml", r'^id = "P02"$', f'id = "{value}"'),
        )
        for file, edit in zip(("joint", "part"), edits, strict=True):
            yield _case(start, "book", f"{file} {value}", edit, check=_no_formula)
    for name, text in (
        ("material", swap("figure.toml", r"^name = \"two-part.*$", 'name = "=HYPERLINK(1)"')),
        ("shop", swap("figure.toml", r"^contact = .*$", 'contact = "=1+1"')),
    ):
        yield _case(start, "book", f"formula in {name}", text, check=_no_formula)
    for module in ("pickle", "struct", "selectors", "multiprocessing", "numpy", "random", "assembler"):
        yield _case(
            start, "book", f"module {module} in the working folder", _module(module), is_real=True, check=_not_run
        )
        yield _case(
            start,
            "book",
            f"module {module} in the project",
            _module(module, "case/project"),
            is_real=True,
            check=_not_run,
        )


def _module(name: str, folder: str = "cwd") -> Edit:
    def edit(place: Place) -> None:
        (place.root / folder / f"{name}.py").write_text(f"open({str(place.outside / 'PWNED')!r}, 'w').write('x')\n")

    return edit


def _not_run(place: Place) -> str:
    return "a module of a stranger was run" if (place.outside / "PWNED").exists() else ""


def _no_formula(place: Place) -> str:
    for path in sorted((place.project / "books").rglob("*.csv")):
        for line in path.read_text(encoding="utf-8-sig").splitlines():
            for cell in line.split(","):
                if cell.strip('"')[:1] in ("=", "@", "+") or (
                    cell.strip('"')[:1] == "-" and not cell.strip('"-').replace(".", "").isdigit()
                ):
                    return f"{path.name} holds a formula: {cell[:40]}"
    return ""


def _template_text(name: str) -> str:
    """The built-in template of this name, from the checkout or the installed package."""
    package = Path(assembler.__file__).parent
    for folder in (package.parent / "templates", package / "_templates"):
        if (folder / name).is_file():
            return (folder / name).read_text(encoding="utf-8")
    raise AssertionError(f"there is no template {name}")


_EXPRESSIONS: tuple[tuple[str, str], ...] = (
    ("popen", "{{ cycler.__init__.__globals__.os.popen('echo x > OUT').read() }}"),
    ("subclasses", "{{ ''.__class__.__mro__[1].__subclasses__() | length }}"),
    ("builtins", "{{ self.__init__.__globals__.__builtins__.open('OUT', 'w').write('x') }}"),
    ("joiner", "{{ joiner.__init__.__globals__['os'].system('echo x > OUT') }}"),
    ("attr", "{{ ''|attr('__class__')|attr('__mro__') }}"),
    ("attr read", "{{ (lipsum|attr('__globals__'))['os']['popen']('echo x > OUT')['read']() }}"),
    ("format", "{{ '{0.__class__.__mro__}'.format(1) }}"),
    ("format map", "{{ '{x.__class__.__init__.__globals__}'.format_map({'x': cycler}) }}"),
    ("include outside", "{% include '../../outside/secret.html' %}"),
    ("include absolute", "{% include '/etc/hostname' %}"),
    ("include dots", "{% include '..%2f..%2foutside/secret.html' %}"),
    ("import", "{% import 'os' as x %}"),
    ("include oneself", "{% include 'cover.html' %}"),
    ("recursion", "{% macro a() %}{{ a() }}{% endmacro %}{{ a() }}"),
    ("endless", "{% for i in range(10**9) %}x{% endfor %}"),
    ("long loops", "{% for i in range(90000) %}{% for j in range(90000) %}{% endfor %}{% endfor %}"),
    ("endless text", "{{ 'x' * 10**9 }}"),
    ("power", "{{ 9 ** 9 ** 9 }}"),
    ("lipsum", "{{ lipsum(n=100000) }}"),
    ("center", "{{ 'x'.center(10**9) }}"),
    ("percent", "{{ '%1000000000d' % 1 }}"),
    ("division", "{{ 1 / 0 }}"),
    ("unknown", "{{ nowhere.at.all }}"),
    ("unclosed", "{% if true %}"),
    ("call", "{{ ''() }}"),
    ("change", "{{ piece.__setattr__('x', 1) }}"),
    ("script", "<script>document.write('x')</script>"),
    ("image outside", "<img src='../../outside/secret.png'>"),
    ("image file", "<img src='file:///OUTDIR/secret.png'>"),
    ("image absolute", "<img src='OUTDIR/secret.png'>"),
    ("image http", "<img src='http://127.0.0.1:9/secret.png'>"),
    ("image book", "<img src='http://book.invalid/OUTDIR/secret.png'>"),
    ("image book dots", "<img src='http://book.invalid/../../../../../../../../../../OUTDIR/secret.png'>"),
    ("image book coded", "<img src='http://book.invalid/%2e%2e/%2e%2e/%2e%2e/%2e%2e/outside/secret.png'>"),
    ("image device", "<img src='/dev/zero'>"),
    ("object", "<object data='file:///OUTDIR/secret.svg'></object>"),
    ("embed", "<embed src='OUTDIR/secret.svg'>"),
    ("style import", "<style>@import 'file:///OUTDIR/secret.txt';</style>"),
    ("style font", "<style>@font-face{font-family:x;src:url('file:///OUTDIR/secret.bin')}p{font-family:x}</style>"),
    ("attachment", "<a rel='attachment' href='file:///OUTDIR/secret.txt'>x</a>"),
    ("link attachment", "<link rel='attachment' href='OUTDIR/secret.txt'>"),
    ("base", "<base href='file:///OUTDIR/'><img src='secret.png'>"),
    (
        "svg",
        "<svg xmlns='http://www.w3.org/2000/svg'><image href='file:///OUTDIR/secret.png' width='9' height='9'/></svg>",
    ),
    ("deep", "<div>" * 3000),
    ("huge table", "<table><tr><td colspan='100000' rowspan='100000'>x</td></tr></table>"),
    ("huge size", "<div style='height:1e30mm;width:1e30mm'>x</div>"),
    ("link to nowhere", "<a href='#nowhere'>x</a>"),
    ("escape", "\x1b[31m"),
    ("NUL", "a\0b"),
)


def _filled(text: str, place: Place) -> str:
    return text.replace("OUTDIR", str(place.outside).lstrip("/") if "///" in text else str(place.outside)).replace(
        "OUT", str(place.outside / "PWNED")
    )


def crafted_templates(start: Start) -> Iterator[Case]:
    """Templates, words and pictures."""
    for number, (name, text) in enumerate(_EXPRESSIONS):
        for file in ("cover.html",) if number % 3 else ("cover.html", "piece.html"):

            def edit(place: Place, text: str = text, file: str = file) -> None:
                put(f"templates/{file}", _template_text(file) + _filled(text, place))(place)

            yield _case(start, "templates", f"{file} {name}", edit, check=_not_run)
    for name, data in (
        ("binary", bytes(range(256))),
        ("empty", b""),
        ("utf-16", "<p>x</p>".encode("utf-16")),
        ("latin-1", b"<p>\xe9</p>"),
        ("deep ifs", b"{% if x %}" * 5000),
        ("long", b"<p>x</p>" * 200000),
        ("brackets", b"{{" + b"(" * 5000 + b"}}"),
    ):
        yield _case(start, "templates", f"cover.html {name}", put("templates/cover.html", data))
    for name, text in (
        ("import outside", "@import url('file:///OUTDIR/secret.txt');"),
        ("font outside", "@font-face{font-family:x;src:url('file:///OUTDIR/secret.bin')} body{font-family:x}"),
        ("background outside", "body{background:url('OUTDIR/secret.png')}"),
        ("background book", "body{background:url('http://book.invalid/OUTDIR/secret.png')}"),
        ("page size", "@page{size:1e9mm 1e9mm}"),
        ("tiny page", "@page{size:1mm 1mm;margin:0}"),
        ("broken", "}}}}{{{{"),
        ("content file", "body::before{content:url('file:///OUTDIR/secret.svg')}"),
        ("huge font", "body{font-size:1e9mm}"),
        ("nothing shown", "*{display:none}"),
        ("deep", "a{" * 5000),
        ("calc", "p{width:calc(1/0 * 1mm)}"),
    ):

        def style(place: Place, text: str = text) -> None:
            put("templates/book.css", _template_text("book.css") + _filled(text, place))(place)

        yield _case(start, "templates", f"book.css {name}", style)
    yield from _words(start)
    yield from _logos(start)


def _words(start: Start) -> Iterator[Case]:
    import tomllib

    words = tomllib.loads(_template_text("words.en.toml"))
    table, key, text = next(
        (t, k, v)
        for t, rows in sorted(words.items())
        if isinstance(rows, dict)
        for k, v in sorted(rows.items())
        if isinstance(v, str) and "{" in v
    )
    gap = text[text.index("{") + 1 : text.index("}")].split(":")[0]
    for name, value in (
        ("class", f"{{{gap}.__class__.__mro__}}"),
        ("globals", f"{{{gap}.__init__.__globals__}}"),
        ("index", f"{{{gap}[0]}}"),
        ("width", f"{{{gap}:>1000000000}}"),
        ("unknown gap", "{nowhere}"),
        ("number", "{0}"),
        ("unclosed", "{"),
        ("empty gap", "{}"),
        ("conversion", f"{{{gap}!r}}"),
        ("nested", f"{{{gap}:{{{gap}}}}}"),
        ("html", "<script>x</script>"),
        ("long", "n" * 100000),
        ("escape", "\\u001b[31m"),
        ("empty", ""),
        ("template", "{{7*7}}"),
    ):
        edit = put("templates/words.en.toml", f'[{table}]\n{key} = "{value}"\n')
        yield _case(start, "templates", f"words {name}", edit)
    for name, data in (
        ("deep", b"a = " + b"[" * 20000),
        ("binary", bytes(range(256))),
        ("unknown", b"[nowhere]\na = 'x'\n"),
        ("latin-1", b"a = '\xe9'\n"),
        ("numbers", f"[{table}]\n{key} = 5\n".encode()),
        ("a table", f"[{table}.{key}]\na = 5\n".encode()),
        ("empty file", b""),
        ("utf-8 mark", b"\xef\xbb\xbf"),
    ):
        yield _case(start, "templates", f"words {name}", put("templates/words.en.toml", data))


_SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="90" height="90">{}</svg>'
)


def _logos(start: Start) -> Iterator[Case]:
    names = "abcdefghij"
    laughs = '<!DOCTYPE svg [<!ENTITY a "ha">'
    for one, other in itertools.pairwise(names):
        laughs += f'<!ENTITY {other} "' + f"&{one};" * 10 + '">'
    pictures: tuple[tuple[str, str], ...] = tuple(
        (f"image {name}", _SVG.format(f'<image {attribute}="{uri}" width="9" height="9"/>'))
        for attribute in ("href", "xlink:href")
        for name, uri in (
            (f"file {attribute}", "file:///OUTDIR/secret.png"),
            (f"absolute {attribute}", "OUTDIR/secret.png"),
            (f"relative {attribute}", "../../outside/secret.png"),
            (f"book {attribute}", "http://book.invalid/OUTDIR/secret.png"),
            (f"dots {attribute}", "http://book.invalid/../../../../../../../../../..OUTDIR/secret.png"),
            (
                f"coded {attribute}",
                "http://book.invalid/%2e%2e/%2e%2e/%2e%2e/%2e%2e/%2e%2e/%2e%2e/%2e%2e/%2e%2eOUTDIR/secret.png",
            ),
            (f"http {attribute}", "http://127.0.0.1:9/x.png"),
            (f"device {attribute}", "http://book.invalid//dev/zero"),
            (f"svg {attribute}", "OUTDIR/secret.svg"),
            (f"itself {attribute}", "http://book.invalid/logo.svg"),
        )
    )
    others: tuple[tuple[str, str | bytes], ...] = (
        ("laughs", laughs + "]>" + _SVG.format("<text>&j;</text>")),
        (
            "entity outside",
            '<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///OUTDIR/secret.txt">]>' + _SVG.format("<text>&x;</text>"),
        ),
        ("use outside", _SVG.format('<use href="file:///OUTDIR/secret.svg#x"/>')),
        ("use itself", _SVG.format('<g id="a"><use href="#a"/></g>')),
        (
            "use doubling",
            _SVG.format(
                "".join(f'<g id="a{k + 1}"><use href="#a{k}"/><use href="#a{k}"/></g>' for k in range(25))
                + '<g id="a0"><rect width="1" height="1"/></g>'
            ),
        ),
        ("style import", _SVG.format("<style>@import 'file:///OUTDIR/secret.txt';</style>")),
        (
            "font",
            _SVG.format(
                "<style>@font-face{font-family:x;src:url(http://book.invalid/OUTDIR/secret.bin)}</style><text>x</text>"
            ),
        ),
        (
            "font coded",
            _SVG.format(
                "<style>@font-face{font-family:x;src:url(data:font/ttf;base64,AAAA)}</style>"
                "<text font-family='x'>x</text>"
            ),
        ),
        ("script", _SVG.format("<script>x</script>")),
        ("foreign", _SVG.format("<foreignObject><img src='OUTDIR/secret.png'/></foreignObject>")),
        ("deep", _SVG.format("<g>" * 20000 + "</g>" * 20000)),
        ("deep of 900", _SVG.format("<g>" * 900 + "</g>" * 900)),
        ("huge", _SVG.format("").replace("90", "1e30")),
        ("no size", _SVG.format("").replace('"90"', '"0"')),
        ("negative", _SVG.format("").replace("90", "-90")),
        ("bad path", _SVG.format('<path d="M 0 0 L nan inf Z Q"/>')),
        ("bad numbers", _SVG.format('<rect width="1e999" height="x" transform="scale(0) rotate(a)"/>')),
        ("long path", _SVG.format('<path d="M0 0' + "L1 1" * 200000 + '"/>')),
        ("not closed", "<svg>"),
        ("other root", "<html/>"),
        ("empty", ""),
        ("head only", b"\x89PNG\r\n\x1a\nIEND"),
        ("cut", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"),
        ("huge png", _huge_png()),
        ("not a picture", b"hello"),
        ("filter", _SVG.format('<filter id="f"><feGaussianBlur stdDeviation="1e30"/></filter>')),
        ("mask", _SVG.format('<mask id="m"><rect mask="url(#m)" width="9" height="9"/></mask><rect mask="url(#m)"/>')),
        (
            "marker",
            _SVG.format(
                '<marker id="m"><path d="M0 0L1 1" marker-end="url(#m)"/></marker>'
                '<path d="M0 0L1 1" marker-end="url(#m)"/>'
            ),
        ),
        (
            "pattern",
            _SVG.format(
                '<pattern id="p" width="1e-9" height="1e-9"><rect fill="url(#p)" width="1" height="1"/></pattern>'
                '<rect fill="url(#p)" width="9" height="9"/>'
            ),
        ),
        ("gradient", _SVG.format('<linearGradient id="g" href="#g"/><rect fill="url(#g)" width="9" height="9"/>')),
    )
    for name, data in (*pictures, *others):

        def edit(place: Place, data: str | bytes = data) -> None:
            swap("figure.toml", r"^logo = .*$", 'logo = "logo.svg"')(place)
            put("logo.svg", _filled(data, place) if isinstance(data, str) else data)(place)

        yield _case(start, "templates", f"logo {name}", edit)
    for name in (
        "../../outside/secret.svg",
        "ABSOLUTE/secret.svg",
        "a\\u0000b",
        "",
        "parts",
        "/dev/zero",
        "n" * 5000,
        "figure.toml",
        "../project/logo.svg",
        ".",
        "~/.bashrc",
    ):

        def named(place: Place, name: str = name) -> None:
            put("logo.svg", _SVG.format(""))(place)
            swap("figure.toml", r"^logo = .*$", f'logo = "{name}" #'.replace("ABSOLUTE", str(place.outside)))(place)

        codes = REFUSED if "outside" in name or "ABSOLUTE" in name or "dev" in name else frozenset((0, 1, 2))
        yield _case(start, "templates", f"logo named {name[:30]}", named, codes=codes)


def _huge_png() -> bytes:
    import struct
    import zlib

    head = struct.pack(">IIBBBBB", 60000, 60000, 8, 0, 0, 0, 0)
    chunks = ((b"IHDR", head), (b"IDAT", zlib.compress(b"\0" * 1000)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data)) for name, data in chunks
    )


def mutated_template(start: Start, seed: str, number: int) -> Case:
    """The n-th spoiled template, catalogue of words or logo of a seed."""
    rng = random.Random(f"{seed}/templates/{number}")
    file = rng.choice(("cover.html", "step.html", "piece.html", "macros.html", "book.css", "words.en.toml", "logo.svg"))

    def edit(place: Place) -> None:
        chance = random.Random(f"{seed}/templates/{number}/edit")
        text = _SVG.format('<rect width="9" height="9"/>') if file == "logo.svg" else _template_text(file)
        change = mutated_text if chance.random() < 0.8 else mutated_bytes
        if file == "logo.svg":
            swap("figure.toml", r"^logo = .*$", 'logo = "logo.svg"')(place)
        put(file if file == "logo.svg" else f"templates/{file}", change(text.encode(), chance))(place)

    return _case(start, "templates", f"mutated {number}", edit)


def mutated_book(start: Start, seed: str, number: int) -> Case:
    """The n-th project of a seed whose numbers are other, though they can be read: a book is made of it."""

    def edit(place: Place) -> None:
        rng = random.Random(f"{seed}/book/{number}")
        path = place.project / rng.choice(("figure.toml", "joints.toml", "figure.toml"))
        path.write_bytes(mutated_text(path.read_bytes(), rng))

    return _case(start, "book", f"mutated {number}", edit)


def _linked(path: str, target: str) -> Edit:
    """A link in place of a file or folder."""

    def edit(place: Place) -> None:
        at = place.case / path
        if at.is_dir() and not at.is_symlink():
            shutil.rmtree(at)
        else:
            at.unlink(missing_ok=True)
        at.parent.mkdir(parents=True, exist_ok=True)
        at.symlink_to(target.replace("OUTDIR", str(place.outside)).replace("CASE", str(place.case)))

    return edit


def _special(path: str, make: Callable[[Path], None]) -> Edit:
    def edit(place: Place) -> None:
        at = place.case / path
        if at.is_dir():
            shutil.rmtree(at)
        else:
            at.unlink(missing_ok=True)
        at.parent.mkdir(parents=True, exist_ok=True)
        make(at)

    return edit


_FILES = (
    "figure.toml",
    "joints.toml",
    "ids.toml",
    "built.toml",
    "surveyed.json",
    "parts/A.stl",
    "kept-meshes/P01.npz",
    "books/A/plan.json",
    "books/A/book.json",
    "books/A/crew-book.pdf",
    "logo.svg",
    "templates/cover.html",
    "templates/words.en.toml",
    "contact-sheet.pdf",
)
_READ = ("figure.toml", "joints.toml", "ids.toml", "parts/A.stl")
_FOLDERS = ("parts", ".cache", "books", "books/A", "books/draft", "kept-meshes", "templates", "parts-set-aside")
_ALIKE = {
    "toml": "secret.toml",
    "json": "secret.json",
    "stl": "outside.stl",
    "npz": "secret.bin",
    "pdf": "secret.bin",
    "svg": "secret.svg",
    "html": "secret.html",
}


_SURVEY = (("survey", "{project}/parts", "{project}", "--quick"),)
_CALLS = (("check", CHECK), ("record", RECORD), ("survey", _SURVEY), ("recut", RECUT))


def crafted_links(start: Start) -> Iterator[Case]:
    """Links, pipes and devices in place of every file and folder."""
    yield from _in_place_of_files(start)
    for folder in _FOLDERS:
        for said, calls in _CALLS[:3]:
            name = folder.rpartition("/")[2]
            yield _cold(start, f"{folder} leads out, {said}", _linked(f"project/{folder}", "OUTDIR/pf"), calls)
            yield _cold(start, f"{folder} leads to itself, {said}", _linked(f"project/{folder}", name), calls)
    yield from _in_the_source(start)
    yield from _under_a_book(start)


def _cold(start: Start, name: str, edit: Edit, calls: Any, **more: Any) -> Case:
    def build(place: Place) -> None:
        start.copy(place)
        if "logo" in name:
            swap("figure.toml", r"^logo = .*$", 'logo = "logo.svg"')(place)
        edit(place)

    return Case(kind="links", name=name, build=build, calls=calls, **more)


def _in_place_of_files(start: Start) -> Iterator[Case]:
    for file in _FILES:
        at, alike, name = f"project/{file}", _ALIKE[file.rpartition(".")[2]], file.rpartition("/")[2]
        for said, calls in _CALLS:
            # What a call must read it must refuse; the rest it may leave alone.
            must = REFUSED if file in _READ and said == "check" else frozenset((0, 1, 2))
            yield _cold(start, f"{file} leads out, {said}", _linked(at, f"OUTDIR/{alike}"), calls, codes=must)
            yield _cold(start, f"{file} is a pipe, {said}", _special(at, os.mkfifo), calls, codes=must)
            yield _cold(start, f"{file} is endless, {said}", _linked(at, "/dev/zero"), calls, codes=must)
            yield _cold(start, f"{file} leads nowhere, {said}", _linked(at, "nowhere/at/all"), calls)
            yield _cold(start, f"{file} leads to itself, {said}", _linked(at, name), calls)


def _in_the_source(start: Start) -> Iterator[Case]:
    survey = (("survey", "{parts}", "{project}", "--quick"),)
    for name, path, target in (
        ("scratch of a part", "project/parts/.c.stl.new", "OUTDIR/WRITTEN.stl"),
        ("scratch of an old part", "project/parts/.A.stl.new", "OUTDIR/pf/kept.txt"),
        ("part in the source", "parts/c.stl", "OUTDIR/outside.stl"),
        ("text in the source", "parts/c.obj", "OUTDIR/secret.txt"),
        ("device in the source", "parts/c.stl", "/dev/zero"),
        ("itself in the source", "parts/c.stl", "c.stl"),
        ("folder in the source", "parts/c.stl", "OUTDIR/pf"),
        ("nowhere in the source", "parts/c.stl", "nowhere"),
    ):

        def edit(place: Place, name: str = name, path: str = path, target: str = target) -> None:
            for one in sorted((place.project / "parts").iterdir()):
                shutil.copy(one, place.parts / one.name)
            shutil.copy(place.parts / "A.stl", place.parts / "c.stl")
            if name == "scratch of an old part":
                (place.project / "parts" / "A.stl").unlink()
            _linked(path, target)(place)

        yield _cold(start, f"survey, {name}", edit, survey)
    yield _cold(start, "survey, pipe in the source", _special("parts/c.stl", os.mkfifo), survey)
    yield _cold(start, "survey, pipe as the source", _special("parts", os.mkfifo), survey, codes=REFUSED)


def _under_a_book(start: Start) -> Iterator[Case]:
    for file, target in (
        ("templates", "pf"),
        ("templates/cover.html", "secret.html"),
        ("templates/book.css", "secret.txt"),
        ("templates/words.en.toml", "secret.toml"),
        ("logo.svg", "secret.svg"),
        (".cache", "pf"),
        ("books", "pf"),
        ("books/draft", "pf"),
        ("kept-meshes", "pf"),
        ("contact-sheet.pdf", "secret.bin"),
    ):

        def spoiled(place: Place, spoil: Edit, file: str = file) -> None:
            if file == "logo.svg":
                swap("figure.toml", r"^logo = .*$", 'logo = "logo.svg"')(place)
            spoil(place)

        at = f"project/{file}"
        for name, spoil in (("leads out", _linked(at, f"OUTDIR/{target}")), ("is a pipe", _special(at, os.mkfifo))):
            yield _case(start, "links", f"book, {file} {name}", partial(spoiled, spoil=spoil))
