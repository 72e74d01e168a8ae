from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from assembler.errors import ProjectFileError
from assembler.figure.ids import BoltId, JointId, PartId
from assembler.figure.joints import Bolt, Joint, Method, Origin, Place, Seat
from assembler.figure.parts import Vector
from assembler.projectfiles.idledger import Ledger
from assembler.projectfiles.jointedit import write_joints
from assembler.projectfiles.jointmerge import merge_survey
from assembler.projectfiles.jointsfile import read_joints
from assembler.projectfiles.jointstext import joints_toml, read_surveyed, write_surveyed

PARTS = tuple(PartId(name) for name in ("P01", "P02", "P03"))


def _bolt(name: str, at: Vector) -> Bolt:
    return Bolt(
        id=BoltId(name),
        at_mm=at,
        axis=(0.0, 0.0, 1.0),
        hole_mm=9.0,
        grip_mm=20.0,
        through=(PARTS[0], PARTS[1]),
        seats=(Seat.OPEN, Seat.CAPTIVE),
    )


def _joint(name: str = "J01", pair: tuple[PartId, PartId] = (PARTS[0], PARTS[1]), bolts: int = 2) -> Joint:
    return Joint(
        id=JointId(name),
        parts=pair,
        method=Method.BOLTED_AND_BONDED,
        made=Place.SHOP,
        bond_area_mm2=4125.04,
        seam_mm=630.0,
        normal=(0.0, 0.0, 1.0),
        centre_mm=(0.0, 0.0, 100.0),
        bolts=tuple(_bolt(f"{name}.{n + 1}", (100.0 * n, 0.0, 100.0)) for n in range(bolts)),
        origins={"method": Origin.SURVEYED, "made": Origin.ASSUMED},
    )


def test_what_is_written_reads_back_the_same(tmp_path: Path) -> None:
    path = tmp_path / "joints.toml"
    path.write_text(joints_toml([_joint()]), encoding="utf-8")
    (joint,) = read_joints(path, PARTS, [_joint()])
    assert joint == replace(_joint(), bond_area_mm2=4125.0)
    assert joint.origins["made"] is Origin.ASSUMED
    assert joint.origins["bond_area_mm2"] is Origin.SURVEYED
    assert joint.bolts[0].origin is Origin.SURVEYED


def test_a_hand_edit_is_told_from_the_survey(tmp_path: Path) -> None:
    path = tmp_path / "joints.toml"
    path.write_text(joints_toml([_joint()]).replace('made = "shop"', 'made = "site"'), encoding="utf-8")
    (joint,) = read_joints(path, PARTS, [_joint()])
    assert joint.made is Place.SITE
    assert joint.origins["made"] is Origin.STATED
    assert joint.origins["method"] is Origin.SURVEYED


@pytest.mark.parametrize(
    ("old", "new", "wanted"),
    [
        ('parts = ["P01", "P02"]', 'parts = ["P01", "P99"]', "there is no part 'P99'; use one of: P01, P02, P03"),
        ("hole_mm = 9.0", "hole_mm = -9.0", "joint[J01].bolt[J01.1].hole_mm: got -9.0"),
        ("axis = [0.0, 0.0, 1.0]", "axis = [0.0, 0.0, 0.0]", "joint[J01].bolt[J01.1].axis: got a zero vector"),
        ('id = "J01.2"', 'id = "J01.1"', "the id 'J01.1' is used twice"),
        ("at = [100.0, 0.0, 100.0]", "at = [0.0, -0.0, 100.001]", "J01.1 stands at the same place"),
        ('method = "bolted and bonded"', 'method = "welded"', "joint[J01].method: got 'welded'"),
        ('parts = ["P01", "P02"]', 'parts = ["P01", "P01"]', "'P01' is joined to itself"),
    ],
)
def test_a_bad_value_is_named_with_its_place(tmp_path: Path, old: str, new: str, wanted: str) -> None:
    path = tmp_path / "joints.toml"
    text = joints_toml([_joint()])
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(ProjectFileError) as caught:
        read_joints(path, PARTS)
    assert wanted in str(caught.value)


def test_the_survey_record_reads_back(tmp_path: Path) -> None:
    write_surveyed(tmp_path / "surveyed.json", [_joint()])
    (joint,) = read_surveyed(tmp_path / "surveyed.json")
    assert joint == replace(_joint(), bond_area_mm2=4125.0)
    assert joint.origins == _joint().origins


def test_the_same_survey_again_changes_no_byte(tmp_path: Path) -> None:
    path = tmp_path / "joints.toml"
    first = merge_survey([_joint()], last=(), in_file=None, ledger=Ledger())
    write_joints(path, first.joints)
    before = path.read_text(encoding="utf-8")
    again = merge_survey(
        [_joint()], last=first.surveyed, in_file=read_joints(path, PARTS, first.surveyed), ledger=first.ledger
    )
    write_joints(path, again.joints)
    assert path.read_text(encoding="utf-8") == before
    assert again.findings == ()


def test_a_hand_edit_and_its_comment_survive_a_survey_that_disagrees(tmp_path: Path) -> None:
    path = tmp_path / "joints.toml"
    first = merge_survey([_joint()], last=(), in_file=None, ledger=Ledger())
    write_joints(path, first.joints)
    text = path.read_text(encoding="utf-8").replace("seam_mm = 630.0", "seam_mm = 700.0 # measured on the print")
    path.write_text(text, encoding="utf-8")
    found = replace(_joint(), seam_mm=655.0, bond_area_mm2=5000.0)
    in_file = read_joints(path, PARTS, first.surveyed)
    merged = merge_survey([found], last=first.surveyed, in_file=in_file, ledger=first.ledger)
    write_joints(path, merged.joints)
    after = path.read_text(encoding="utf-8")
    assert "seam_mm = 700.0 # measured on the print" in after
    assert "bond_area_mm2 = 5000.0" in after
    assert [finding.code for finding in merged.findings] == ["edit-kept"]
    assert "700" in merged.findings[0].message
    assert "655" in merged.findings[0].message


def test_numbers_are_kept_and_never_used_again(tmp_path: Path) -> None:
    first = merge_survey([_joint("J01"), _joint("J02", (PARTS[1], PARTS[2]))], last=(), in_file=None, ledger=Ledger())
    # The joint P01-P02 disappears, its second bolt's neighbour moves 3 mm, and a new pair comes up under another name.
    moved = replace(_joint("J01", (PARTS[1], PARTS[2])), bolts=(_bolt("J01.1", (103.0, 0.0, 100.0)),))
    other = _joint("J02", (PARTS[0], PARTS[2]))
    second = merge_survey([moved, other], last=first.surveyed, in_file=first.joints, ledger=first.ledger)
    assert [(joint.id, joint.parts) for joint in second.joints] == [
        ("J02", (PARTS[1], PARTS[2])),
        ("J03", (PARTS[0], PARTS[2])),
    ]
    assert [bolt.id for bolt in second.joints[0].bolts] == ["J02.2"]
    assert [(entry.id, entry.is_retired) for entry in second.ledger.joints] == [
        ("J01", True),
        ("J02", False),
        ("J03", False),
    ]


def test_a_bolt_taken_out_by_hand_stays_out(tmp_path: Path) -> None:
    first = merge_survey([_joint()], last=(), in_file=None, ledger=Ledger())
    edited = (replace(first.joints[0], bolts=first.joints[0].bolts[:1]),)
    again = merge_survey([_joint()], last=first.surveyed, in_file=edited, ledger=first.ledger)
    assert [bolt.id for bolt in again.joints[0].bolts] == ["J01.1"]
    assert [finding.code for finding in again.findings] == ["survey-differs"]


def test_a_joint_stated_by_hand_stays_though_the_meshes_do_not_show_it(tmp_path: Path) -> None:
    path = tmp_path / "joints.toml"
    first = merge_survey([_joint()], last=(), in_file=None, ledger=Ledger())
    write_joints(path, first.joints)
    hand = '\n[[joint]]\nid = "J07"\nparts = ["P02", "P03"]\nmethod = "bonded"\nbond_area_mm2 = 900\n'
    path.write_text(path.read_text(encoding="utf-8") + hand, encoding="utf-8")
    in_file = read_joints(path, PARTS, first.surveyed)
    merged = merge_survey([_joint()], last=first.surveyed, in_file=in_file, ledger=first.ledger)
    write_joints(path, merged.joints)
    assert [joint.id for joint in merged.joints] == ["J01", "J07"]
    assert hand in path.read_text(encoding="utf-8")
    assert [finding.code for finding in merged.findings] == ["joint-not-in-meshes"]


def test_all_joints_may_go_at_once_and_others_come(tmp_path: Path) -> None:
    path = tmp_path / "joints.toml"
    write_joints(path, [_joint()])
    write_joints(path, [_joint("J02", bolts=0)])
    assert [joint.id for joint in read_joints(path, PARTS, [])] == ["J02"]
    write_joints(path, [])
    assert read_joints(path, PARTS, []) == ()
