from __future__ import annotations

from pathlib import Path

import pytest

from assembler.catalogue import tables
from assembler.errors import ProjectFileError
from assembler.figure.ids import PartId
from assembler.figure.settings import BaseWhen
from assembler.projectfiles.figurefile import check_part_ids, read_settings
from assembler.projectfiles.figuretemplate import FirstGuess, figure_toml
from assembler.projectfiles.valuewords import line_of


def _write(tmp_path: Path, old: str = "", new: str = "", guess: FirstGuess | None = None) -> Path:
    text = figure_toml(guess or FirstGuess(name="Heron", unit="mm"))
    assert old in text
    path = tmp_path / "figure.toml"
    path.write_text(text.replace(old, new, 1) if old else text, encoding="utf-8")
    return path


def test_the_first_file_reads_back_as_usable_settings(tmp_path: Path) -> None:
    settings = read_settings(_write(tmp_path))
    assert settings.name == "Heron"
    assert settings.unit_mm == 1.0
    assert settings.base.when is BaseWhen.FIRST
    assert settings.base.part is None
    assert settings.material_of(PartId("P01")).density_kg_m3 == 950
    assert [operation.on for operation in settings.finish] == ["seams", "seams", "surface", "surface"]


def test_the_front_is_an_axis_and_by_habit_where_none_is_stated(tmp_path: Path) -> None:
    assert read_settings(_write(tmp_path, 'front = "-y"', 'front = "+x"')).front == (1.0, 0.0, 0.0)
    assert read_settings(_write(tmp_path, 'front = "-y"', 'front = ""')).front == (0.0, -1.0, 0.0)


def test_a_guessed_base_is_carpentry_and_not_printed(tmp_path: Path) -> None:
    guess = FirstGuess(name='Otter "Tide"', unit="", base_part=PartId("P09"), printer_mm=(300.0, 310.0, 320.0))
    settings = read_settings(_write(tmp_path, guess=guess))
    assert settings.name == 'Otter "Tide"'
    assert settings.unit_mm is None
    assert settings.base.part == "P09"
    assert settings.parts[PartId("P09")].is_printed is False
    assert settings.material_of(PartId("P09")).name == "timber"
    assert settings.envelopes.printer_mm == (300.0, 310.0, 320.0)


@pytest.mark.parametrize(
    ("old", "new", "place", "hint"),
    [
        ("density_kg_m3 = 950", "density_kg_m3 = -950", "materials.PA12, sintered.density_kg_m3", "give more than 0"),
        ("bond_line_mm = 0.3", "bond_line_mm = -0.3", "adhesive.bond_line_mm", "give more than 0"),
        ('revision = "A"', 'revision = "first"', "figure.revision", "capital letters"),
        ("up = [0.0, 0.0, 1.0]", "up = [0.0, 0.0, 0.0]", "figure.up", "axis that points up"),
        ('front = "-y"', 'front = "north"', "figure.front", "'-y'"),
        ('front = "-y"', 'front = "+z"', "figure.front", "such as"),
        ("anchors_at_mm = []", "anchors_at_mm = [[1, 2, 3]]", "base.anchors_at_mm", "anchors = 1"),
        ("people = 2", 'people = "two"', "crew.people", "a whole number, without quotes"),
        ("handling_min = 480", "handling_min = 100", "adhesive", "must not fall"),
        ("handling_mpa = 0.2", "handling_mpa = 0", "adhesive.handling_mpa", "give more than 0"),
        ("strength_mpa = 0 ", "strength_mpa = 0.1 ", "adhesive", "handling_mpa must not be above"),
        ("peel_mpa = 0 ", "peel_mpa = -1 ", "adhesive.peel_mpa", "give 0 or more"),
        ("# night_site_c = 8 ", "night_site_c = 200 ", "temperature.night_site_c", "give 80 or less"),
        ("prepare_mm2_min = 4000", "prepare_mm2_min = 0", "crew.prepare_mm2_min", "give more than 0"),
        ("dry_fit_min = 6 ", "dry_fit_min = 0 ", "crew.dry_fit_min", "give more than 0"),
        ("round_min = 0.3", "round_min = -1", "crew.round_min", "give more than 0"),
        ("inside_factor = 1.5", "inside_factor = 0.5", "crew.inside_factor", "give 1 or more"),
        ("shifts_h = []", "shifts_h = [[6, 14], [13, 22]]", "crew.shifts_h", "let the later begin at 14"),
        ("shifts_h = []", "shifts_h = [[14, 6]]", "crew.shifts_h", "begins before it ends"),
        ("shifts_h = []", "shifts_h = [[8, 8.001]]", "crew", "15 minutes apart"),
        ("day_start_h = 8", "day_start_h = 16.999", "crew", "15 minutes apart"),
        ('"Thu", "Fri"]', '"Thu", "Fry"]', "calendar.weekdays[5]", "'Sun'"),
        ("weekdays = [", "weekdays = [] # [", "calendar.weekdays", "a list of 1 or more"),
        ('deadline = ""', 'deadline = "2031-13-40"', "calendar.deadline", "year-month-day"),
        ('deadline = ""', 'deadline = "2031-04-30"', "calendar.first_day", "state first_day as well"),
        ("days_off = []", 'days_off = ["soon"]', "calendar.days_off[1]", "a date such as"),
        ("seam_step_mm = 0.5", "seam_step_mm = 0", "finish.seam_step_mm", "give more than 0"),
        ("open_min = 25 ", "opne_min = 25 ", "adhesive.opne_min", "did you mean open_min?"),
        ('material = "PA12, sintered"', 'material = "cheese"', "parts.material", "timber"),
        ('screw = "ISO 4017"', 'screw = "ISO 1"', "hardware.screw", "ISO 4762"),
    ],
)
def test_a_bad_value_is_named_with_its_place_and_what_would_be_right(
    tmp_path: Path, old: str, new: str, place: str, hint: str
) -> None:
    path = _write(tmp_path, old, new)
    with pytest.raises(ProjectFileError) as caught:
        read_settings(path)
    lines = [str(fault) for fault in caught.value.faults]
    assert any(line.startswith(f"{path}: {place}: ") and hint in line for line in lines), lines
    assert all("\n" not in line for line in lines)
    # Each value that is written is named with its line.
    numbered = path.read_text(encoding="utf-8").splitlines()
    key = place.rpartition(".")[2].partition("[")[0]
    for fault in caught.value.faults:
        assert not fault.line or key in numbered[fault.line - 1] or fault.wrong == "the key is missing"


def test_a_deadline_before_day_1_is_refused(tmp_path: Path) -> None:
    path = _write(tmp_path, 'deadline = ""', 'deadline = "2031-04-01"')
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('first_day = ""', 'first_day = "2031-04-07"'), encoding="utf-8")
    with pytest.raises(ProjectFileError, match=r"calendar.deadline: .*before day 1, 2031-04-07; .*day 1 or later"):
        read_settings(path)


def test_all_faults_come_at_once(tmp_path: Path) -> None:
    path = _write(tmp_path, "people = 2", "people = 0")
    path.write_text(path.read_text().replace("waste = 0.3", "waste = -1"))
    with pytest.raises(ProjectFileError) as caught:
        read_settings(path)
    assert len(caught.value.faults) == 2


def test_broken_toml_is_named_with_its_line(tmp_path: Path) -> None:
    path = _write(tmp_path, 'client = ""', "client = ")
    with pytest.raises(ProjectFileError, match=r"no valid TOML.*line 7"):
        read_settings(path)


def test_a_missing_file_says_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(ProjectFileError, match="assembler survey"):
        read_settings(tmp_path / "figure.toml")


def test_unknown_parts_are_refused_with_the_choice(tmp_path: Path) -> None:
    path = _write(tmp_path, "after = []", 'after = [["P07", "P77"]]')
    with pytest.raises(ProjectFileError, match=r"order.after: there is no part 'P77'; use one of: P01, P07"):
        check_part_ids(read_settings(path), (PartId("P01"), PartId("P07")), path)


def test_a_route_known_by_name_brings_its_operations(tmp_path: Path) -> None:
    path = _write(tmp_path, "[finish]", "[finish]")
    text = path.read_text(encoding="utf-8")
    head, _, rest = text.partition("[[finish.operation]]")
    tail = rest[rest.index("[order]") :]
    route = "metal-loaded coat, cut back and polished"
    path.write_text(head.replace('route = "painted"', f'route = "{route}"') + tail, encoding="utf-8")
    names = [operation.name for operation in read_settings(path).finish]
    assert names == [row.name for row in tables.finish_routes() if row.route == route]
    assert names[-1] == "Seal"
    path.write_text(head.replace('route = "painted"', 'route = "gilded"') + tail, encoding="utf-8")
    with pytest.raises(ProjectFileError) as caught:
        read_settings(path)
    (fault,) = caught.value.faults
    assert "finish.route" in str(fault)
    assert "painted" in str(fault)
    path.write_text(head.replace('route = "painted"', 'route = ""') + tail, encoding="utf-8")
    assert read_settings(path).finish == ()


def test_every_table_of_the_file_is_the_record_that_the_program_works_with(tmp_path: Path) -> None:
    path = _write(tmp_path, "pack = 50 ", "pack = 0  ")
    path.write_text(path.read_text().replace("# [parts.P01] ", "[parts.P01]\nprinted = 3\n# "))
    with pytest.raises(ProjectFileError) as caught:
        read_settings(path)
    assert sorted({fault.place for fault in caught.value.faults}) == ["hardware.pack", "parts.P01", "parts.P01.printed"]
    assert not any("instance" in str(fault) for fault in caught.value.faults)


def test_the_line_of_a_value_is_that_of_its_own_table() -> None:
    text = (
        '[a]\nx = 1\n[b]\nx = 2 # a.x = 1\n[[c]]\nid = "J1"\n  [[c.d]]\n  y = 1\n[[c]]\n  [[c.d]]\n  [[c.d]]\n  y = 2\n'
    )
    assert line_of(text, ("a", "x")) == 2
    assert line_of(text, ("b", "x")) == 4
    assert line_of(text, ("c", 0, "d", 0, "y")) == 8
    assert line_of(text, ("c", 1, "d", 1, "y")) == 12
    # What is not written has the line of the table around it.
    assert line_of(text, ("c", 1, "d", 0, "y")) == 10
    assert line_of(text, ("e",)) == 0


_WAY = """
[[passage]]
name = "shop door"
width_mm = 900
height_mm = 2000

[[passage]]
name = "corridor"
width_mm = 1000
height_mm = 2100
turn_mm = 1200

[vehicle]
length_mm = 3200
width_mm = 1700
height_mm = 1800
payload_kg = 1000

[[section]]
name = "legs"
parts = ["P01", "P02"]

[[section]]
name = "rest"
parts = ["P03"]

[base]
"""


def test_the_way_from_the_shop_to_the_place_is_read(tmp_path: Path) -> None:
    settings = read_settings(_write(tmp_path, "[base]\n", _WAY))
    assert [(one.name, one.width_mm, one.turn_mm) for one in settings.passages] == [
        ("shop door", 900.0, 0.0),
        ("corridor", 1000.0, 1200.0),
    ]
    assert settings.vehicle is not None
    assert settings.vehicle.payload_kg == 1000.0
    assert settings.has_way
    assert not read_settings(_write(tmp_path)).has_way
    check_part_ids(settings, (PartId("P01"), PartId("P02"), PartId("P03")), tmp_path)


@pytest.mark.parametrize(
    ("old", "new", "wrong"),
    [
        ("width_mm = 900", "width_mm = -900", "give more than 0"),
        ('parts = ["P03"]', 'parts = ["P02"]', "'P02' is listed twice, in 'legs' and in 'rest'"),
        ('name = "rest"', 'name = "legs"', "two sections are called 'legs'"),
        ('parts = ["P03"]', "parts = []", "a list of 1 or more"),
        ("payload_kg = 1000\n", "", "payload_kg"),
    ],
)
def test_what_is_wrong_about_the_way_is_said(tmp_path: Path, old: str, new: str, wrong: str) -> None:
    with pytest.raises(ProjectFileError) as fault:
        read_settings(_write(tmp_path, "[base]\n", _WAY.replace(old, new, 1)))
    assert wrong in str(fault.value)


def test_sections_have_every_part(tmp_path: Path) -> None:
    settings = read_settings(_write(tmp_path, "[base]\n", _WAY))
    with pytest.raises(ProjectFileError, match="no section has P04"):
        check_part_ids(settings, tuple(PartId(f"P0{number}") for number in range(1, 5)), tmp_path)


@pytest.mark.parametrize(("key", "instead"), [("door_mm", "passage"), ("crate_mm", "vehicle")])
def test_a_key_that_is_gone_says_what_replaces_it(tmp_path: Path, key: str, instead: str) -> None:
    with pytest.raises(ProjectFileError, match=instead):
        read_settings(_write(tmp_path, "[base]\n", f"{key} = [1000, 2000, 3000]\n\n[base]\n"))
