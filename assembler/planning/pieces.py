"""Which parts are worth building apart, which have to, and what the user's pins say of the order: sets of parts out."""

from __future__ import annotations

import networkx as nx
import numpy as np

from assembler.figure.findings import Finding, Level
from assembler.figure.ids import natural_key
from assembler.figure.parts import Vector
from assembler.geometry.sweeps import frame_of
from assembler.planning.scene import PartSet, Scene, members, on_the_ground
from assembler.planning.support import Support

SMALL_TREE = 6
"""Parts up to which all ways of building pieces apart are weighed too."""

LARGEST_GROUP = 8
"""Larger pieces are built apart only where the user or a site joint asks for it: heavy, and the search grows."""

BRANCH_JOINTS = 4
"""A set that this many joints or fewer hold to the rest is a branch."""


def ways_up(up: Vector) -> tuple[Vector, ...]:
    """Upright, on the head, and lying on each of four sides, as what is up then."""
    frame = [(float(x) + 0.0, float(y) + 0.0, float(z) + 0.0) for x, y, z in frame_of(up)[:2]]
    found = [up]
    for x, y, z in ((-up[0], -up[1], -up[2]), *frame, *((-x, -y, -z) for x, y, z in frame)):
        found.append((x + 0.0, y + 0.0, z + 0.0))
    return tuple(found)


def is_fixed(scene: Scene, standing: PartSet, *, is_main: bool = True) -> bool:
    """Whether what stands cannot be turned, nor reached from below: true on a base, which is on the main bench only."""
    return is_main and bool(standing & scene.based)


def apart_sets(scene: Scene) -> tuple[PartSet, ...]:
    """What has to arrive as one: the user's pins, and sections that travel, without the one on the ground."""
    keep = 1 << (scene.root if scene.root is not None else lowest_part(scene))
    sections = scene.sections
    travelling = [one for one in sections if one.bit_count() > 1 and not one & keep] if len(sections) > 1 else []
    return (*(scene.set_of(group) for group in scene.settings.pins.apart), *travelling)


def pin_sets(scene: Scene) -> tuple[tuple[PartSet, PartSet], ...]:
    """Pins as sets; none where they contradict each other (that is a finding of its own)."""
    if impossible_pins(scene):
        return ()
    return tuple((scene.set_of((later,)), scene.set_of((earlier,))) for later, earlier in scene.settings.pins.after)


def groups_worth_apart(scene: Scene) -> tuple[PartSet, ...]:
    """Sets that may be built apart: branches behind few joints, rings of one level, and what the user pins.

    Branches come from minimum cuts between each part and the ground, weighted by the number of joints.
    """
    if len(scene.parts) <= SMALL_TREE:
        return _all_pieces(scene)
    most = min(max(len(scene.parts) // 2, 2), LARGEST_GROUP)
    kept = {group for group in (*_branches(scene), *_rings(scene)) if group.bit_count() <= most}
    kept |= set(apart_sets(scene))
    kept = {group for group in kept if group.bit_count() > 1 and scene.is_connected(group)}
    return tuple(sorted(kept, key=lambda group: (group.bit_count(), group)))


def _branches(scene: Scene) -> set[PartSet]:
    """Sets that few joints hold to the rest, the ground not among them."""
    graph = nx.Graph()
    for a, b in scene.pairs:
        weight = graph.get_edge_data(a, b, {"capacity": 0})["capacity"] + 1
        graph.add_edge(a, b, capacity=weight)
    found: set[PartSet] = set()
    root = scene.root if scene.root is not None else lowest_part(scene)
    for part in range(len(scene.parts)):
        if part == root or part not in graph or root not in graph or not nx.has_path(graph, part, root):
            continue
        # Asked from the root, the cut gives the smallest set around the part.
        value, (_, side) = nx.minimum_cut(graph, root, part)
        if value <= BRANCH_JOINTS:
            found.add(sum(1 << number for number in side))
    return found


def _all_pieces(scene: Scene) -> tuple[PartSet, ...]:
    keep = 1 << scene.root if scene.root is not None else 0
    chosen = (piece for piece in range(1, scene.everything) if piece.bit_count() > 1 and not piece & keep)
    return tuple(sorted((p for p in chosen if scene.is_connected(p)), key=lambda piece: (piece.bit_count(), piece)))


def lowest_part(scene: Scene) -> int:
    """Number of the part that the figure stands on; of several at one height the heaviest."""

    def height(number: int) -> tuple[int, float, int]:
        return (round(scene.lowest_mm(1 << number, scene.up) / 3.0), -scene.parts[number].mass_kg, number)

    return min(
        (number for number in range(len(scene.parts)) if number != scene.base or scene.is_base_first), key=height
    )


def units(scene: Scene, support: Support) -> tuple[PartSet, ...]:
    """Sets that a builder sees as one: rings of one level, and limbs, which nothing below them carries.

    A tail that lies on the ground grows there part by part: nothing of it is held at height.
    """
    limbs, in_place = [], on_the_ground(scene)
    for group in _branches(scene):
        joints = scene.joints_between(group, scene.everything & ~group)
        if (
            1 < group.bit_count() <= LARGEST_GROUP
            and group & ~in_place
            and joints
            and all(support.lower(number, scene.up) is None for number in joints)
        ):
            limbs.append(group)
    return tuple(sorted({*_rings(scene), *limbs}))


def _rings(scene: Scene) -> tuple[PartSet, ...]:
    """Sets that close on themselves at one level: joined by upright faces, on or under the same ring, part or ground.

    An arm is joined to a chest by an upright face too; but nothing carries both.
    """
    upright, level = [0] * len(scene.parts), [0] * len(scene.parts)
    for joint, (a, b) in zip(scene.joints, scene.pairs, strict=True):
        rise = abs(float(np.dot(joint.normal, scene.up)))
        for one, other in ((a, b), (b, a)):
            if rise < 0.3:
                upright[one] |= 1 << other
            elif rise > 0.5:
                level[one] |= 1 << other
    grounded = on_the_ground(scene)
    rings = nx.Graph()
    for (a, b), joint in zip(scene.pairs, scene.joints, strict=True):
        is_carried = grounded >> a & grounded >> b & 1 or any(
            level[b] >> part & 1 or level[b] & upright[part] for part in members(level[a])
        )
        if is_carried and abs(float(np.dot(joint.normal, scene.up))) < 0.3:
            rings.add_edge(a, b)
    found = (sum(1 << number for number in ring) for ring in nx.connected_components(rings))
    return tuple(sorted(ring for ring in found if ring.bit_count() <= LARGEST_GROUP and ring != scene.everything))


def impossible_pins(scene: Scene) -> list[Finding]:
    """Findings for pins that wait for each other in a circle or name parts that do not hang together."""
    order = nx.DiGraph()
    order.add_edges_from((earlier, later) for later, earlier in scene.settings.pins.after)
    found = []
    if not nx.is_directed_acyclic_graph(order):
        circle = sorted({name for edge in nx.find_cycle(order) for name in edge[:2]}, key=natural_key)
        found.append(
            Finding(
                level=Level.STOP,
                code="pin-impossible",
                about=tuple(circle),
                message="the pins make these parts wait for each other: " + ", ".join(circle),
                remedy="take one of these pins out of figure.toml",
            )
        )
    for group in scene.settings.pins.apart:
        if not scene.is_connected(scene.set_of(group)):
            found.append(
                Finding(
                    level=Level.STOP,
                    code="pin-impossible",
                    about=tuple(group),
                    message="these parts are pinned to be built apart, but no joints connect them all",
                    remedy="name a set that is connected by joints",
                )
            )
    return found
