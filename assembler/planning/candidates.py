"""What may be taken off next? Joints, pins, sites and weight say; whether it has a way out is another question."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from assembler.figure.joints import Place
from assembler.planning.gravity import BED_MM, MORE, rise_mm
from assembler.planning.pieces import apart_sets, is_fixed, pin_sets
from assembler.planning.scene import FLOOR_MM, PartSet, Scene, members
from assembler.planning.support import Support


class Candidates:
    """Sets that may leave what stands.

    Parameters
    ----------
    scene, support
        The figure, and what stands on the ground.
    groups
        Sets worth building apart.
    is_buildable
        Whether a set can be put together by itself.
    """

    def __init__(
        self, scene: Scene, support: Support, groups: tuple[PartSet, ...], is_buildable: Callable[[PartSet], bool]
    ) -> None:
        self.scene = scene
        self.support = support
        self.groups = groups
        self.is_buildable = is_buildable
        self._after = pin_sets(scene)
        self._apart = apart_sets(scene)
        self._site_pairs = [
            (1 << a, 1 << b)
            for joint, (a, b) in zip(scene.joints, scene.pairs, strict=True)
            if joint.made is Place.SITE
        ]

    def drop_pins(self) -> None:
        """From now on the pins of the user do not count."""
        self._after, self._apart = (), ()

    def found(self, whole: PartSet, is_main: bool) -> list[PartSet]:
        """Single parts and sets worth building apart."""
        keep = 1 << self.scene.root if self.scene.root is not None else 0
        singles = [1 << number for number in members(whole & ~keep)]
        sets = [group for group in self.groups if group & whole == group and group != whole and not group & keep]
        return self.allowed(whole, singles + sets, is_main)

    def allowed(self, whole: PartSet, sets: Sequence[PartSet], is_main: bool) -> list[PartSet]:
        """Sets that leave the rest in one piece, are joined to it, can be built apart and may arrive last by the pins.

        Without a base, the ground joins what stands on it.
        """
        ground = self.support.ground if is_main else 0
        keep = 1 << self.scene.root if self.scene.root is not None else 0
        return [
            moving
            for moving in dict.fromkeys(sets)
            if not moving & keep
            and moving != whole
            and not self._is_heavier(moving, whole & ~moving, is_main)
            and not self._is_first(moving, whole & ~moving, is_main)
            and self.scene.is_connected(whole & ~moving, ground)
            and (self.scene.joints_between(moving, whole & ~moving) or (moving & ground and whole & ~moving & ground))
            and self._is_allowed(moving, whole & ~moving)
            and (moving.bit_count() == 1 or self.is_buildable(moving))
        ]

    def _is_heavier(self, moving: PartSet, standing: PartSet, is_main: bool) -> bool:
        """Whether a piece built apart outweighs what it would be brought to, beside it: then that comes to it.

        What goes on top is lifted whatever it weighs.
        """
        scene = self.scene
        if moving.bit_count() == 1 or is_fixed(scene, standing, is_main=is_main):
            return False
        is_above = scene.lowest_mm(moving, scene.up) > scene.lowest_mm(standing, scene.up) + FLOOR_MM
        return not is_above and scene.mass_kg(moving) > MORE * scene.mass_kg(standing)

    def _is_first(self, moving: PartSet, standing: PartSet, is_main: bool) -> bool:
        """Whether of two single parts this one lies there first: it reaches lower, and the other may come to it.

        On a bench of its own a bed makes up for some of that.
        """
        if moving.bit_count() > 1 or standing.bit_count() > 1 or is_fixed(self.scene, standing, is_main=is_main):
            return False
        rise = rise_mm(self.scene, moving, standing, self.scene.up)
        return rise > (0.0 if is_main else BED_MM) and self._is_allowed(standing, moving)

    def _is_allowed(self, moving: PartSet, standing: PartSet) -> bool:
        """Whether the user's pins let these parts arrive last, and no shop joint comes after a site joint."""
        if self._is_shop_after_site(moving, standing):
            return False
        if any(earlier & moving and later & standing for later, earlier in self._after):
            return False
        return not any(moving & group and moving & group != group and standing & ~group for group in self._apart)

    def _is_shop_after_site(self, moving: PartSet, standing: PartSet) -> bool:
        places = {self.scene.joints[number].made for number in self.scene.joints_between(moving, standing)}
        return Place.SHOP in places and any(
            a & side and b & side for a, b in self._site_pairs for side in (moving, standing)
        )
