"""joints.toml and surveyed.json as text."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pydantic

from assembler.errors import Fault, ProjectFileError
from assembler.figure.ids import natural_key
from assembler.figure.joints import Joint, Origin, Seat
from assembler.filegate import is_there, read_json
from assembler.projectfiles.jointrecords import JointTable, joint_from_table, joint_record
from assembler.projectfiles.toml import quoted
from assembler.projectfiles.writing import write_whole

_HEAD = """\
# joints.toml: what joins what, as the survey found it in the meshes. You may edit any value: a hand edit survives the
# next survey, and where the two disagree the program says so instead of writing over it.
#
#   parts          the pair; the preferred head side first (the plan decides for each bolt)
#   method         "bolted and bonded", "bolted", "bonded" or "dry" (no adhesive, no bolts)
#   made           "shop", or "site" for a joint that is closed for good where the figure will stand
#   bond_area_mm2  facing area without the holes: decides the amount of adhesive
#   seam_mm        length of the visible seam on the outer skin: decides filler and sanding
#   normal         direction from the first part into the second, square to the mating faces
#   gap_mm         distance between the mating faces as modelled; negative where they overlap
#   assumed        values that the meshes do not tell and that the program assumed: please decide
#   bolt.at        a point on the bolt's axis in the bond plane;  axis: its direction through the parts of 'through'
#   bolt.hole_mm   diameter of the clearance hole
#   bolt.grip_mm   from seat to seat: between the faces that head and nut (or their washers) bear on
#   bolt.seats     "open", "captive" (a pocket holds the nut) or "insert" (the thread is in the part), for both ends
#   bolt.seat_room_mm  diameter of the flat for a washer round each end; 0 = not measured
#   bolt.also      other joints that this bolt closes as well
"""


def joints_toml(joints: Iterable[Joint]) -> str:
    """Text of joints.toml, joints and bolts in the order of their ids."""
    ordered = sorted(joints, key=lambda joint: natural_key(joint.id))
    return "\n".join([_HEAD, *(joint_text(joint) for joint in ordered)])


def joint_text(joint: Joint) -> str:
    """One joint as TOML."""
    record = joint_record(joint)
    bolts = record.pop("bolt")
    assumed = sorted(key for key, origin in record.pop("origins").items() if origin == Origin.ASSUMED.value)
    lines = ["[[joint]]", *(f"{key} = {toml_value(value)}" for key, value in record.items())]
    if assumed:
        lines.append(f"assumed = {toml_value(assumed)}")
    for bolt in bolts:
        lines.append("  [[joint.bolt]]")
        lines += [f"  {key} = {toml_value(value)}" for key, value in spoken_bolt(bolt).items()]
    return "\n".join(lines) + "\n"


def spoken_bolt(record: dict[str, Any]) -> dict[str, Any]:
    """The keys of a bolt that say something: defaults are left out of the file."""
    plain_seats = [Seat.OPEN.value, Seat.OPEN.value]
    silent = {"origin": record["origin"], "also": [], "seats": plain_seats, "seat_room_mm": [0.0, 0.0]}
    return {key: value for key, value in record.items() if key not in silent or value != silent[key]}


def toml_value(value: Any) -> str:
    """A string, number or list as TOML writes it."""
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, list):
        return "[" + ", ".join(toml_value(item) for item in value) + "]"
    return repr(value)


def write_surveyed(path: Path, joints: Iterable[Joint]) -> None:
    """Keep what the survey said, so that a later hand edit can be told from it."""
    ordered = sorted(joints, key=lambda joint: natural_key(joint.id))
    record = {"about": "what the last survey found; the program's own", "joints": list(map(joint_record, ordered))}
    write_whole(path, json.dumps(record, indent=1) + "\n")


def read_surveyed(path: Path) -> tuple[Joint, ...]:
    """What the last survey said; empty if there was none.

    Raises
    ------
    ProjectFileError
        If the file is damaged.
    """
    if not is_there(path):
        return ()
    try:
        record = read_json(path, root=path.parent, error=ProjectFileError)["joints"]
        return tuple(joint_from_table(JointTable.model_validate(entry)) for entry in record)
    except (ProjectFileError, ValueError, ZeroDivisionError, KeyError, TypeError, pydantic.ValidationError) as exc:
        raise ProjectFileError(
            Fault(
                file=str(path),
                place="",
                wrong="the program's own record of the last survey is damaged",
                right="delete it; all of joints.toml then counts as stated by hand",
            )
        ) from exc
