"""Is the plan true? plan.json and meshes in, refutations out. Shares nothing with the planner but the mesh.

Every movement is replayed at small steps against everything that stands then; tools are laid on the bolt axes; bolts,
joints, holds and sums are counted again. What is refuted is a `stop`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from manifold3d import Error, Manifold
from manifold3d import Mesh as TriangleSoup

from assembler.cache import Answers
from assembler.figure.findings import Finding, Level, sort_findings
from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh, mesh_digest
from assembler.figure.tolerances import Tolerances
from assembler.planning.recount import recount

NEAR_STEP_MM = 2.0
NEAR_MM = 40.0
STEP_MM = 8.0
"""Two walls of 5 mm that meet overlap over 10 mm of travel: no step may be longer than that."""

SWING_STEP_DEG = 1.5
"""Between two places at which a turning movement is looked at."""

SIMPLIFY_MM = 0.05
"""Surface detail finer than this is left out of the replay; well below the tolerance for overlap."""

TOOL_MM = 80.0
"""Length of a socket with its ratchet, or of a key's long arm (common practice, no source)."""

SMALLEST_MM3 = 5.0
"""Volume of overlap below which depth means nothing: float32 meshes give crumbs."""

BOX_MM = 1.0
"""Boxes of meshes stand for those of solids, which are simplified and in single precision, where this much apart."""

BEARS_MM = 1.0
"""A stand touches what it carries at a corner of its foot: places are rounded."""

COLUMN_MM = 3.0
"""Half of the width that is looked at of a stand: how much wider it is outwards, the shop decides."""

TOOL_DEPTH_MM = 0.5
"""How deep a tool may graze: facets of the cylinder and of the parts."""


def verify_plan(
    plan: Mapping[str, Any], meshes: Mapping[PartId, Mesh], tolerances: Tolerances, answers: Answers | None = None
) -> tuple[Finding, ...]:
    """Everything in a plan that the meshes or its own numbers refute.

    Parameters
    ----------
    plan
        Content of plan.json.
    meshes
        Of every part, in the frame of the figure.
    tolerances
        The same numbers that survey and planning use.
    answers
        What earlier runs of this check found for the same solids on the same ways.

    Returns
    -------
    tuple of Finding
        Empty when nothing was refuted. A movement or a bolt that the plan itself reports as impossible is not refuted
        again. Parts whose mesh is not closed are named as not checked.
    """
    replay = Replay(plan=plan, bodies=Bodies(meshes, answers or Answers()), tolerances=tolerances)
    found = [*recount(plan), *replay.open_meshes()]
    for step in plan["steps"]:
        found += replay.movement(step)
        found += replay.tools(step)
        found += replay.stands(step)
    return sort_findings(found)


def _body(mesh: Mesh) -> Manifold | None:
    soup = TriangleSoup(vert_properties=mesh.vertices.astype(np.float32), tri_verts=mesh.faces.astype(np.uint32))
    soup.merge()
    body = Manifold(soup)
    if body.status() != Error.NoError or body.is_empty():
        return None
    return body.simplify(SIMPLIFY_MM)


class Bodies:
    """Solids by part, made when they are first needed, and what earlier runs found out about them.

    Parameters
    ----------
    meshes
        By part.
    answers
        Of earlier runs.
    """

    def __init__(self, meshes: Mapping[PartId, Mesh], answers: Answers) -> None:
        self._meshes = meshes
        self._made: dict[str, Manifold | None] = {}
        self._boxes: dict[str, tuple[np.ndarray, np.ndarray]] = {}
        self._digests = {str(part): mesh_digest(mesh) for part, mesh in meshes.items()}
        self.answers = answers

    def has(self, part: str) -> bool:
        """Whether a part is there and its mesh is closed."""
        if part not in self._digests:
            return False
        asked = self.answers.key("closed", self._digests[part])
        if not self.answers.has(asked):
            self.answers.put(asked, self.get(part) is not None)
        return bool(self.answers.get(asked))

    def get(self, part: str) -> Manifold | None:
        """The solid of a part; None where its mesh is not closed, or it is not there."""
        if part not in self._digests:
            return None
        if part not in self._made:
            self._made[part] = _body(self._meshes[PartId(part)])
        return self._made[part]

    def box(self, part: str) -> tuple[np.ndarray, np.ndarray]:
        """Lowest and highest corner of a mesh; its solid, simplified, reaches no farther than `BOX_MM` beyond."""
        if part not in self._boxes:
            corners = self._meshes[PartId(part)].vertices
            self._boxes[part] = corners.min(axis=0), corners.max(axis=0)
        return self._boxes[part]

    def gap_mm(self, part: str, at_mm: Sequence[float]) -> float:
        """Distance of a place from the nearest corner of a part."""
        corners = self._meshes[PartId(part)].vertices
        return float(np.linalg.norm(corners - np.asarray(at_mm), axis=1).min())

    def asked(self, what: str, parts: Iterable[str], *more: object) -> str:
        """Key of a question about parts."""
        return self.answers.key(what, [self._digests[part] for part in parts], *more)

    def open_parts(self) -> tuple[PartId, ...]:
        """Parts whose meshes are not closed."""
        return tuple(part for part in self._meshes if not self.has(part))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Replay:
    """A plan with the solids it moves.

    Parameters
    ----------
    plan
        Content of plan.json.
    bodies
        Solids by part.
    tolerances
        Depth of overlap that is contact.
    """

    plan: Mapping[str, Any]
    bodies: Bodies
    tolerances: Tolerances

    def open_meshes(self) -> list[Finding]:
        """A warning that names the parts which cannot be replayed."""
        names = self.bodies.open_parts()
        if not names:
            return []
        return [
            Finding(
                level=Level.WARN,
                code="movement-not-checked",
                about=names,
                message=f"the meshes of {', '.join(names)} are not closed: their movements are not checked",
                remedy="mend these meshes",
            )
        ]

    def movement(self, step: Mapping[str, Any]) -> list[Finding]:
        """Collisions while the moving parts come in."""
        legs = step.get("path") or (
            [{"direction": step["direction"], "travel_mm": step["travel_mm"]}] if step["direction"] else []
        )
        moving = [part for part in step["moves"] if self.bodies.has(part)]
        if not moving or not legs:
            return []
        found = []
        for part in step["onto"]:
            if self.bodies.has(part):
                hit = self._hit(moving, part, legs, step.get("swing"))
                if hit is not None:
                    found.append(self._collision(step, part, *hit))
        return found

    def _hit(
        self, moving: Sequence[str], part: str, legs: Sequence[Mapping[str, Any]], swing: Any
    ) -> tuple[float, float, float] | None:
        """Distance, volume and depth of the first overlap, remembered for these solids and this way."""
        tolerance = self.tolerances.overlap_mm
        asked = self.bodies.asked("hit", (*moving, part), [dict(leg) for leg in legs], swing, tolerance)
        answers = self.bodies.answers
        if not answers.has(asked) and not swing and self._stays_apart(moving, part, legs):
            return None
        if not answers.has(asked):
            solids = [body for one in moving if (body := self.bodies.get(one)) is not None]
            body = self.bodies.get(part)
            group = Manifold.compose(solids)
            poses = list(_swing_poses(group, swing)) if swing else []
            out = poses[-1] if poses else group
            hit = None if body is None else self._swing_hit(poses, body) or self._first_hit(out, body, legs)
            answers.put(asked, hit)
        hit = answers.get(asked)
        return None if hit is None else (hit[0], hit[1], hit[2])

    def _stays_apart(self, moving: Sequence[str], part: str, legs: Sequence[Mapping[str, Any]]) -> bool:
        """Whether the boxes of the meshes already show that nothing is met: no solid has to be made then."""
        boxes = [self.bodies.box(one) for one in moving]
        low, high = _swept(np.min([box[0] for box in boxes], axis=0), np.max([box[1] for box in boxes], axis=0), legs)
        other = self.bodies.box(part)
        return bool(np.any(low > other[1]) or np.any(other[0] > high))

    def _swing_hit(self, poses: Sequence[Manifold], body: Manifold) -> tuple[float, float, float] | None:
        """Volume and depth of the first overlap met while turning out of place; the distance counts as 0."""
        for pose in poses:
            if _boxes_touch(_corners(pose), body.bounding_box()):
                volume, depth = _overlap(pose, body)
                if volume > SMALLEST_MM3 and depth > self.tolerances.overlap_mm:
                    return 0.0, volume, depth
        return None

    def _first_hit(
        self, group: Manifold, body: Manifold, legs: Sequence[Mapping[str, Any]]
    ) -> tuple[float, float, float] | None:
        """Distance from the place, volume and depth of the first overlap met going outwards; None without one."""
        if not _boxes_touch(_swept_box(group, legs), body.bounding_box()):
            return None
        low, high = _swept_box(group, legs)
        size = tuple(float(v) for v in high - low)
        near = Manifold.cube((size[0], size[1], size[2])).translate(tuple(float(v) for v in low)) ^ body
        for shift, distance in _stations(legs):
            x, y, z = (float(value) for value in shift)
            moved = group.translate((x, y, z))
            if not _boxes_touch(_corners(moved), near.bounding_box()):
                continue
            volume, depth = _overlap(moved, near)
            if volume > SMALLEST_MM3 and depth > self.tolerances.overlap_mm:
                return distance, volume, depth
        return None

    def _collision(
        self, step: Mapping[str, Any], part: str, distance_mm: float, volume_mm3: float, depth_mm: float
    ) -> Finding:
        return Finding(
            level=Level.STOP,
            code="movement-refuted",
            about=(f"step {step['number']}", part),
            message=(
                f"step {step['number']}: {', '.join(step['moves'])} meet {part} at {distance_mm:.1f} mm from their "
                f"place ({volume_mm3:.0f} mm3, {depth_mm:.2f} mm deep)"
            ),
            remedy="the movement printed in this step cannot be made; look at both parts there",
        )

    def stands(self, step: Mapping[str, Any]) -> list[Finding]:
        """Stands that touch nothing of what they are to carry, or stand in the way of what goes in below it."""
        if not step.get("stands"):
            return []
        moving = [body for part in step["moves"] if (body := self.bodies.get(part)) is not None]
        lifted = [part for part in (step["lift"] or {}).get("parts", ()) if self.bodies.has(part)]
        found = []
        for place, stand in enumerate(step["stands"], 1):
            legs = step.get("path") or [{"direction": step["direction"], "travel_mm": step["travel_mm"]}]
            is_met = moving and self._first_hit(Manifold.compose(moving), _column(stand, step["up"]), legs) is not None
            if is_met or all(self.bodies.gap_mm(part, stand["at_mm"]) > BEARS_MM for part in lifted):
                found.append(
                    Finding(
                        level=Level.STOP,
                        code="stands-refuted",
                        about=(f"step {step['number']}",),
                        message=f"step {step['number']}: stand {place} "
                        + ("is in the way of what goes in" if is_met else "touches nothing of what it is to carry"),
                        remedy="hang it on a hoist, or set the stand where there is room",
                    )
                )
        return found

    def tools(self, step: Mapping[str, Any]) -> list[Finding]:
        """Tools that would not fit on the heads of the step's bolts."""
        bolts = {bolt["id"]: bolt for joint in self.plan["joints"] for bolt in joint["bolt"]}
        standing = [part for part in (*step["moves"], *step["onto"]) if self.bodies.has(part)]
        found = []
        for access in step["access"]:
            if not access["ok"] or _tool_radius(access["tool"]) is None or not self.bodies.has(access["head_part"]):
                continue
            for part in standing:
                depth = self._tool_depth(bolts[access["bolt"]], access, part)
                if depth is not None:
                    found.append(self._no_room(step, access, part, depth))
        return found

    def _tool_depth(self, bolt: Mapping[str, Any], access: Mapping[str, Any], part: str) -> float | None:
        """How deep the tool on a head sinks into a part; None where it does not, remembered for these solids."""
        keys = ("at", "axis", "hole_mm", "grip_mm", "through")
        way = [{key: bolt[key] for key in keys}, access["head_end"], access["tool"]]
        asked = self.bodies.asked("tool", (access["head_part"], part), way)
        answers = self.bodies.answers
        if not answers.has(asked):
            answers.put(asked, self._measured_depth(bolt, access, part))
        depth = answers.get(asked)
        return None if depth is None else float(depth)

    def _measured_depth(self, bolt: Mapping[str, Any], access: Mapping[str, Any], part: str) -> float | None:
        radius = _tool_radius(access["tool"])
        if radius is None:
            return None
        rod = _tool_on(bolt, access, self._seat_mm(bolt, access), radius)
        low, high = _corners(rod)
        low_part, high_part = self.bodies.box(part)
        if np.any(low > high_part + BOX_MM) or np.any(low_part - BOX_MM > high):
            return None
        body = self.bodies.get(part)
        if body is None or not _boxes_touch((low, high), body.bounding_box()):
            return None
        volume, depth = _overlap(rod, body)
        return depth if volume > SMALLEST_MM3 and depth > TOOL_DEPTH_MM else None

    def _seat_mm(self, bolt: Mapping[str, Any], access: Mapping[str, Any]) -> float:
        """Where along its axis the head of a bolt sits, from the bond plane outwards, remembered for this solid."""
        where = [bolt["at"], bolt["axis"], bolt["hole_mm"], bolt["grip_mm"], len(bolt["through"])]
        asked = self.bodies.asked("head seat", (access["head_part"],), where, access["head_end"])
        answers = self.bodies.answers
        if not answers.has(asked):
            answers.put(asked, _measured_seat(bolt, access, self.bodies.get(access["head_part"])))
        return float(answers.get(asked))

    def _no_room(self, step: Mapping[str, Any], access: Mapping[str, Any], part: str, depth_mm: float) -> Finding:
        return Finding(
            level=Level.STOP,
            code="tool-refuted",
            about=(f"step {step['number']}", access["bolt"], part),
            message=(
                f"step {step['number']}: the {access['tool']} on {access['bolt']} meets {part} ({depth_mm:.1f} mm deep)"
            ),
            remedy="turn the bolt round, use a captive nut, or move the bolt",
        )


def _swing_poses(group: Manifold, swing: Mapping[str, Any]) -> Iterator[Manifold]:
    """The moving parts turned out of their place, degree by degree (Rodrigues' rotation formula)."""
    x, y, z = (float(value) for value in swing["axis"])
    at = np.asarray(swing["at_mm"], dtype=np.float64)
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    count = max(1, math.ceil(abs(swing["degrees"]) / SWING_STEP_DEG))
    for k in range(1, count + 1):
        angle = -math.radians(swing["degrees"]) * k / count
        turn = np.eye(3) + math.sin(angle) * cross + (1.0 - math.cos(angle)) * cross @ cross
        yield group.transform(np.column_stack([turn, at - turn @ at]))


def _stations(legs: Sequence[Mapping[str, Any]]) -> Iterator[tuple[np.ndarray, float]]:
    """Places of the moving parts from their end outwards: shift and distance, small steps first."""
    done = 0.0
    start = np.zeros(3)
    for leg in reversed(legs):
        direction, travel = np.asarray(leg["direction"], dtype=np.float64), float(leg["travel_mm"])
        at = 0.5
        while at < travel:
            yield start - direction * at, done + at
            at += NEAR_STEP_MM if done + at < NEAR_MM else STEP_MM
        start = start - direction * travel
        done += travel
        yield start.copy(), done


def _swept_box(group: Manifold, legs: Sequence[Mapping[str, Any]]) -> tuple[np.ndarray, np.ndarray]:
    return _swept(*_corners(group), legs)


def _swept(low: np.ndarray, high: np.ndarray, legs: Sequence[Mapping[str, Any]]) -> tuple[np.ndarray, np.ndarray]:
    """Box of everything that a box covers on its way, and 1 mm around it."""
    shift = np.zeros(3)
    lows, highs = [low], [high]
    for leg in reversed(legs):
        shift = shift - np.asarray(leg["direction"], dtype=np.float64) * float(leg["travel_mm"])
        lows.append(low + shift)
        highs.append(high + shift)
    return np.min(lows, axis=0) - 1.0, np.max(highs, axis=0) + 1.0


def _corners(body: Manifold) -> tuple[np.ndarray, np.ndarray]:
    box = np.asarray(body.bounding_box())
    return box[:3], box[3:]


def _boxes_touch(first: tuple[np.ndarray, np.ndarray], second: Sequence[float]) -> bool:
    box = np.asarray(second)
    return bool(np.all(first[0] < box[3:]) and np.all(box[:3] < first[1]))


def _overlap(first: Manifold, second: Manifold) -> tuple[float, float]:
    """Volume of the intersection and its mean thickness, twice the volume by its surface."""
    common = first ^ second
    volume, area = float(common.volume()), float(common.surface_area())
    return volume, 2.0 * volume / area if area > 0 else 0.0


def _column(stand: Mapping[str, Any], up: Sequence[float]) -> Manifold:
    """What no stand can do without: a slim rod from the ground to just below where it touches the work."""
    rise = np.asarray(up, dtype=np.float64)
    across = np.linalg.svd(rise[None])[2][1:]
    foot = np.asarray(stand["at_mm"]) - rise * stand["height_mm"]
    rod = Manifold.cylinder(max(stand["height_mm"] - 1.0, 1.0), COLUMN_MM, COLUMN_MM, 12)
    return rod.transform(np.column_stack([across[0], np.cross(rise, across[0]), rise, foot]))


def _tool_radius(tool: str) -> float | None:
    """Radius of the tool named ('socket 13 mm'), 1.45 times the width across flats; None for spanners."""
    words = tool.split()
    if tool.startswith("socket"):
        return 1.45 * float(words[-2]) / 2.0
    if tool.startswith("hexagon key"):
        return 1.2 * float(words[-2]) / 2.0
    return None


def _outward(bolt: Mapping[str, Any], access: Mapping[str, Any]) -> tuple[np.ndarray, np.ndarray]:
    """Direction out of the joint at the head, and two across it, (2, 3)."""
    outward = (1.0 if access["head_end"] == 1 else -1.0) * np.asarray(bolt["axis"], dtype=np.float64)
    return outward, np.linalg.svd(outward[None])[2][1:]


def _measured_seat(bolt: Mapping[str, Any], access: Mapping[str, Any], body: Manifold | None) -> float:
    """Distance of the seat under the head from the bond plane: where rays beside the hole leave the part."""
    outward, across = _outward(bolt, access)
    at = np.asarray(bolt["at"], dtype=np.float64)
    seats = []
    for angle in np.linspace(0.0, 2.0 * math.pi, 7)[:-1]:
        ring = (bolt["hole_mm"] / 2.0 + 1.2) * (math.cos(angle) * across[0] + math.sin(angle) * across[1])
        start = at + ring + 1.0 * outward
        hits = [] if body is None else body.ray_cast(tuple(start), tuple(start + outward * (bolt["grip_mm"] + 3.0)))
        depths = sorted(float(np.dot(np.asarray(hit.position) - at, outward)) for hit in hits)
        seats += depths[:1] if len(bolt["through"]) == 2 else depths[-1:]
    return float(np.median(seats)) if seats else float(bolt["grip_mm"]) / 2.0


def _tool_on(bolt: Mapping[str, Any], access: Mapping[str, Any], seat_mm: float, radius_mm: float) -> Manifold:
    """The tool as a cylinder that starts just above the seat under the head."""
    outward, across = _outward(bolt, access)
    at = np.asarray(bolt["at"], dtype=np.float64)
    rod = Manifold.cylinder(TOOL_MM - 1.0, radius_mm, radius_mm, 32)
    frame = np.column_stack([across[0], np.cross(outward, across[0]), outward, at + outward * (seat_mm + 1.0)])
    return rod.transform(frame)
