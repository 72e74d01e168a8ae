"""The timber base: a deck on two skids, high enough for hands under the deck, drilled for ground anchors."""

from manifold3d import Manifold

from demo.figure.frames import Plane, circle

NAME = "timber base"
MIDDLE_Y_MM = 40.0
SIDE_MM = 1000.0
DECK_MM = 60.0
SKID_HIGH_MM, SKID_WIDE_MM = 140.0, 100.0
SKID_X_MM = 390.0
ANCHOR_HOLE_MM = 14.0
ANCHOR_INSET_MM = 45.0


def timber_base() -> Manifold:
    """Return the base with its anchor holes; the figure's own bolt holes are drilled later."""
    deck = Manifold.cube((SIDE_MM, SIDE_MM, DECK_MM)).translate((-SIDE_MM / 2, MIDDLE_Y_MM - SIDE_MM / 2, -DECK_MM))
    base = deck
    for side in (-1.0, 1.0):
        skid = Manifold.cube((SKID_WIDE_MM, SIDE_MM, SKID_HIGH_MM))
        base += skid.translate(
            (side * SKID_X_MM - SKID_WIDE_MM / 2, MIDDLE_Y_MM - SIDE_MM / 2, -DECK_MM - SKID_HIGH_MM)
        )
    reach = SIDE_MM / 2 - ANCHOR_INSET_MM
    for x in (-reach, reach):
        for y in (MIDDLE_Y_MM - reach, MIDDLE_Y_MM + reach):
            plane = Plane.through((x, y, 0.0), (0.0, 0.0, 1.0))
            base -= plane.prism(circle(ANCHOR_HOLE_MM / 2), -DECK_MM - SKID_HIGH_MM - 1.0, 1.0)
    return base
