"""Everything that leaves the shop: crates of the sections, and how they stand on the vehicle. Plan and meshes in."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial

from assembler.engineering.passing import fits_vehicle
from assembler.figure.consignment import Consignment
from assembler.figure.ids import PartId, SectionId
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Vector
from assembler.figure.plan import Plan, Section
from assembler.figure.settings import Settings
from assembler.transport.bedding import bed_of
from assembler.transport.crates import crate_of
from assembler.transport.loading import fits, loads

LOOSE_KG = 2.0
"""A single part up to this mass needs no crate of its own (common practice, no source)."""


def consignment_of(plan: Plan, meshes: Mapping[PartId, Mesh], settings: Settings) -> Consignment | None:
    """Crates and loads of a plan; None where figure.toml states nothing of the way, or a part weighs nothing.

    Parameters
    ----------
    plan
        With its sections.
    meshes
        Every part, frame of the figure.
    settings
        Vehicle and crew.
    """
    vehicle = settings.vehicle
    if not settings.has_way or any(section.mass_kg <= 0.0 for section in plan.sections):
        return None
    is_free = partial(fits_vehicle, vehicle=vehicle) if vehicle is not None else _anything
    crates = []
    hosts = _hosts(plan)
    travelling = [section for section in _set_up(plan) if section.id not in hosts]
    for number, section in enumerate(travelling, 1):
        solids = [meshes[part] for part in section.parts]
        bed = bed_of(solids, section.mass_kg, section.centre_mm, plan.up, is_free)
        loose = [one for one in plan.sections if hosts.get(one.id) == section.id]
        crates.append(crate_of(number, section, bed, settings.crew, loose))
    if vehicle is None or not all(fits(crate, vehicle) for crate in crates):
        return Consignment(crates=tuple(crates))
    return Consignment(crates=tuple(crates), trips=loads(crates, vehicle))


def _hosts(plan: Plan) -> dict[SectionId, SectionId]:
    """Sections of one light part, with the larger one they are joined to: they travel in its crate."""
    light = {one.id for one in plan.sections if len(one.parts) == 1 and one.mass_kg <= LOOSE_KG}
    found: dict[SectionId, SectionId] = {}
    for joint in plan.joints:
        met = [one for part in joint.parts for one in plan.sections if part in one.parts]
        for small, other in (met, met[::-1]):
            if small.id in light and other.id not in light:
                found.setdefault(small.id, other.id)
    return found


def _anything(size_mm: Vector) -> bool:
    return bool(size_mm)


def _set_up(plan: Plan) -> list[Section]:
    """Sections in the order in which the site sets them up: those that no site step brings stand first."""
    arrival: dict[SectionId, int] = {}
    for number, step in enumerate(plan.steps):
        for section in plan.sections:
            if step.place == "site" and set(section.parts) == set(step.moves):
                arrival.setdefault(section.id, number)
    return sorted(plan.sections, key=lambda section: (arrival.get(section.id, -1), section.id))
