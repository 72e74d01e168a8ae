"""The whole calculation of one joint, line by line, as an engineer writes it on paper.

Goes in: a joint with what fastening and bonding made of it, and the settings. Comes out: rows with formula, inputs,
result, unit and source, for the appendix of the book and for a command.
"""

from __future__ import annotations

from collections.abc import Sequence

from assembler.engineering.boltsheet import bolt_rows
from assembler.engineering.bondsheet import bond_rows
from assembler.engineering.calculation import WorksheetRow
from assembler.engineering.loads import CarriedLoad
from assembler.figure.hardware import Bonding, Stack
from assembler.figure.joints import Joint
from assembler.figure.settings import Settings

__all__ = ["WorksheetRow", "worksheet"]


def worksheet(
    joint: Joint,
    stacks: Sequence[Stack],
    bonding: Bonding | None,
    settings: Settings,
    load: CarriedLoad | None = None,
) -> tuple[WorksheetRow, ...]:
    """All lines for one joint: each kind of bolt once, then the adhesive.

    Parameters
    ----------
    joint
        The joint.
    stacks
        Of all joints or of this one; those of other joints are passed over.
    bonding
        Of this joint; None when it is not bonded.
    settings
        Hardware, adhesive, materials.
    load
        What hangs on the joint alone (`assembler.engineering.loads.carried_loads`), if anything does.
    """
    bonds = [] if bonding is None else bond_rows(joint, bonding, settings, load)
    return (*bolt_rows(joint, stacks, settings), *bonds)
