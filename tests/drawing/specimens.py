"""A small figure of flanged parts, with its joints, hardware and plan: what the drawing tests draw.

A hollow skittle, 300 mm tall for each band, cut by levels and one upright plane; every cut has an internal flange with
M8 holes. Three bands make six parts.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import manifold3d as m3
import numpy as np

from assembler.drawing.bodies import figure_of
from assembler.drawing.drawnstep import DrawnStep, Solids, drawn_steps
from assembler.drawing.studio import Studio
from assembler.figure.hardware import Bonding, HardwareLine, Stack
from assembler.figure.ids import BenchId, BoltId, JointId, PartId, SectionId, StepNumber
from assembler.figure.joints import Bolt, Joint, Method, Place
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Fingerprint, Part, Vector
from assembler.figure.plan import Access, Hold, Move, Plan, Section, Step, StepKind

BAND_MM = 300.0
FLANGE_MM = 8.0
HOLE_MM = 9.0


@dataclass(frozen=True)
class Specimen:
    plan: Plan
    meshes: dict[PartId, Mesh]

    @property
    def drawn(self) -> tuple[DrawnStep, ...]:
        """Its steps as drawing is handed them."""
        return drawn_steps(self.plan, Solids(self.plan, self.meshes))

    def studio(self, folder: Path) -> Studio:
        """A studio of it that writes to a folder."""
        return Studio(figure_of(self.meshes, Solids(self.plan, self.meshes).bought), folder)


def _height(bands: int) -> float:
    return BAND_MM * bands


def radius_at(z: float, bands: int = 3) -> float:
    """Outer radius of the figure at a height, mm."""
    share = z / _height(bands)
    return float(170.0 + 45.0 * np.sin(share * np.pi * 1.9 + 0.4) - 60.0 * share**3)


def _solid(bands: int, inset: float, sides: int) -> m3.Manifold:
    top = _height(bands)
    z = np.linspace(0.0, top, 20 * bands)
    r = np.array([radius_at(value, bands) for value in z]) - inset
    if inset:
        z = np.clip(z, 6.0, top - 6.0)
    outline = np.vstack([[0.0, z[0]], np.column_stack([r, z]), [0.0, z[-1]]])
    return m3.Manifold.revolve(m3.CrossSection([outline]), sides)


def _slab(axis: int, at: float, bands: int) -> m3.Manifold:
    size = [2000.0, 2000.0, 2.0 * _height(bands)]
    size[axis] = 2.0 * FLANGE_MM
    shift = [0.0, 0.0, _height(bands) / 2.0]
    shift[axis] = at
    return m3.Manifold.cube(size, True).translate(shift)


def _ring_bolts(bands: int) -> list[tuple[str, Vector, Vector]]:
    """Bolts at the level cuts: (level index, at, axis)."""
    bolts = []
    for level in range(1, bands):
        z = BAND_MM * level
        radius = radius_at(z, bands) - 22.0
        for turn in range(8):
            angle = np.radians(22.5 + 45.0 * turn)
            bolts.append((f"{level}", (radius * np.cos(angle), radius * np.sin(angle), z), (0.0, 0.0, 1.0)))
    return bolts


def _upright_bolts(bands: int) -> list[tuple[str, Vector, Vector]]:
    """Bolts at the upright cut x = 0, axis along +x."""
    bolts = []
    for band in range(bands):
        for z in (BAND_MM * band + 75.0, BAND_MM * band + 225.0):
            radius = radius_at(z, bands) - 22.0
            bolts += [(f"u{band}", (0.0, side * radius, z), (1.0, 0.0, 0.0)) for side in (-1.0, 1.0)]
    return bolts


def _drill(at: Vector, axis: Vector) -> m3.Manifold:
    bore = m3.Manifold.cylinder(60.0, HOLE_MM / 2.0, HOLE_MM / 2.0, 32, True)
    return (bore.rotate([0.0, 90.0, 0.0]) if axis[0] else bore).translate(at)


def _mesh(solid: m3.Manifold) -> Mesh:
    raw = solid.to_mesh()
    return Mesh(
        vertices=np.asarray(raw.vert_properties[:, :3], dtype=float), faces=np.asarray(raw.tri_verts, dtype=np.int64)
    )


@cache
def skittle(bands: int = 3, sides: int = 96) -> Specimen:
    """Parts P01, P02, ...: two halves in each band, x > 0 first."""
    outer, inner, core = (_solid(bands, inset, sides) for inset in (0.0, 6.0, 45.0))
    rim = outer - core
    body = outer - inner
    for level in range(1, bands):
        body += rim ^ _slab(2, BAND_MM * level, bands)
    body += rim ^ _slab(0, 0.0, bands)
    for _, at, axis in _ring_bolts(bands) + _upright_bolts(bands):
        body -= _drill(at, axis)
    meshes: dict[PartId, Mesh] = {}
    number = 1
    for band in range(bands):
        low = body.trim_by_plane([0.0, 0.0, 1.0], BAND_MM * band)
        low = low.trim_by_plane([0.0, 0.0, -1.0], -BAND_MM * (band + 1))
        for side in (1.0, -1.0):
            meshes[PartId(f"P{number:02d}")] = _mesh(low.trim_by_plane([side, 0.0, 0.0], 0.0))
            number += 1
    return Specimen(plan=_plan(meshes, bands), meshes=meshes)


def _part(name: PartId, mesh: Mesh) -> Part:
    low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
    centre = tuple(float(v) for v in (low + high) / 2.0)
    box = (tuple(float(v) for v in low), tuple(float(v) for v in high))
    mark = Fingerprint(
        volume_mm3=1.0,
        area_mm2=1.0,
        centre_mm=centre,
        inertia_mm5=(1.0, 1.0, 1.0),
        skew_mm6=0.0,
        low_mm=box[0],
        high_mm=box[1],
    )
    return Part(
        id=name, file=f"{name.lower()}.stl", material="PA12", is_printed=True, mass_kg=1.2, volume_mm3=1.0,
        area_mm2=1.0, centre_mm=centre, triangles=len(mesh.faces), is_watertight=True,
        fingerprint=mark,
    )  # fmt: skip


def _joint(
    name: str, pair: tuple[str, str], bolts: list[tuple[Vector, Vector]], normal: Vector, method: Method
) -> Joint:
    parts = (PartId(pair[0]), PartId(pair[1]))
    made = tuple(
        Bolt(
            id=BoltId(f"{name}.{index}"), at_mm=at, axis=axis, hole_mm=HOLE_MM, grip_mm=2.0 * FLANGE_MM,
            through=parts, seat_room_mm=(22.0, 22.0),
        )
        for index, (at, axis) in enumerate(bolts, start=1)
    )  # fmt: skip
    centre = tuple(float(v) for v in np.mean([at for at, _ in bolts], axis=0))
    return Joint(
        id=JointId(name), parts=parts, method=method, made=Place.SHOP, bond_area_mm2=20000.0, seam_mm=500.0,
        normal=normal, centre_mm=centre, bolts=made,
    )  # fmt: skip


def stack_for(bolt: Bolt, joint: JointId) -> Stack:
    """M8 x 30: 16 grip, two washers of 1.6, nut 6.8, needed 28.2 with 0.3 bond line."""
    return Stack(
        bolt=bolt.id, joint=joint, size="M8", screw="ISO 4017", nut="ISO 4032", washer="ISO 7089", length_mm=30.0,
        needed_mm=28.8, grip_mm=16.3, washers=2, washer_mm=1.8, washer_outer_mm=16.0, head_mm=5.3, nut_mm=6.8,
        across_flats_mm=13.0, nut_across_flats_mm=13.0, key_mm=0.0, head_outer_mm=14.38, protrusion_mm=3.3,
        torque_nm=6.0, torque_rule="washer pressure on PA12",
    )  # fmt: skip


def _joints(bands: int) -> tuple[Joint, ...]:
    rings, uprights = _ring_bolts(bands), _upright_bolts(bands)
    joints = []
    names = iter(f"J{n:02d}" for n in range(1, 4 * bands))
    both = Method.BOLTED_AND_BONDED
    for band in range(bands):
        bolts = [(at, axis) for key, at, axis in uprights if key == f"u{band}"]
        pair = (f"P{2 * band + 2:02d}", f"P{2 * band + 1:02d}")
        joints.append(_joint(next(names), pair, bolts, (1.0, 0.0, 0.0), both))
        if band == 0:
            continue
        for side, sign in ((1, 1.0), (2, -1.0)):
            bolts = [(at, axis) for key, at, axis in rings if key == f"{band}" and sign * at[0] > 0.0]
            pair = (f"P{2 * band - 2 + side:02d}", f"P{2 * band + side:02d}")
            joints.append(_joint(next(names), pair, bolts, (0.0, 0.0, 1.0), both))
    return tuple(joints)


def _step(number: int, new: str, onto: list[str], path: tuple[Move, ...], joints: list[Joint]) -> Step:
    stacks = tuple(stack_for(bolt, joint.id) for joint in joints for bolt in joint.bolts)
    lines = tuple(
        HardwareLine(
            joint=joint.id,
            item=item,
            kind=kind,
            size="M8",
            length_mm=length,
            count=per * len(joint.bolts),
            torque_nm=6.0,
        )
        for joint in joints
        for item, kind, length, per in (
            ("Hexagon head screw ISO 4017 - M8 x 30 - 8.8", "screw", 30.0, 1),
            ("Hexagon nut ISO 4032 - M8 - 8", "nut", 0.0, 1),
            ("Washer ISO 7089 - 8 - 200 HV", "washer", 0.0, 2),
        )
    )
    access = tuple(
        Access(
            bolt=b.id, head_part=b.through[0], nut_part=b.through[-1], head_end=0, tool="socket 13 mm", head="inside",
            nut="inside", reach_mm=300.0, is_reachable=True,
        )
        for j in joints for b in j.bolts
    )  # fmt: skip
    glue = tuple(
        Bonding(
            joint=j.id, name="Epoxy", area_mm2=j.bond_area_mm2, volume_ml=8.0, temperature_c=20.0, open_min=20.0,
            needed_min=8.0, fixture_min=240.0, handling_min=720.0, full_cure_min=10080.0,
        )
        for j in joints
    )  # fmt: skip
    return Step(
        number=StepNumber(str(number)), title=f"Join {new}" if joints else f"Set up {new}", kind=StepKind.JOIN,
        place=Place.SHOP, bench=BenchId("B1"), section=SectionId("S1"), moves=(PartId(new),),
        onto=tuple(PartId(p) for p in onto), path=path, joints=tuple(j.id for j in joints), hardware=lines,
        stacks=stacks, adhesive=glue, access=access,
        hold=Hold(minutes=720.0, joints=tuple(j.id for j in joints), before=(), reason="strength") if joints else None,
    )  # fmt: skip


def _plan(meshes: dict[PartId, Mesh], bands: int) -> Plan:
    joints = _joints(bands)
    names = sorted(meshes)
    steps = []
    for index, name in enumerate(names):
        standing = names[:index]
        closes = [j for j in joints if name in j.parts and set(j.parts) <= {*standing, name}]
        move = (1.0, 0.0, 0.0) if index % 2 else (0.0, 0.0, -1.0)
        path = (Move(direction=move, travel_mm=300.0),) if standing else ()
        steps.append(_step(index + 1, name, list(standing), path, closes))
    everything = Section(
        id=SectionId("S1"),
        parts=tuple(names),
        mass_kg=7.2,
        size_mm=(430.0, 430.0, _height(bands)),
        centre_mm=(0.0, 0.0, _height(bands) / 2.0),
    )
    return Plan(
        figure_name="Skittle", revision="A", parts=tuple(_part(n, meshes[n]) for n in names), joints=joints,
        steps=tuple(steps), sections=(everything,), findings=(),
    )  # fmt: skip
