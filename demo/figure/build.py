"""The whole figure in order: grow, hollow, cut, flange, bolt, and say what was drawn."""

from dataclasses import dataclass, replace

from manifold3d import Manifold

from demo.figure import hatch as hatches
from demo.figure import lantern, layout, otter, posture, timber
from demo.figure.cells import Cell, cut_cells
from demo.figure.flanges import Ring, ring
from demo.figure.frames import Plane
from demo.figure.joining import Joinery
from demo.figure.layout import Cut
from demo.figure.sampling import level_set
from demo.figure.truth import Joint

PAW = "forearm right"
PRINTED, TIMBER = "PETG", "larch"
_CLEAN_MM = 0.002  # slivers thinner than this carry no shape, and 32-bit files cannot hold them
_CRUMB_MM3 = 150.0


class LoosePieceError(RuntimeError):
    """A part fell into pieces."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """The finished parts, their joints and materials, by part name."""

    parts: dict[str, Manifold]
    joints: list[Joint]
    materials: dict[str, str]


def build_figure(skin_cell_mm: float = 4.6, head_cell_mm: float = 3.0, cavity_cell_mm: float = 9.0) -> Figure:
    """Return the figure; larger sampling cells give the same parts and joints on a plainer skin."""
    whole = level_set(otter.skin, posture.LOW, posture.HIGH, skin_cell_mm) - lantern.seat_relief()
    head = level_set(otter.head_skin, posture.HEAD_LOW, posture.HEAD_HIGH, head_cell_mm)
    cavity = level_set(otter.hollow, posture.LOW, posture.HIGH, cavity_cell_mm).simplify(0.05)
    foot_cut = _foot_cut()
    cells, rings = _cells(whole, head, cavity, foot_cut)
    hatch = hatches.cut_hatch(cells[hatches.TORSO], cavity)
    parts = {name: cell.part() for name, cell in cells.items()}
    parts[hatches.TORSO] = hatch.torso
    parts["hatch panel"] = hatch.panel
    parts[PAW] -= lantern.cable_hole()
    parts |= lantern.pieces()
    parts[timber.NAME] = timber.timber_base()

    joinery = Joinery(
        parts=parts,
        sides={name: cell.sides for name, cell in cells.items()},
        bodies=(_neck().split(whole)[1], _neck().split(head)[0]),
    )
    for cut in layout.cuts():
        joinery.bolt_cut(cut, rings[cut.name].lines)
    joinery.bolt_down(foot_cut, rings[foot_cut.name].lines)
    for tie in lantern.ties(PAW):
        joinery.tie(tie)
    joinery.bond("hatch panel", hatches.TORSO, hatch.seat, hatches.seam_length_mm(hatch, cells[hatches.TORSO].outer))
    finished = {name: whole_body(name, solid).simplify(_CLEAN_MM) for name, solid in joinery.drilled().items()}
    materials = {name: TIMBER if name == timber.NAME else PRINTED for name in finished}
    return Figure(parts=finished, joints=joinery.joints, materials=materials)


def whole_body(name: str, solid: Manifold) -> Manifold:
    """Return the part without the crumbs of fur that a cut can leave beside it.

    Raises
    ------
    LoosePieceError
        When more than a crumb is loose.
    """
    body, *loose = sorted(solid.decompose(), key=lambda piece: -piece.volume())
    lost_mm3 = sum(piece.volume() for piece in loose)
    if lost_mm3 > _CRUMB_MM3:
        raise LoosePieceError(f"{name}: {len(loose)} pieces of {lost_mm3:.0f} mm3 together hang on nothing")
    return body


def _neck() -> Plane:
    return Plane.through((0.0, 0.0, layout.NECK_MM), (0.0, 0.0, 1.0))


def _foot_cut() -> Cut:
    return Cut(
        name="foot",
        plane=Plane.through((0.0, 0.0, 0.0), (0.0, 0.0, 1.0)),
        window=layout.EVERYWHERE,
        bolting=layout.M10,
        splits=(),
        nuts="loose behind",
        pitch_mm=120.0,
    )


def _cells(whole: Manifold, head: Manifold, cavity: Manifold, foot_cut: Cut) -> tuple[dict[str, Cell], dict[str, Ring]]:
    """Return all cells, standing on the deck, and the rings of all cuts, the foot's included.

    `head` is the finer sampling of the same skin: it takes the head's place once the neck is cut.
    """
    foot_ring = ring(cavity, foot_cut)
    above, _ = foot_cut.plane.split(whole)
    otter_cell = Cell(outer=above, hollow=cavity - foot_ring.solid - lantern.seat_flange())
    cells, limb_rings = cut_cells({"otter": otter_cell}, cavity, layout.cuts_above_body())
    cells["head"] = replace(cells["head"], outer=_neck().split(head)[0])
    cells, body_rings = cut_cells(cells, cavity, layout.cuts_of_head_and_body())
    gap = Plane.through((0.0, 0.0, layout.TOE_GAP_MM), (0.0, 0.0, 1.0))
    for name in ("toes left", "toes right"):
        cells[name] = replace(cells[name], outer=gap.split(cells[name].outer)[0])
    return cells, {foot_cut.name: foot_ring, **limb_rings, **body_rings}
