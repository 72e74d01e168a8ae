"""Small named assemblies with known answers: meshes and joints made together, so that neither has to be trusted."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from manifold3d import Manifold, OpType

from assembler.engineering.bonding import bonding_for_joints
from assembler.engineering.fastening import stacks_for_joints
from assembler.figure.ids import BoltId, JointId, PartId
from assembler.figure.joints import Bolt, Joint, Method, Place, Seat
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Fingerprint, Part, Vector
from assembler.figure.settings import Adhesive, Base, Crew, Material, Settings
from assembler.geometry.solids import bounds, mass_properties

MATERIAL = Material(name="print", density_kg_m3=1000.0, bearing_mpa=20.0, source="test")
ADHESIVE = Adhesive(
    name="test adhesive",
    bond_line_mm=0.3,
    waste=0.3,
    cartridge_ml=400.0,
    open_min=40.0,
    working_life_min=50.0,
    fixture_min=60.0,
    handling_min=120.0,
    full_cure_min=1440.0,
    sheet_c=20.0,
    lowest_c=5.0,
    highest_c=35.0,
    strength_mpa=0.0,
    spacer="beads",
    source="test",
)
CAPTIVE = (Seat.OPEN, Seat.CAPTIVE)


@dataclass
class Assembly:
    """Solids and joints under work; `given` is what planning takes.

    Bolts are drilled as they are named, so that meshes and joints agree. `density` is in 1000 kg/m3.
    """

    solids: dict[str, Manifold]
    joints: list[Joint] = field(default_factory=list)
    base: str | None = None
    changes: dict[str, Any] = field(default_factory=dict)
    density: float = 1.0

    def join(
        self,
        first: str,
        second: str,
        at: Vector,
        normal: Vector,
        *,
        bolts: Sequence[Vector] = (),
        seats: tuple[Seat, Seat] = CAPTIVE,
        method: Method = Method.BOLTED,
        hole_mm: float = 9.0,
        grip_mm: float = 20.0,
        area_mm2: float = 5000.0,
        made: Place = Place.SHOP,
    ) -> None:
        """A joint whose normal points out of the first part; bolts run along the normal."""
        x, y, z = (np.asarray(normal) / np.linalg.norm(normal)).tolist()
        axis = (x, y, z)
        name = JointId(f"J{len(self.joints) + 1:02d}")
        drilled = []
        for number, place in enumerate(bolts, 1):
            for part in (first, second):
                self.solids[part] -= rod(place, axis, hole_mm / 2.0, grip_mm)
            drilled.append(
                Bolt(
                    id=BoltId(f"{name}.{number}"),
                    at_mm=place,
                    axis=axis,
                    hole_mm=hole_mm,
                    grip_mm=grip_mm,
                    through=(PartId(first), PartId(second)),
                    seats=seats,
                )
            )
        self.joints.append(
            Joint(
                id=name,
                parts=(PartId(first), PartId(second)),
                method=method,
                made=made,
                bond_area_mm2=area_mm2,
                seam_mm=100.0,
                normal=axis,
                centre_mm=at,
                bolts=tuple(drilled),
            )
        )

    @property
    def settings(self) -> Settings:
        """Settings of the specimen."""
        base = Base(part=PartId(self.base)) if self.base else Base()
        plain = Settings(
            name="specimen",
            materials={"print": MATERIAL},
            default_material="print",
            adhesive=ADHESIVE,
            base=base,
            crew=Crew(people=2),
        )
        return replace(plain, **self.changes)

    @property
    def given(self) -> dict[str, Any]:
        """Arguments of `plan_build`."""
        meshes = {PartId(name): mesh_of(body) for name, body in self.solids.items()}
        parts = tuple(part_of(name, mesh, self.density) for name, mesh in meshes.items())
        settings = self.settings
        stacks, _ = stacks_for_joints(self.joints, settings, {part.id: MATERIAL for part in parts})
        bondings, _ = bonding_for_joints(self.joints, settings)
        return {
            "parts": parts,
            "meshes": meshes,
            "joints": tuple(self.joints),
            "stacks": stacks,
            "bondings": bondings,
            "settings": settings,
        }


def mesh_of(body: Manifold) -> Mesh:
    """The mesh of a solid."""
    soup = body.to_mesh64()
    return Mesh(vertices=np.array(soup.vert_properties[:, :3]), faces=np.array(soup.tri_verts, dtype=np.int64))


def part_of(name: str, mesh: Mesh, density: float = 1.0) -> Part:
    """The part with this mesh; density in 1000 kg/m3."""
    mass = mass_properties(mesh)
    low, high = bounds(mesh)
    return Part(
        id=PartId(name),
        file=f"{name}.stl",
        material="print",
        is_printed=True,
        mass_kg=mass.volume_mm3 * 1e-6 * density,
        volume_mm3=mass.volume_mm3,
        area_mm2=mass.area_mm2,
        centre_mm=mass.centre_mm,
        triangles=len(mesh.faces),
        is_watertight=True,
        fingerprint=Fingerprint(
            volume_mm3=mass.volume_mm3,
            area_mm2=mass.area_mm2,
            centre_mm=mass.centre_mm,
            inertia_mm5=(1.0, 1.0, 1.0),
            skew_mm6=0.0,
            low_mm=low,
            high_mm=high,
        ),
    )


def box(low: Vector, high: Vector) -> Manifold:
    """A box between two corners."""
    size = tuple(b - a for a, b in zip(low, high, strict=True))
    return Manifold.cube((size[0], size[1], size[2])).translate(low)


def rod(at: Vector, axis: Vector, radius_mm: float, half_mm: float) -> Manifold:
    """A cylinder centred on a point."""
    along = np.asarray(axis, dtype=np.float64) / np.linalg.norm(axis)
    across = np.linalg.svd(along[None])[2][1]
    frame = np.column_stack([across, np.cross(along, across), along, at])
    return Manifold.cylinder(2.0 * half_mm, radius_mm, radius_mm, 32, True).transform(frame)


def two_boxes() -> Assembly:
    """One box on another, two captive nuts below... the screws come from above through a rim."""
    lower, upper = box((0, 0, 0), (200, 100, 10)), box((0, 0, 10), (200, 100, 20))
    made = Assembly({"A": lower, "B": upper}, base="A")
    made.join("B", "A", (100, 50, 10), (0, 0, -1), bolts=[(50, 50, 10), (150, 50, 10)])
    return made


def stack(count: int) -> Assembly:
    """Plates on each other, each bonded to the one below: one order only."""
    names = [f"P{number + 1:02d}" for number in range(count)]
    made = Assembly(
        {name: box((0, 0, 30.0 * k), (200, 200, 30.0 * k + 30.0)) for k, name in enumerate(names)}, base=names[0]
    )
    for k in range(1, count):
        made.join(names[k - 1], names[k], (100, 100, 30.0 * k), (0, 0, 1), method=Method.BONDED)
    return made


def ring_of_four() -> Assembly:
    """Four quarters of a ring on a plate, bonded."""
    ring = Manifold.cylinder(60, 150, 150, 64) - Manifold.cylinder(60, 120, 120, 64)
    made = Assembly({"P0": box((-200, -200, -20), (200, 200, 0))}, base="P0")
    for k in range(4):
        a, b = (math.cos(k * math.pi / 2), math.sin(k * math.pi / 2)), k * 90.0
        quarter = ring ^ box((0, 0, 0), (200, 200, 60)).rotate((0, 0, b))
        made.solids[f"P{k + 1}"] = quarter
        del a
    for k in range(4):
        angle = (k + 0.5) * math.pi / 2
        at = (135 * math.cos(angle), 135 * math.sin(angle), 0.0)
        made.join("P0", f"P{k + 1}", at, (0, 0, 1), method=Method.BONDED)
    for k in range(4):
        angle = (k + 1) * math.pi / 2
        at = (135 * math.cos(angle), 135 * math.sin(angle), 30.0)
        normal = (-math.sin(angle), math.cos(angle), 0.0)
        made.join(f"P{k + 1}", f"P{(k + 1) % 4 + 1}", at, normal, method=Method.BONDED, area_mm2=1800.0)
    return made


def closed_box(hole_mm: float = 0.0) -> Assembly:
    """Six panels with inner flanges along the diagonal planes: a closed cube of 600 mm, two bolts an edge.

    A hole of the given diameter in the top panel is the way in.
    """
    half, wall = 300.0, 8.0
    inner = half - wall
    shell = box((-half,) * 3, (half,) * 3) - box((-inner,) * 3, (inner,) * 3)
    names = {(axis, sign): f"{'xyz'[axis]}{'+' if sign > 0 else '-'}" for axis in range(3) for sign in (1, -1)}
    ribs = Manifold()
    edges = [(a, s, b, t) for a in range(3) for b in range(a + 1, 3) for s in (1, -1) for t in (1, -1)]
    for a, s, b, t in edges:
        ribs += _rib(a, s, b, t, inner)
    hollow = box((-inner,) * 3, (inner,) * 3)
    whole = shell + (ribs ^ hollow)
    made = Assembly({})
    for (axis, sign), name in names.items():
        made.solids[name] = whole ^ _pyramid(axis, sign, half)
    if hole_mm:
        made.solids["z+"] -= rod((0, 0, half), (0, 0, 1), hole_mm / 2.0, 40.0)
    for a, s, b, t in edges:
        along = 3 - a - b
        normal = np.zeros(3)
        normal[a], normal[b] = -s, t
        places = []
        for shift in (-90.0, 90.0):
            at = np.zeros(3)
            at[a], at[b], at[along] = s * 235.0, t * 235.0, shift
            places.append((float(at[0]), float(at[1]), float(at[2])))
        x, y, z = normal.tolist()
        made.join(
            names[a, s], names[b, t], places[0], (x, y, z), bolts=places, seats=(Seat.OPEN, Seat.OPEN), grip_mm=20.0
        )
    return made


def _rib(a: int, s: int, b: int, t: int, inner: float) -> Manifold:
    """Two flanges on both sides of the diagonal plane at one edge of the cube, 110 mm deep and 10 mm each."""
    out, normal = np.zeros(3), np.zeros(3)
    out[a], out[b] = s, t
    normal[a], normal[b] = -s, t
    out, normal = out / math.sqrt(2), normal / math.sqrt(2)
    along = np.cross(out, normal)
    edge = out * math.sqrt(2) * inner
    frame = np.column_stack([out, normal, along, edge - out * 55.0])
    return Manifold.cube((110.0, 20.0, 2.0 * inner), True).transform(frame)


def _pyramid(axis: int, sign: int, half: float) -> Manifold:
    """The sixth of a cube that belongs to one face."""
    corners = [np.zeros(3)]
    for p in (-1, 1):
        for q in (-1, 1):
            corner = np.zeros(3)
            corner[axis], corner[(axis + 1) % 3], corner[(axis + 2) % 3] = sign * half, p * half, q * half
            corners.append(corner)
    return Manifold.hull_points(np.array(corners))


def dovetail_with_keeper() -> Assembly:
    """A slider in a groove that is wider below than above, closed at one end, and a keeper over the other end."""
    profile = [(-30.0, 20.0), (30.0, 20.0), (20.0, 60.0), (-20.0, 60.0)]
    groove = Manifold.hull_points(np.array([(x, y, z) for x in (-150.0, 100.0) for y, z in profile]))
    slider = Manifold.hull_points(np.array([(x, y, z) for x in (-100.0, 100.0) for y, z in profile]))
    body = box((-150, -80, 0), (100, 80, 60)) - groove
    body += box((-150, -80, 0), (-100, 80, 60))
    keeper = box((100, -80, 0), (115, 80, 60))
    made = Assembly({"A": body, "K": keeper, "S": slider}, base="A")
    made.join("A", "S", (0, 0, 20), (0, 0, 1), method=Method.DRY)
    made.join("K", "A", (100, 55, 30), (-1, 0, 0), bolts=[(100, 55, 40), (100, -55, 40)], grip_mm=30.0)
    return made


def ring_on_post() -> Assembly:
    """A ring on a post under a cap that is wider than the ring's hole."""
    foot = box((-150, -150, 0), (150, 150, 20)) + Manifold.cylinder(100, 30, 30, 48).translate((0, 0, 20))
    ring = (Manifold.cylinder(60, 80, 80, 48) - Manifold.cylinder(60, 31, 31, 48)).translate((0, 0, 20))
    cap = Manifold.cylinder(20, 60, 60, 48).translate((0, 0, 120))
    made = Assembly({"A": foot, "C": cap, "R": ring}, base="A")
    made.join("A", "R", (50, 0, 20), (0, 0, 1), method=Method.DRY)
    made.join("A", "C", (0, 0, 120), (0, 0, 1), method=Method.BONDED)
    return made


def linked_hooks() -> Assembly:
    """Two square links through each other, touching: nothing takes them apart."""
    link = box((-100, -15, -60), (100, 15, 60)) - box((-70, -16, -30), (70, 16, 30))
    other = link.rotate((90, 0, 0)).translate((120, 0, 0))
    made = Assembly({"A": link, "B": other})
    made.join("A", "B", (70, 0, 0), (-1, 0, 0), method=Method.DRY, area_mm2=900.0)
    return made


def arch() -> Assembly:
    """Two piers, two springers that lean over, and a keystone."""
    left, right = box((-300, -50, 0), (-200, 50, 200)), box((200, -50, 0), (300, 50, 200))
    made = Assembly({"P0": box((-400, -100, -30), (400, 100, 0)), "P1": left, "P2": right}, base="P0")
    half = [(-300, 200), (-200, 200), (-50, 330), (-70, 430), (-300, 430)]
    made.solids["P3"] = _prism(half)
    made.solids["P4"] = _prism([(-x, z) for x, z in half])
    made.solids["P5"] = _prism([(-50, 330), (50, 330), (70, 430), (-70, 430)])
    for pier, x in (("P1", -250), ("P2", 250)):
        made.join("P0", pier, (x, 0, 0), (0, 0, 1), method=Method.BONDED)
    made.join("P1", "P3", (-250, 0, 200), (0, 0, 1), method=Method.BONDED)
    made.join("P2", "P4", (250, 0, 200), (0, 0, 1), method=Method.BONDED)
    made.join("P3", "P5", (-60, 0, 380), (100, 0, 20), method=Method.BONDED)
    made.join("P4", "P5", (60, 0, 380), (-100, 0, 20), method=Method.BONDED)
    return made


def _prism(corners: Sequence[tuple[float, float]]) -> Manifold:
    points = [(x, y, z) for y in (-50.0, 50.0) for x, z in corners]
    return Manifold.hull_points(np.array(points, dtype=np.float64))


def eccentric_tower(count: int, shift_mm: float) -> Assembly:
    """Equal cubes of 100 mm on each other, each shifted sideways; it tips when the centre leaves the lowest face.

    The centre of n cubes lies (n - 1) x shift / 2 from the axis of the lowest: it tips beyond 50 mm.
    """
    names = [f"P{number + 1:02d}" for number in range(count)]
    made = Assembly(
        {
            name: box((shift_mm * k, 0, 100.0 * k), (shift_mm * k + 100, 100, 100.0 * k + 100))
            for k, name in enumerate(names)
        },
        base=names[0],
    )
    for k in range(1, count):
        made.join(names[k - 1], names[k], (shift_mm * k + 40, 50, 100.0 * k), (0, 0, 1), method=Method.BONDED)
    return made


BURR_OWNERS = "51001155555005001233223002004400"
"""Which bar each of the 32 shared cells belongs to, in sorted order of the cells; found by random search."""


def burr_cells() -> list[set[tuple[int, int, int]]]:
    """Unit cells of a six-piece burr: three crossed pairs of 2 x 2 x 6 bars, the first one whole (the key)."""
    bars = []
    for axis in range(3):
        for low in (0, -2):
            bar = set()
            for along in range(-3, 3):
                for beside in (low, low + 1):
                    for across in (-1, 0):
                        cell = [0, 0, 0]
                        cell[axis], cell[(axis + 1) % 3], cell[(axis + 2) % 3] = along, beside, across
                        bar.add((cell[0], cell[1], cell[2]))
            bars.append(bar)
    shared = sorted(cell for cell in set().union(*bars) if sum(cell in bar for bar in bars) > 1)
    owner = dict(zip(shared, map(int, BURR_OWNERS), strict=True))
    return [{cell for cell in bar if owner.get(cell, number) == number} for number, bar in enumerate(bars)]


def burr() -> Assembly:
    """A six-piece burr of cells of 20 mm; only its key, P1, can leave first."""
    made = Assembly({})
    for number, cells in enumerate(burr_cells(), 1):
        made.solids[f"P{number}"] = Manifold.batch_boolean(
            [Manifold.cube((20.0,) * 3).translate(tuple(20.0 * v for v in cell)) for cell in sorted(cells)], OpType.Add
        )
    for k in range(6):
        for m in range(k + 1, 6):
            made.join(f"P{k + 1}", f"P{m + 1}", (0, 0, 0), (1, 1, 1), method=Method.DRY)
    return made


def arm_in_shoulder() -> Assembly:
    """An arm whose head is caught between two halves of a shoulder: it only goes in before the second half."""
    block = box((-100, -100, 0), (100, 100, 200))
    head = box((-60, -60, 60), (60, 60, 140))
    neck = box((60, -25, 80), (300, 25, 120))
    arm = head + neck
    halves = block - arm
    made = Assembly(
        {
            "A": box((-150, -150, -20), (150, 150, 0)),
            "B": halves ^ box((-200, -200, 0), (200, 0, 200)),
            "C": halves ^ box((-200, 0, 0), (200, 200, 200)),
            "M": arm,
        },
        base="A",
    )
    made.join("A", "B", (0, -50, 0), (0, 0, 1), method=Method.BONDED)
    made.join("A", "C", (0, 50, 0), (0, 0, 1), method=Method.BONDED)
    made.join("B", "C", (0, 0, 30), (0, 1, 0), method=Method.BONDED)
    made.join("B", "M", (0, -60, 100), (0, 1, 0), method=Method.DRY)
    made.join("C", "M", (0, 60, 100), (0, -1, 0), method=Method.DRY)
    return made


def mirrored_twins() -> Assembly:
    """A body with two arms, one the mirror image of the other."""
    body = box((-100, -60, 0), (100, 60, 300))
    left = box((100, -40, 150), (260, 40, 230)) + box((220, -40, 100), (260, 40, 150))
    made = Assembly({"A": body, "L": left, "R": left.mirror((1, 0, 0))}, base="A")
    made.join("A", "L", (100, 0, 190), (1, 0, 0), method=Method.BONDED)
    made.join("A", "R", (-100, 0, 190), (-1, 0, 0), method=Method.BONDED)
    return made


def tower(levels: int, size_mm: float = 420.0, *, is_bolted_down: bool = False) -> Assembly:
    """Flanged half rings of a hollow shell on a plate, captive nuts, open at the top: like the trunk of a figure."""
    wall, high, flange = 5.0, 300.0, 40.0
    radius = size_mm / 2.0
    made = Assembly({"P01": box((-400, -400, -40), (400, 400, 0))}, base="P01")
    number = 2
    previous: list[str] = []
    for level in range(levels):
        z = level * high
        shell = _tube(radius, radius - wall, z, z + high)
        rings = _tube(radius - 1, radius - wall - flange, z, z + 10) + _tube(
            radius - 1, radius - wall - flange, z + high - 10, z + high
        )
        web = box((-10, -radius + 1, z), (10, -radius + wall + flange, z + high))
        web += web.mirror((0, 1, 0))
        whole = shell + rings + (web ^ _tube(radius - 1, 0, z, z + high))
        pair = [f"P{number:02d}", f"P{number + 1:02d}"]
        number += 2
        made.solids[pair[0]] = whole ^ box((-1000, -1000, z - 1), (0, 1000, z + high + 1))
        made.solids[pair[1]] = whole ^ box((0, -1000, z - 1), (1000, 1000, z + high + 1))
        middle = radius - wall - flange / 2.0
        for side, name in ((-1.0, pair[0]), (1.0, pair[1])):
            below = previous[0 if side < 0 else 1] if previous else "P01"
            places = [(side * middle * math.cos(angle), middle * math.sin(angle), z) for angle in (-0.8, 0.0, 0.8)]
            if previous:
                made.join(name, below, places[0], (0, 0, -1), bolts=places, method=Method.BOLTED_AND_BONDED)
            elif is_bolted_down:
                made.join(name, below, places[0], (0, 0, -1), bolts=places, seats=(Seat.OPEN, Seat.OPEN))
            else:
                made.join(name, below, places[0], (0, 0, -1), method=Method.BONDED)
        webs = [(0.0, side * (radius - wall - flange / 2.0), z + high / 2.0) for side in (-1.0, 1.0)]
        made.join(pair[0], pair[1], webs[0], (1, 0, 0), bolts=webs, method=Method.BOLTED_AND_BONDED)
        previous = pair
    return made


def _tube(outer: float, inner: float, low: float, high: float) -> Manifold:
    body = Manifold.cylinder(high - low, outer, outer, 96)
    if inner > 0:
        body -= Manifold.cylinder(high - low + 2, inner, inner, 96).translate((0, 0, -1))
    return body.translate((0, 0, low))


def sealed_tower() -> Assembly:
    """A tower of one level bolted to its plate and under a lid, nuts inside, nothing left open: it cannot be closed."""
    made = tower(1, is_bolted_down=True)
    lid = Manifold.cylinder(10, 210, 210, 96).translate((0, 0, 300))
    made.solids["P09"] = lid
    for side, name in ((-1.0, "P02"), (1.0, "P03")):
        places = [(side * 185.0 * math.cos(angle), 185.0 * math.sin(angle), 300.0) for angle in (-0.6, 0.6)]
        made.join("P09", name, places[0], (0, 0, -1), bolts=places, seats=(Seat.OPEN, Seat.OPEN))
    return made
