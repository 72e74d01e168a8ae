"""A joint seen face-on: outline and holes as data, then the SVG."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest
import shapely

from assembler.figure.tolerances import Tolerances
from assembler.survey.jointfaces import joint_face_svg
from assembler.survey.joints import Survey, joint_faces, survey_joints
from assembler.words import built_in
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


NAME = "{http://www.w3.org/2000/svg}"


def test_svg_names_each_hole_beside_it_and_has_a_scale(survey: Survey) -> None:
    (face,) = survey.faces
    root = ElementTree.fromstring(joint_face_svg(face, built_in(), 60.0, 60.0))
    labels = [element for element in root.iter(f"{NAME}text") if element.get("class") == "hole-label"]
    assert [label.text for label in labels] == ["1", "2", "3", "4", "5", "6"]
    holes = [element for element in root.iter(f"{NAME}circle")]
    for label, hole in zip(labels, holes, strict=True):
        x, y = float(label.get("x", "")), float(label.get("y", ""))
        size = float(label.get("font-size", ""))
        far = ((x - float(hole.get("cx", ""))) ** 2 + (y - 0.36 * size - float(hole.get("cy", ""))) ** 2) ** 0.5
        # Its letters stand outside the circle, and are 9 pt high on paper.
        assert far >= float(hole.get("r", "")) + 0.3 * size
    _, _, width, height = map(float, root.get("viewBox", "").split())
    scale = min(60.0 / width, 60.0 / height)
    assert float(labels[0].get("font-size", "")) * scale >= 9.0 * 25.4 / 72.0
    (bar,) = [element for element in root.iter(f"{NAME}text") if element.get("class") == "scale-label"]
    assert bar.text in {"10 mm", "20 mm", "50 mm", "100 mm"}
    (title,) = root.iter(f"{NAME}title")
    assert face.joint in (title.text or "")


def test_faces_of_stated_joints_are_those_of_the_survey(survey: Survey) -> None:
    meshes = flanged_tubes(levels=2, tall=80.0).meshes()
    assert joint_faces(meshes, survey.joints, Tolerances()) == survey.faces
