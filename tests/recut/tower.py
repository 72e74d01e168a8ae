"""A small figure for re-cut stories: a tower of flanged tubes with two arms that are mirror twins, and its plan.

Geometry is made by manifold3d; joints, bolts and steps are written down beside it by the same numbers, as a survey and
a planner would. The plan is a simple one (base, then up), but complete: hardware, adhesive, holds, gates, lifts.
"""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import manifold3d
import numpy as np

from assembler.figure.hardware import Bonding, HardwareLine, Stack
from assembler.figure.ids import BenchId, BoltId, JointId, PartId, SectionId, StepNumber, natural_key
from assembler.figure.joints import Bolt, Joint, Method, Place
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Fingerprint, Part, Vector
from assembler.figure.plan import Access, Gate, Hold, Lift, Move, Plan, Section, Stability, Step, StepKind
from assembler.geometry.fingerprints import fingerprint

OUTER, INNER, CIRCLE, HOLE, FLANGE = 100.0, 96.0, 83.0, 9.0, 10.0
SEGMENTS = 48
DENSITY = 1.2e-6

Solid = manifold3d.Manifold


@dataclass(frozen=True)
class Recipe:
    """What a tower is cut like.

    `cuts` are the heights from bottom to top, `tubes` the ids between them, `bolts` pieces per joint by index of cut.
    """

    cuts: tuple[float, ...] = (0.0, 120.0, 240.0, 360.0, 480.0)
    tubes: tuple[str, ...] = ("P01", "P02", "P03", "P04")
    joints: tuple[str, ...] = ("J01", "J02", "J03")
    arms: tuple[str, ...] = ("P05", "P06")
    arm_joints: tuple[str, ...] = ("J04", "J05")
    arms_on: int = 2
    bolts: Mapping[int, int] = field(default_factory=dict)
    bonded: tuple[int, ...] = ()
    absent: tuple[str, ...] = ()
    files: Mapping[str, str] = field(default_factory=dict)
    revision: str = "A"
    shift_mm: Vector = (0.0, 0.0, 0.0)
    factor: float = 1.0
    finish: tuple[str, ...] = ("Fill the seams", "Sand")
    is_chained: bool = False

    def count(self, cut: int) -> int:
        return self.bolts.get(cut, 6)

    def file(self, part: str) -> str:
        return self.files.get(part, f"{part}.stl")


@functools.cache
def _tube(low: float, high: float, has_floor_flange: bool, has_top_flange: bool, bolts: tuple[int, int]) -> Solid:
    def disc(radius: float, start: float, end: float, segments: int = SEGMENTS) -> Solid:
        return Solid.cylinder(end - start, radius, radius, segments).translate((0.0, 0.0, start))

    solid = disc(OUTER, low, high)
    hollow = disc(INNER, low - 1, high + 1)
    bore = disc(70.0, low - 1, high + 1)
    flanges = [(low, low + FLANGE)] * has_floor_flange + [(high - FLANGE, high)] * has_top_flange
    counts = [bolts[0]] * has_floor_flange + [bolts[1]] * has_top_flange
    for (start, end), count in zip(flanges, counts, strict=True):
        ring = disc(OUTER, start, end) - bore
        for x, y in circle(count):
            ring = ring - disc(HOLE / 2, start - 1, end + 1, 24).translate((x, y, 0.0))
        hollow = hollow - ring
        for x, y in circle(count):
            hollow = hollow + disc(HOLE / 2, start - 1, end + 1, 24).translate((x, y, 0.0))
    return solid - hollow


def circle(count: int) -> list[tuple[float, float]]:
    turns = [2 * math.pi * index / count for index in range(count)]
    return [(CIRCLE * math.cos(turn), CIRCLE * math.sin(turn)) for turn in turns]


@functools.cache
def _arm(side: float, height: float) -> Solid:
    """A block with a hook and a thumb: no mirror plane, so left and right differ."""

    def block(size: Vector, at: Vector) -> Solid:
        return Solid.cube(size).translate(at)

    solid = block((60.0, 40.0, 50.0), (OUTER, -20.0, 0.0)) + block((20.0, 70.0, 20.0), (OUTER + 40, -20.0, 0.0))
    solid = solid + block((15.0, 15.0, 40.0), (OUTER + 10, 5.0, 50.0))
    placed = solid.translate((0.0, 0.0, height))
    return placed if side > 0 else placed.mirror((1.0, 0.0, 0.0))


def solids(recipe: Recipe) -> dict[str, Solid]:
    """Every part of the tower, by id."""
    made: dict[str, Solid] = {}
    last = len(recipe.tubes) - 1
    for index, part in enumerate(recipe.tubes):
        counts = (recipe.count(index - 1), recipe.count(index))
        made[part] = _tube(recipe.cuts[index], recipe.cuts[index + 1], index > 0, index < last, counts)
    height = recipe.cuts[recipe.arms_on] + 40
    for part, side in zip(recipe.arms, (1.0, -1.0), strict=False):
        made[part] = _arm(side, height)
    placed = {}
    for part, solid in made.items():
        if part not in recipe.absent:
            is_moved = recipe.shift_mm != (0.0, 0.0, 0.0) or recipe.factor != 1.0
            placed[part] = solid.translate(recipe.shift_mm).scale((recipe.factor,) * 3) if is_moved else solid
    return placed


def mesh_of(solid: Solid) -> Mesh:
    """Triangles of a solid, in single precision as an STL file would carry them."""
    raw = solid.to_mesh()
    return Mesh(vertices=np.asarray(raw.vert_properties[:, :3], dtype=np.float64), faces=np.asarray(raw.tri_verts))


def re_exported(mesh: Mesh, seed: int) -> Mesh:
    """Other vertex order, other start corner of each triangle, triangles shuffled and some split, single precision."""
    rng = np.random.default_rng(seed)
    order = rng.permutation(len(mesh.vertices))
    place = np.argsort(order)
    vertices, faces = mesh.vertices[order], place[mesh.faces]
    middle = vertices[faces].mean(axis=1)
    split = rng.random(len(faces)) < 0.3
    hub = len(vertices) + np.cumsum(split) - 1
    corners, hubs = faces[split], hub[split]
    thirds = [np.stack([corners[:, k], corners[:, (k + 1) % 3], hubs], axis=1) for k in range(3)]
    faces = rng.permutation(np.concatenate([faces[~split], *thirds]))
    points = np.concatenate([vertices, middle[split]]).astype(np.float32).astype(np.float64)
    return Mesh(vertices=points, faces=faces)


# Keeps the solid, so that its id is not given to another one.
_SEEN: dict[int, tuple[Solid, Mesh, Fingerprint]] = {}


def _measured(solid: Solid) -> tuple[Mesh, Fingerprint]:
    if id(solid) not in _SEEN:
        mesh = mesh_of(solid)
        _SEEN[id(solid)] = (solid, mesh, fingerprint(mesh))
    return _SEEN[id(solid)][1:]


def marks(recipe: Recipe) -> dict[str, Fingerprint]:
    """Fingerprint of every file."""
    return {recipe.file(part): _measured(solid)[1] for part, solid in solids(recipe).items()}


def _part(name: str, recipe: Recipe, solid: Solid) -> Part:
    mesh, mark = _measured(solid)
    return Part(
        id=PartId(name),
        file=recipe.file(name),
        material="PA12",
        is_printed=True,
        mass_kg=mark.volume_mm3 * DENSITY,
        volume_mm3=mark.volume_mm3,
        area_mm2=mark.area_mm2,
        centre_mm=mark.centre_mm,
        triangles=len(mesh.faces),
        is_watertight=True,
        fingerprint=mark,
    )


def _joint(
    name: str, pair: tuple[str, str], bolts: Sequence[tuple[Vector, Vector]], centre: Vector, **more: object
) -> Joint:
    normal: Vector = bolts[0][1] if bolts else (0.0, 0.0, 1.0)
    parts = (PartId(pair[0]), PartId(pair[1]))
    joint = Joint(
        id=JointId(name),
        parts=parts,
        method=Method.BOLTED,
        made=Place.SHOP,
        bond_area_mm2=math.pi * (OUTER**2 - 70.0**2) - len(bolts) * math.pi * HOLE**2 / 4,
        seam_mm=2 * math.pi * OUTER,
        normal=normal,
        centre_mm=centre,
        bolts=tuple(
            Bolt(id=BoltId(f"{name}.{index}"), at_mm=at, axis=axis, hole_mm=HOLE, grip_mm=2 * FLANGE, through=parts)
            for index, (at, axis) in enumerate(bolts, 1)
        ),
    )
    return replace(joint, **more)  # type: ignore[arg-type]


def _joints(recipe: Recipe) -> tuple[Joint, ...]:
    joints = []
    for index, name in enumerate(recipe.joints):
        height = recipe.cuts[index + 1]
        axes: list[tuple[Vector, Vector]] = [((x, y, height), (0.0, 0.0, 1.0)) for x, y in circle(recipe.count(index))]
        method = Method.BOLTED_AND_BONDED if index in recipe.bonded else Method.BOLTED
        pair = (recipe.tubes[index], recipe.tubes[index + 1])
        joints.append(_joint(name, pair, axes, (0.0, 0.0, height), method=method))
    height = recipe.cuts[recipe.arms_on] + 65
    for part, name, side in zip(recipe.arms, recipe.arm_joints, (1.0, -1.0), strict=False):
        axes = [((side * OUTER, y, height), (side, 0.0, 0.0)) for y in (-10.0, 10.0)]
        pair = (recipe.tubes[recipe.arms_on], part)
        joints.append(_joint(name, pair, axes, (side * OUTER, 0.0, height), bond_area_mm2=2000.0, seam_mm=180.0))
    moved = [_shifted(joint, recipe.shift_mm) for joint in joints if not set(joint.parts) & set(recipe.absent)]
    return tuple(sorted(moved, key=lambda joint: natural_key(joint.id)))


def _shifted(joint: Joint, shift: Vector) -> Joint:
    def plus(point: Vector) -> Vector:
        return (point[0] + shift[0], point[1] + shift[1], point[2] + shift[2])

    bolts = tuple(replace(bolt, at_mm=plus(bolt.at_mm)) for bolt in joint.bolts)
    return replace(joint, centre_mm=plus(joint.centre_mm), bolts=bolts)


def _stacks(joint: Joint) -> tuple[Stack, ...]:
    return tuple(
        Stack(
            bolt=bolt.id, joint=joint.id, size="M8", screw="ISO 4017", nut="ISO 4032", washer="ISO 7089",
            length_mm=35.0, needed_mm=33.6, grip_mm=bolt.grip_mm, washers=2, washer_mm=1.8, washer_outer_mm=16.0,
            head_mm=5.45, nut_mm=6.8, across_flats_mm=13.0, nut_across_flats_mm=13.0, key_mm=0.0, head_outer_mm=14.4,
            protrusion_mm=4.6, torque_nm=9.0, torque_rule="washer pressure on PA12",
        )
        for bolt in joint.bolts
    )  # fmt: skip


def _lines(joint: Joint) -> tuple[HardwareLine, ...]:
    count = len(joint.bolts)
    if not count:
        return ()
    return tuple(
        HardwareLine(joint=joint.id, item=item, kind=kind, size="M8", length_mm=length, count=pieces, torque_nm=torque)
        for item, kind, length, pieces, torque in (
            ("Hexagon head screw ISO 4017 - M8 x 35 - 8.8", "screw", 35.0, count, 9.0),
            ("Hexagon nut ISO 4032 - M8 - 8", "nut", 0.0, count, 0.0),
            ("Washer ISO 7089 - 8", "washer", 0.0, 2 * count, 0.0),
        )
    )


def _bonding(joint: Joint) -> tuple[Bonding, ...]:
    if not joint.method.is_bonded:
        return ()
    return (
        Bonding(
            joint=joint.id, name="two-part epoxy", area_mm2=joint.bond_area_mm2,
            volume_ml=joint.bond_area_mm2 * 0.3 * 1.3 / 1000, temperature_c=20.0, open_min=40.0, needed_min=12.0,
            fixture_min=120.0, handling_min=240.0, full_cure_min=2880.0,
        ),
    )  # fmt: skip


def plan(recipe: Recipe) -> Plan:
    """The tower's plan: tubes from the ground up, the arms when their tube is on, then the finish."""
    made = solids(recipe)
    parts = tuple(_part(name, recipe, made[name]) for name in sorted(made, key=natural_key))
    joints = _joints(recipe)
    order: list[str] = []
    for index, tube in enumerate(recipe.tubes):
        order += [tube, *(recipe.arms if index == recipe.arms_on else ())]
    order = [part for part in order if part in made]
    mass = {part.id: part for part in parts}
    steps: list[Step] = []
    step_of: dict[str, StepNumber] = {}
    for part in order[1:]:
        steps.append(_join_step(part, order, joints, mass, step_of, len(steps) + 1))
        step_of[part] = steps[-1].number
        step_of.setdefault(order[0], steps[-1].number)
    if recipe.is_chained:
        # As a planner that lets every step of a bench wait for the one before.
        chained = [replace(step, after=(before.number,)) for before, step in itertools.pairwise(steps)]
        steps = [steps[0], *chained]
    steps = _with_waits(steps, joints)
    for title in recipe.finish:
        before = (steps[-1].number,)
        steps.append(
            Step(
                number=StepNumber(str(len(steps) + 1)), title=title, kind=StepKind.FINISH, place=Place.SHOP,
                bench=BenchId("B1"), section=SectionId("S1"), after=before, onto=tuple(map(PartId, order)),
                minutes=60.0,
            )
        )  # fmt: skip
    total = sum(step.minutes for step in steps) + sum(step.hold.minutes for step in steps if step.hold)
    section = Section(
        id=SectionId("S1"), parts=tuple(part.id for part in parts), mass_kg=sum(part.mass_kg for part in parts),
        size_mm=(0.0, 0.0, 0.0), centre_mm=(0.0, 0.0, 0.0),
    )  # fmt: skip
    return Plan(
        figure_name="Tower", revision=recipe.revision, parts=parts, joints=joints, steps=tuple(steps),
        sections=(section,), findings=(), total_min=total,
    )  # fmt: skip


def _join_step(
    part: str, order: Sequence[str], joints: Sequence[Joint], mass: Mapping[str, Part],
    step_of: Mapping[str, StepNumber], number: int,
) -> Step:  # fmt: skip
    standing = order[: order.index(part)]
    closed = [joint for joint in joints if part in joint.parts and set(joint.parts) - {part} <= set(standing)]
    side = next((joint.normal for joint in closed if abs(joint.normal[0]) > 0.5), None)
    direction: Vector = (-side[0], 0.0, 0.0) if side else (0.0, 0.0, -1.0)
    carriers = [name for joint in closed for name in joint.parts if name != part and name in step_of]
    own = mass[part]
    return Step(
        number=StepNumber(str(number)), title=f"Fit {part}", kind=StepKind.JOIN, place=Place.SHOP,
        bench=BenchId("B1"), section=SectionId("S1"),
        after=tuple(sorted({step_of[name] for name in carriers}, key=natural_key)),
        moves=(PartId(part),), onto=tuple(PartId(name) for name in standing),
        path=(Move(direction=direction, travel_mm=150.0),), joints=tuple(joint.id for joint in closed),
        hardware=tuple(line for joint in closed for line in _lines(joint)),
        stacks=tuple(stack for joint in closed for stack in _stacks(joint)),
        adhesive=tuple(dose for joint in closed for dose in _bonding(joint)),
        lift=Lift(mass_kg=own.mass_kg, centre_mm=own.centre_mm, people=1, rule="within one person's limit"),
        stability=Stability(tip_deg=30.0, needs_prop=False, reason=""),
        access=tuple(
            Access(
                bolt=bolt.id, head_part=joint.parts[0], nut_part=joint.parts[1], head_end=0, tool="socket 13 mm",
                head="from inside, through the open top", nut="from inside, through the open top", reach_mm=200.0,
                is_reachable=True,
            )
            for joint in closed for bolt in joint.bolts
        ),
        minutes=5.0 + sum(len(joint.bolts) for joint in closed),
        why=("stands on what is there",),
    )  # fmt: skip


def _with_waits(steps: Sequence[Step], joints: Sequence[Joint]) -> list[Step]:
    """Holds of bonded joints, and the gates of the step that loads them next."""
    bonded = {joint.id for joint in joints if joint.method.is_bonded}
    made = list(steps)
    for index, step in enumerate(steps):
        fresh = tuple(joint for joint in step.joints if joint in bonded)
        if fresh and index + 1 < len(steps):
            following = steps[index + 1].number
            hold = Hold(minutes=240.0, joints=fresh, before=(following,), reason=f"step {following} loads it")
            made[index] = replace(made[index], hold=hold)
            gates = tuple(Gate(joint=joint, step=step.number) for joint in fresh)
            made[index + 1] = replace(made[index + 1], gates=gates)
    return made
