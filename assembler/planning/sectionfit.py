"""Does a set of parts pass every place of the way, as one section? Sets in, positions and what fails out."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

import numpy as np

from assembler.engineering.passing import cross_section_mm2, fits_vehicle, passes
from assembler.figure.division import Passing
from assembler.figure.mesh import Points
from assembler.figure.parts import Vector
from assembler.geometry.orientedboxes import OrientedBox, lying_directions, standing_boxes
from assembler.geometry.solids import hull_points
from assembler.planning.scene import PartSet, Scene, members
from assembler.words import Text, say

Place = tuple[Text, Callable[[Vector], bool]]


class Fit:
    """Sections against the way that figure.toml states, with a memory.

    Parameters
    ----------
    scene
        The figure.

    Attributes
    ----------
    weighed
        Sets that were held against the way.
    """

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        settings = scene.settings
        self.places: list[Place] = [(one.name, partial(passes, passage=one)) for one in settings.passages]
        vehicle = settings.vehicle
        if vehicle is not None:
            self.places.append((say("cut.vehicle"), partial(fits_vehicle, vehicle=vehicle)))
        limits = (settings.envelopes.section_max_kg, vehicle.payload_kg if vehicle is not None else None)
        self.limit_kg = min((limit for limit in limits if limit is not None), default=float("inf"))
        self._hulls = [hull_points(mesh.vertices) for mesh in scene.meshes]
        self._known: dict[PartSet, bool] = {}

    @property
    def weighed(self) -> int:
        """Sets that were held against the way."""
        return len(self._known)

    def fits(self, chosen: PartSet) -> bool:
        """Whether a set is light enough and passes every place."""
        if chosen not in self._known:
            self._known[chosen] = not self.is_heavy(chosen) and not self._failing(chosen)
        return self._known[chosen]

    def is_heavy(self, chosen: PartSet) -> bool:
        """Whether a set is heavier than can be handled or loaded."""
        return self.scene.mass_kg(chosen) > self.limit_kg

    def failing(self, chosen: PartSet) -> tuple[Text, ...]:
        """What a set does not pass, in words; empty where it passes everything."""
        names = self._failing(chosen)
        if self.is_heavy(chosen):
            names.append(say("cut.heavy", mass_kg=self.scene.mass_kg(chosen), limit_kg=self.limit_kg))
        return tuple(names)

    def _failing(self, chosen: PartSet) -> list[Text]:
        left = list(self.places)
        for boxes in self._positions(chosen):
            left = [place for place in left if not any(place[1](box.size_mm) for box in boxes)]
            if not left:
                break
        return [name for name, _ in left]

    def _positions(self, chosen: PartSet) -> Iterator[list[OrientedBox]]:
        """Boxes of one position after the other: standing, then lying."""
        hull = self._hull(chosen)
        yield standing_boxes(hull, self.scene.up)
        for up in lying_directions(hull, self.scene.up):
            yield standing_boxes(hull, up)

    def _hull(self, chosen: PartSet) -> Points:
        return hull_points(np.vstack([self._hulls[number] for number in members(chosen)]))

    def passings(self, chosen: PartSet) -> tuple[Passing, ...]:
        """How a set that fits passes each place: standing where that is enough, else as low as it goes."""
        standing, *lying = self._positions(chosen)
        found = []
        for name, is_free in self.places:
            upright = [box for box in standing if is_free(box.size_mm)]
            others = [box for boxes in lying for box in boxes if is_free(box.size_mm)]
            best = min(upright or others, key=lambda box: (round(box.size_mm[2]), round(box.size_mm[1]), box.up))
            found.append(Passing(place=name, size_mm=best.size_mm, up=best.up, is_standing=bool(upright)))
        return tuple(found)

    def least_box_mm(self, chosen: PartSet) -> Vector:
        """The box round a set that takes least of a door."""
        boxes = (box.size_mm for found in self._positions(chosen) for box in found)
        return min(boxes, key=lambda size: (round(cross_section_mm2(size)), size))
