"""The HTML before it is set: links, headings, alternative text, gates first."""

from __future__ import annotations

import base64
import re
import tomllib
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from lxml import html as lxml_html
from lxml.html import HtmlElement

import assembler
from assembler.figure.settings import Logo
from assembler.publishing.book import compose
from assembler.publishing.source import Source
from assembler.words import CATALOGUE, flattened, template_folder
from tests.publishing import sample
from tests.publishing.conftest import book_html, documents_html


@pytest.fixture(scope="module")
def tree(source: Source) -> HtmlElement:
    return lxml_html.document_fromstring(documents_html(source))


def texts(element: HtmlElement, path: str) -> list[str]:
    return [" ".join(found.text_content().split()) for found in element.xpath(path)]


def step_element(tree: HtmlElement, number: str) -> HtmlElement:
    return tree.xpath(f"//section[@id='step-{number}']")[0]


def test_every_link_has_one_target(tree: HtmlElement) -> None:
    names = Counter(tree.xpath("//@id"))
    assert max(names.values()) == 1
    targets = set(tree.xpath("//a/@href"))
    assert targets
    assert targets <= {f"#{name}" for name in names}


def test_a_gated_step_opens_with_its_gate(tree: HtmlElement) -> None:
    for step in sample.STEPS:
        section = step_element(tree, step.number)
        gates = section.xpath(".//div[@class='gate']")
        assert len(gates) == bool(step.gates)
        if step.gates:
            before = " ".join(section.text_content().split()).split("WAIT")[0]
            assert before.strip() == ""
            joints = re.findall(r"J\d+", gates[0].text_content())
            assert set(joints) == {gate.joint for gate in step.gates}


def test_each_hold_has_its_clock_fields(tree: HtmlElement) -> None:
    for step in sample.STEPS:
        rows = step_element(tree, step.number).xpath(".//table[@class='glue']/tbody/tr")
        rings = [row.xpath("./th//*[local-name()='text']")[0].text for row in rows]
        assert rings == [row.joint for row in step.adhesive]
        assert all(len(row.xpath("./td[contains(@class, 'clock')]")) == 4 for row in rows)


def test_each_picture_has_words(tree: HtmlElement) -> None:
    pictures = tree.xpath("//*[local-name()='svg']")
    assert len(pictures) > 2 * len(sample.STEPS)
    for picture in pictures:
        (title,) = picture.xpath("./*[local-name()='title']")
        assert title.text
        assert picture.get("role") == "img"


def test_headings_do_not_skip_a_level(tree: HtmlElement) -> None:
    levels = [int(element.tag[1]) for element in tree.xpath("//h1 | //h2 | //h3 | //h4")]
    assert levels[0] == 1
    assert all(later <= earlier + 1 for earlier, later in zip(levels, levels[1:], strict=False))


def test_no_gap_of_a_string_is_left_open(tree: HtmlElement) -> None:
    assert not re.findall(r"[{}]", tree.body.text_content())


def test_text_of_the_plan_is_escaped(source: Source) -> None:
    odd = replace(sample.STEPS[0], title="Lower <b>P02</b> & hold")
    plan = replace(sample.PLAN, steps=(odd, *sample.STEPS[1:]))
    text = book_html(compose(replace(source, plan=plan)), source.words)
    assert "Lower &lt;b&gt;P02&lt;/b&gt; &amp; hold" in text
    assert "<b>P02</b>" not in text


LONG = {
    "finding.bolts-far-apart",
    "finding.last-closure",
    "finding.reach-is-long",
    "remedy.base-joint-weak",
    "remedy.print-orientation",
    "sheet.full_cure.formula",
    "sheet.hold.formula",
}
"""Sentences that are longer than they should be, and wait for somebody who says the same in fewer words."""


def test_sentences_of_the_catalogue_have_at_most_twenty_words() -> None:
    tree = tomllib.loads((template_folder() / CATALOGUE).read_text(encoding="utf-8"))

    sentences = [
        (key, part)
        for key, text in flattened(tree)
        for line in text.splitlines()
        for part in re.split(r"[.;:?](?:\s|$)", line)
    ]
    assert {key for key, sentence in sentences if len(sentence.split()) > 20} == LONG


def test_every_string_of_the_catalogue_is_used() -> None:
    folder = template_folder()
    package = "\n".join(
        path.read_text(encoding="utf-8") for path in [*folder.glob("*.html"), *folder.glob("*.css"), *modules()]
    )
    tree = tomllib.loads((folder / CATALOGUE).read_text(encoding="utf-8"))

    def keys(branch: dict[str, object], above: str) -> list[str]:
        found: list[str] = []
        for name, value in branch.items():
            key = f"{above}.{name}" if above else name
            found += keys(value, key) if isinstance(value, dict) else [key]
        return found

    # A key that is put together: `f"fate.{name}"`, or "tightening.pressure_" and what follows.
    begun = {*re.findall(r"f[\"']((?:\w+\.)+\w*)\{", package), *re.findall(r"\"((?:\w+\.)+\w+_)\"", package)}

    def is_used(key: str) -> bool:
        stems = [key, key.rsplit(".", 1)[0]]
        return any(re.search(rf"[\"']{re.escape(stem)}(?:[\"']|\.\{{|\.[\"'])", package) for stem in stems) or any(
            key.startswith(beginning) for beginning in begun
        )

    assert [key for key in keys(tree, "") if not is_used(key)] == []


def modules() -> list[Path]:
    """All of the program but the list that gives every gap its kind: it names keys, and uses none."""
    return sorted(path for path in Path(assembler.__file__).parent.rglob("*.py") if path.name != "wordnumbers.py")


def test_the_shop_s_logo_stands_on_the_cover_with_words(source: Source) -> None:
    logo = Logo(media_type="image/svg+xml", data=b"<svg xmlns='http://www.w3.org/2000/svg'/>")
    with_logo = replace(source, settings=replace(source.settings, logo=logo))
    tree = lxml_html.document_fromstring(book_html(compose(with_logo), source.words))
    (image,) = tree.xpath("//section[@class='cover']//img")
    assert base64.b64decode(image.get("src").partition("base64,")[2]) == logo.data
    assert source.settings.shop_name in image.get("alt")
    assert "<img" not in book_html(compose(source), source.words)


def test_inches_stand_beside_sizes_masses_and_torques(source: Source) -> None:
    inches = replace(source, settings=replace(source.settings, has_inches=True))
    tree = lxml_html.document_fromstring(book_html(compose(inches), source.words))
    rows = texts(tree, "//table[contains(@class, 'parts')]/tbody/tr")
    assert all("in)" in row and "lb)" in row for row in rows)
    assert "lbf·in)" in " ".join(texts(tree, "//table[contains(@class, 'bolts')]"))
    assert "°F)" in " ".join(texts(tree, "//table[contains(@class, 'temperatures')]"))


def test_what_limits_the_torque_stands_in_the_engineer_s_table(tree: HtmlElement) -> None:
    rows = texts(tree, "//table[contains(@class, 'joints')]/tbody/tr")
    assert len(rows) == len(sample.JOINTS)
    for row, joint in zip(rows, sample.JOINTS, strict=True):
        assert row.startswith(joint.id)
        assert ("washer pressure on PA12" in row) == bool(joint.bolts)


def test_sentences_on_the_pages_have_at_most_twenty_words(tree: HtmlElement) -> None:
    innermost = [element for element in tree.xpath("//p | //li | //td | //th") if not element.xpath(".//p | .//li")]
    assert len(innermost) > 500
    for element in innermost:
        for sentence in re.split(r"[.;:!?]\s|[()]", " ".join(element.text_content().split())):
            # Ids and numbers in a row are a list, not a sentence.
            assert len(re.findall(r"[A-Za-z]{2,}", sentence)) <= 20, sentence
