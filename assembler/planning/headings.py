"""How titles of steps speak of sets of parts: a set in, a `Heading` out."""

from __future__ import annotations

from collections.abc import Mapping

from assembler.figure.ids import BenchId, PartId
from assembler.figure.parts import Part
from assembler.figure.plan import Heading
from assembler.planning.scene import PartSet, Scene, members


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
    if made and chosen in made:
        return Heading(names=tuple(scene.names(chosen)), bench=BenchId(f"B{made[chosen]}"), onto=onto)
    late = 0 if scene.base is None else 1 << scene.base
    if chosen | late == scene.everything:
        return Heading(onto=onto)
    return Heading(names=tuple(scene.names(chosen)), is_standing=True, onto=onto)


def _name(part: Part) -> str:
    plain = _plain(part.file)
    return part.id if plain == part.id else f"{part.id} {plain}"


def _plain(file: str) -> str:
    stem = file.rsplit(".", 1)[0] if "." in file else file
    return stem.replace("_", " ").replace("-", " ").strip()
