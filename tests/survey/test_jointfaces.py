"""A joint seen face-on: outline and holes as data, then the SVG."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest
import shapely

from assembler.figure.tolerances import Tolerances
from assembler.survey.jointfaces import joint_face_svg
from assembler.survey.joints import Survey, survey_joints
from tests.survey.part_sets import flanged_tubes


@pytest.fixture(scope="module")
def survey() -> Survey:
    return survey_joints(flanged_tubes(levels=2, tall=80.0).meshes(), Tolerances())


def test_face_has_the_area_of_the_joint(survey: Survey) -> None:
    (joint,), (face,) = survey.joints, survey.faces
    area = shapely.build_area(shapely.MultiLineString([list(ring) for ring in face.rings])).area
    assert area == pytest.approx(joint.bond_area_mm2, rel=0.01)


def test_every_bolt_is_a_hole_in_the_area(survey: Survey) -> None:
    (joint,), (face,) = survey.joints, survey.faces
    assert [hole.bolt for hole in face.holes] == [bolt.id for bolt in joint.bolts]
    outline = shapely.MultiPoint([point for ring in face.rings for point in ring]).convex_hull
    assert all(outline.contains(shapely.Point(hole.at_mm)) for hole in face.holes)


def test_svg_names_each_hole(survey: Survey) -> None:
    (face,) = survey.faces
    root = ElementTree.fromstring(joint_face_svg(face))
    labels = [element.text for element in root.iter("{http://www.w3.org/2000/svg}text")]
    assert labels == ["1", "2", "3", "4", "5", "6"]
