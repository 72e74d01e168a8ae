"""How titles of steps speak of sets of parts: a set in, a `Heading` out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from assembler.figure.ids import BenchId, PartId
from assembler.figure.parts import Part
from assembler.figure.plan import Heading
from assembler.planning.scene import PartSet, Scene, members

SIDES = frozenset(["left", "right", "front", "back", "upper", "lower", "top", "bottom", "part"])
"""Words in names of parts that say where, not what."""


def heading_of(
    scene: Scene, chosen: PartSet, made: Mapping[PartSet, int] | None = None, onto: tuple[PartId, ...] = ()
) -> Heading:
    """'P07 torso 3 left'; a larger set by the bench it was made on.

    Parameters
    ----------
    scene
        The figure.
    chosen
        What the title speaks of.
    made
        Benches by the sets that were made on them.
    onto
        Parts that it meets.
    """
    if chosen.bit_count() <= 3:
        return Heading(names=tuple(_name(scene.parts[number]) for number in members(chosen)), onto=onto)
    names, unit = tuple(scene.names(chosen)), unit_name([scene.parts[number] for number in members(chosen)])
    if made and chosen in made:
        return Heading(names=names, bench=BenchId(f"B{made[chosen]}"), unit=unit, onto=onto)
    late = 0 if scene.base is None else 1 << scene.base
    if chosen | late == scene.everything:
        return Heading(onto=onto)
    return Heading(names=names, is_standing=True, unit=unit, onto=onto)


def unit_name(parts: Sequence[Part]) -> str:
    """What several parts are called together: the one word that at least half of their names share; else empty.

    Sides and numbers say which of several, not what; of two words that are equally common none is taken.
    """
    shared = Counter(word for part in parts for word in set(_plain(part.file).lower().split()))
    shared = Counter({word: count for word, count in shared.items() if word.isalpha() and word not in SIDES})
    ranked = shared.most_common(2)
    if not ranked or 2 * ranked[0][1] < len(parts) or ranked[0][1] < 2:
        return ""
    return "" if len(ranked) > 1 and ranked[1][1] == ranked[0][1] else ranked[0][0]


def _name(part: Part) -> str:
    plain = _plain(part.file)
    return part.id if plain == part.id else f"{part.id} {plain}"


def _plain(file: str) -> str:
    stem = file.rsplit(".", 1)[0] if "." in file else file
    return stem.replace("_", " ").replace("-", " ").strip()
