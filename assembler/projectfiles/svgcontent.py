"""What a picture in SVG may hold: everything it shows, and nothing that reaches out of it.

Goes in: the bytes of the file. Comes out: what is wrong with it in words, or nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from lxml import etree

MOST_DRAWN = 100_000
"""Elements that are drawn, repetitions by reference included: a few lines of `use` can ask for billions."""

_RUNS = {"script", "handler", "foreignobject", "iframe", "embed", "object"}
_OWN = ("#", "data:image/png", "data:image/jpeg")
_ESCAPE = re.compile(r"\\(?:([0-9a-fA-F]{1,6})\s?|(.))", re.DOTALL)
_ADDRESS = re.compile(r"(?:url|src|image|image-set)\(\s*[\"']?\s*([^\"')]*)", re.IGNORECASE)
_LOADS = re.compile(r"@(?:import|font-face|charset|namespace)", re.IGNORECASE)


def svg_fault(data: bytes) -> str:
    """Why an SVG cannot be taken; empty where it can.

    A reference may lead to an id in the file itself or to a PNG or JPEG written into it.

    Parameters
    ----------
    data
        The file.
    """
    parser = etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False)
    try:
        root = etree.fromstring(data, parser)
    except etree.XMLSyntaxError as exc:
        return f"is no plain XML: {exc}"
    nodes = [root, *root.itersiblings(preceding=True), *root.iterdescendants()]
    wrong = next((wrong for node in nodes if (wrong := _node_fault(node))), "")
    return wrong or _size_fault(root)


def _node_fault(node: etree._Element) -> str:
    if isinstance(node, etree._Entity):
        return f"has the entity {node.text!r}"
    if isinstance(node, etree._ProcessingInstruction):
        return "has a style sheet outside it" if node.target == "xml-stylesheet" else ""
    if not isinstance(node.tag, str):
        return ""
    name = etree.QName(node).localname
    if name.lower() in _RUNS:
        return f"has an element <{name}>"
    faults = (_attribute_fault(etree.QName(key).localname.lower(), value) for key, value in node.attrib.items())
    texts = [*node.itertext()] if name.lower() == "style" else []
    return next((wrong for wrong in (*faults, _style_fault("".join(texts))) if wrong), "")


def _attribute_fault(name: str, value: str) -> str:
    if name.startswith("on"):
        return f"has a script in {name!r}"
    if name in ("href", "src", "base") and value.strip() and not value.strip().lower().startswith(_OWN):
        return _refers(value)
    return _style_fault(value)


def _style_fault(text: str) -> str:
    plain = _unescaped(text)
    if loads := _LOADS.search(plain):
        return f"loads something ({loads[0]})"
    return next((_refers(found) for found in _ADDRESS.findall(plain) if not found.lower().startswith(_OWN)), "")


def _unescaped(text: str) -> str:
    """CSS may write each letter by its number."""
    return _ESCAPE.sub(lambda found: chr(min(int(found[1], 16), 0x10FFFF)) if found[1] else found[2], text)


def _refers(address: str) -> str:
    said = address if len(address) <= 80 else f"{address[:80]}..."
    return f"refers to {said!r}, which is outside it"


def _size_fault(root: etree._Element) -> str:
    by_id = {name: node for node in root.iter() if isinstance(node.tag, str) and (name := node.get("id"))}
    drawn: dict[etree._Element, int] = {}
    # A node is counted after all it leads to; one on the way already counts nothing again.
    todo = [(root, False)]
    while todo:
        node, is_ready = todo.pop()
        below = [*node.iterchildren(etree.Element), *_targets(node, by_id)]
        if is_ready:
            drawn[node] = min(1 + sum(drawn[other] for other in below), MOST_DRAWN + 1)
        elif node not in drawn:
            drawn[node] = 0
            todo.append((node, True))
            todo += [(other, False) for other in below]
    return f"draws more than {MOST_DRAWN} elements by repeating them" if drawn[root] > MOST_DRAWN else ""


def _targets(node: etree._Element, by_id: dict[str, etree._Element]) -> Iterator[etree._Element]:
    for key, value in node.attrib.items():
        is_address = etree.QName(key).localname == "href"
        for name in [value.strip()] if is_address else _ADDRESS.findall(_unescaped(value)):
            if name.startswith("#") and name[1:] in by_id:
                yield by_id[name[1:]]
