"""Which bolts can be closed when a set arrives? Asked of the hands, the work upright or turned."""

from __future__ import annotations

from assembler.figure.joints import Bolt
from assembler.planning.access import Hands
from assembler.planning.pieces import is_fixed
from assembler.planning.scene import PartSet, Scene


class Closing:
    """Questions about bolts, as a search asks them.

    Parameters
    ----------
    scene
        The figure.
    hands
        Room for hands and tools; None: every bolt counts as reached.
    is_small
        Whether each question is asked to the full: of a large figure there are too many states.
    """

    def __init__(self, scene: Scene, hands: Hands | None, *, is_small: bool) -> None:
        self.scene = scene
        self.hands = hands
        self.is_small = is_small

    def is_closable(self, moving: PartSet, whole: PartSet, *, is_main: bool) -> bool:
        """Whether every bolt between a set and the rest can be closed past both, if need be with the work turned."""
        standing = whole & ~moving
        bolts = self.scene.bolts_closed(moving, standing)
        is_held = is_fixed(self.scene, standing, is_main=is_main)
        return all(self.is_reached(bolt, whole, is_upright=False, is_held=is_held) for bolt in bolts)

    def is_reached(self, bolt: Bolt, whole: PartSet, *, is_upright: bool, is_held: bool) -> bool:
        """Whether a bolt can be closed past a set that stands upright, or else any way up where nothing holds it."""
        if self.hands is None:
            return True
        if not self.is_small and not is_held:
            # How the work lies is settled on the bench afterwards: of many states only one question is asked here.
            return self.hands.is_closable(bolt, whole, floor=None)
        if self.hands.is_closable(bolt, whole, floor=self.scene.floor(whole, self.scene.up)):
            return True
        is_stuck = is_upright or is_held
        return not is_stuck and self.hands.is_closable(bolt, whole, floor=None)
