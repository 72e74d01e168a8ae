"""Templates and words that come from strangers reach nothing, and end."""

from __future__ import annotations

import os
import resource
import signal
from pathlib import Path

import pytest

from assembler.errors import BookFolderError, Fault, TemplateError
from assembler.publishing import templating
from assembler.publishing.pdf import Typesetter
from assembler.publishing.templating import Templates
from assembler.publishing.words import load_words

# The time may be over just when an object is given back; it is over again a little later.
pytestmark = pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")


@pytest.fixture(autouse=True)
def _short(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(templating, "MOST_SECONDS", 0.3)
    monkeypatch.setattr(templating, "MOST_BYTES", 100_000_000)


@pytest.fixture
def own(tmp_path: Path) -> Path:
    folder = tmp_path / "project" / "templates"
    folder.mkdir(parents=True)
    return folder


def _fault(own: Path, text: str, **values: object) -> Fault:
    (own / "gate.html").write_text(text, encoding="utf-8")
    with pytest.raises(TemplateError) as caught:
        Templates(own, {"w": load_words()}).filled("gate.html", **values)
    (fault,) = caught.value.faults
    assert "\n" not in str(fault)
    assert len(fault.wrong) < 300
    return fault


@pytest.mark.parametrize(
    "reach",
    [
        "{{ cycler.__init__.__globals__.os.popen('touch ' ~ there).read() }}",
        "{{ w.__init__.__globals__ }}",
        "{{ ''.__class__.__mro__[1].__subclasses__() }}",
        "{{ w['__class__'] }}",
        "{{ w|attr('__class__') }}",
        "{{ '{0.__class__.__init__.__globals__}'.format(w) }}",
        "{{ ('{x.__class__.__mro__}').format_map({'x': w}) }}",
        "{{ w._flat }}",
        "{% set _ = things.append(1) %}",
        "{{ rows.sort() }}",
    ],
)
def test_a_template_reaches_nothing_and_changes_nothing(own: Path, tmp_path: Path, reach: str) -> None:
    there, rows = tmp_path / "there", [2, 1]
    fault = _fault(own, f"<p>\n{reach}{{{{ nothing_more }}}}", there=str(there), things=rows, rows=rows)
    assert "nothing_more" not in fault.wrong
    assert (fault.file, fault.place) == (str(own / "gate.html"), "line 2")
    assert not there.exists()
    assert rows == [2, 1]


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("{% for a in range(10**9) %}{% endfor %}", "not for templates"),
        ("{% for a in range(1000000000) %}{% endfor %}", "Range too big"),
        ("{% for a in range(10000) %}{% for b in range(10000) %}x{% endfor %}{% endfor %}", ""),
        ("{% for a in range(99999) %}{% for b in range(99999) %}{% endfor %}{% endfor %}", "does not end within"),
        ("{% macro a() %}{{ a() }}{% endmacro %}{{ a() }}", "without end"),
        ("{% include 'gate.html' %}", "without end"),
        ("{% set n = namespace(x='xx') %}{% for a in range(99) %}{% set n.x = n.x ~ n.x %}{% endfor %}", "memory"),
        ("{{ 'x' * 999999999 }}", "memory"),
        ("{{ lipsum(n=99999999) }}", ""),
        ("{{ '%999999999d' % 1 }}", "memory"),
        ("{{ '{:>999999999}'.format(1) }}", "memory"),
        ("{{ 'x'|center(999999999) }}", "memory"),
        ("{{ 10 ** 10 ** 10 }}", "not for templates"),
        (
            "{% set n = namespace(x=9) %}{% for a in range(99) %}{% set n.x = n.x * n.x %}{% endfor %}",
            "not for templates",
        ),
        ("{{ 'x' * 30000000 }}", "characters"),
        ("{{ " + "(" * 5000 + "1" + ")" * 5000 + " }}", ""),
        ("{% for a in 'x' %}" * 40 + "{% endfor %}" * 40, ""),
        ("{{ 3|urlize.x }}", ""),
        ("{{ cycler() }}", "at least one item"),
    ],
)
def test_a_template_ends_in_one_line(own: Path, text: str, wrong: str) -> None:
    assert wrong in _fault(own, text).wrong


def test_bounds_are_lifted_afterwards(own: Path) -> None:
    before = signal.getsignal(signal.SIGPROF), resource.getrlimit(resource.RLIMIT_AS)
    _fault(own, "{% for a in range(99999) %}{% for b in range(99999) %}{% endfor %}{% endfor %}")
    assert (signal.getsignal(signal.SIGPROF), resource.getrlimit(resource.RLIMIT_AS)) == before
    assert signal.getitimer(signal.ITIMER_PROF) == (0.0, 0.0)


@pytest.mark.parametrize("name", ["gate.html", "words.en.toml"])
@pytest.mark.parametrize(
    ("make", "wrong"),
    [
        (lambda path, outside: path.symlink_to(outside), "leads out of"),
        (lambda path, outside: path.symlink_to("/dev/zero"), "leads out of"),
        (lambda path, outside: os.mkfifo(path), "a pipe"),
        (lambda path, outside: path.mkdir(), "is a folder"),
        (lambda path, outside: path.write_bytes(b"\xff"), "not UTF-8"),
    ],
    ids=["link", "device", "pipe", "folder", "bytes"],
)
def test_what_is_no_file_of_the_project_is_not_read(own: Path, tmp_path: Path, name: str, make, wrong: str) -> None:
    outside = tmp_path / "outside"
    outside.write_text("secret = 'secret'", encoding="utf-8")
    make(own / name, outside)
    with pytest.raises(TemplateError, match=wrong) as caught:
        Templates(own, {"w": load_words(own)}).filled("gate.html")
    assert "secret" not in str(caught.value)


def test_a_templates_folder_that_is_a_link_out_of_the_project_is_refused(own: Path, tmp_path: Path) -> None:
    own.rmdir()
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere" / "gate.html").write_text("secret", encoding="utf-8")
    own.symlink_to(tmp_path / "elsewhere")
    with pytest.raises(TemplateError, match="leads out of"):
        Templates(own, {}).filled("gate.html")


@pytest.mark.parametrize("name", ["../figure.toml", "/etc/hostname", "a/../../figure.toml", "%2e%2e/figure.toml"])
def test_a_template_includes_templates_only(own: Path, name: str) -> None:
    (own.parent / "figure.toml").write_text("secret", encoding="utf-8")
    assert "there is no such template" in _fault(own, f"{{% include '{name}' %}}").wrong


@pytest.mark.parametrize(
    "said", ["{joint.__class__}", "{joint[0]}", "{joint!r}", "{joint:>999999999}", "{}", "{0}", "{joint:{n}}", "{", "}"]
)
def test_a_gap_in_the_words_is_a_name_and_nothing_more(own: Path, said: str) -> None:
    (own / "words.en.toml").write_text(f'[gate]\nword = "{said}"\n', encoding="utf-8")
    with pytest.raises(TemplateError) as caught:
        load_words(own)
    (fault,) = caught.value.faults
    assert (fault.file, fault.place) == (str(own / "words.en.toml"), "gate.word")


@pytest.mark.parametrize("text", ["x = " + "[" * 3000 + "]" * 3000, ".".join("a" * 3000) + " = 1"])
def test_words_nested_without_end_are_one_line(own: Path, text: str) -> None:
    (own / "words.en.toml").write_text(text, encoding="utf-8")
    with pytest.raises(TemplateError, match="nested too deep"):
        load_words(own)


@pytest.mark.parametrize(
    "style",
    ["body{font-size:1e9mm}", "a{" * 5000],
    ids=["huge letters", "deep"],
)
def test_a_style_that_no_page_can_have_is_one_line(tmp_path: Path, style: str) -> None:
    setter = Typesetter(base=tmp_path, style=style)
    html = '<html lang="en"><title>t</title><body><h1>One</h1><p>a word</p></body></html>'
    with pytest.raises(BookFolderError) as caught:
        setter.pages(html)
    assert len(str(caught.value).splitlines()) == 1


def test_a_block_that_a_style_hides_is_named(tmp_path: Path) -> None:
    setter = Typesetter(base=tmp_path, style="*{display:none}")
    html = '<html lang="en"><title>t</title><body><div class="measured" data-block="1/top">x</div></body></html>'
    with pytest.raises(BookFolderError, match="block '1/top' of a step is not shown"):
        setter.heights(html)


def test_pages_without_end_end_in_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("assembler.publishing.pdf.MOST_SECONDS", 0.3)
    setter = Typesetter(base=tmp_path, style="@page{size:1mm 1mm;margin:0}")
    with pytest.raises(BookFolderError, match="a document"):
        setter.pages(f'<html lang="en"><title>t</title><body>{"<p>many words</p>" * 20000}</body></html>')
