"""A small plan made by hand: nine steps, two benches, holds, gates and findings. No geometry is behind it."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

from PIL import Image, ImageDraw

from assembler.engineering.curing import five_temperatures
from assembler.engineering.worksheet import WorksheetRow
from assembler.figure.calendar import Finish
from assembler.figure.exposure import ExposureRow
from assembler.figure.findings import Finding, Level, sort_findings
from assembler.figure.hardware import Bonding, BuyLine, HardwareLine, Stack
from assembler.figure.ids import BenchId, BoltId, JointId, PartId, SectionId, StepNumber
from assembler.figure.joints import Bolt, Joint, Method, Place
from assembler.figure.parts import Fingerprint, Part, Vector
from assembler.figure.pictures import Picture, Pictures
from assembler.figure.plan import (
    Access,
    Gate,
    Hold,
    Lift,
    Move,
    Plan,
    Section,
    Stability,
    Step,
    StepKind,
    View,
)
from assembler.figure.settings import (
    Adhesive,
    Base,
    BaseWhen,
    Crew,
    FinishOperation,
    HardwareChoice,
    Material,
    Settings,
)
from assembler.planning.buildtime import with_calendar
from assembler.planning.worknetwork import calendar_frame
from assembler.recut.numbering import in_book_order

SKIN_MM2 = 3.2e6
EXPOSURE = tuple(
    ExposureRow(
        wind_m_s=speed,
        force_n=force,
        moment_nm=force * 1.1,
        tip_safety=500.0 / force,
        slide_safety=400.0 / force,
        anchor_tension_n=force / 4.0,
        anchor_shear_n=force / 8.0,
    )
    for speed, force in ((15.0, 131.0), (20.0, 1251.0), (0.0, 500.0))
)
NAMES = {
    "P01": "plinth_ring.stl",
    "P02": "legs_front.stl",
    "P03": "legs_back.stl",
    "P04": "belly.stl",
    "P05": "chest_left.stl",
    "P06": "chest_right.stl",
    "P07": "neck.stl",
    "P08": "head.stl",
    "P09": "ear_left.stl",
    "P10": "timber_base.stl",
}
ADHESIVE = "two-part methacrylate"


def part(number: int, mass_kg: float, size: Vector, low: Vector) -> Part:
    """One part of the sample."""
    name = f"P{number:02d}"
    high = (low[0] + size[0], low[1] + size[1], low[2] + size[2])
    centre = tuple((a + b) / 2 for a, b in zip(low, high, strict=True))
    volume = mass_kg / 1010e-9
    return Part(
        id=PartId(name),
        file=NAMES[name],
        material="timber" if number == 10 else "PA12 sintered",
        is_printed=number != 10,
        mass_kg=mass_kg,
        volume_mm3=volume,
        area_mm2=volume / 4,
        centre_mm=centre,  # type: ignore[arg-type]
        triangles=20000 + number,
        is_watertight=number != 9,
        fingerprint=Fingerprint(
            volume_mm3=volume,
            area_mm2=volume / 4,
            centre_mm=centre,  # type: ignore[arg-type]
            inertia_mm5=(1.0, 2.0, 3.0),
            skew_mm6=0.5,
            low_mm=low,
            high_mm=high,
        ),
    )


def joint(
    number: int, pair: tuple[str, str], count: int, method: Method = Method.BOLTED_AND_BONDED, made: Place = Place.SHOP
) -> Joint:
    """A joint with its bolts on a ring of 140 mm radius."""
    name = f"J{number:02d}"
    centre = (0.0, 0.0, 200.0 * number)
    bolts = tuple(
        Bolt(
            id=BoltId(f"{name}.{i + 1}"),
            at_mm=(
                140 * math.cos(2 * math.pi * i / count),
                140 * math.sin(2 * math.pi * i / count),
                centre[2],
            ),
            axis=(0.0, 0.0, -1.0),
            hole_mm=9.0,
            grip_mm=20.0,
            through=(PartId(pair[0]), PartId(pair[1])),
        )
        for i in range(count)
    )
    return Joint(
        id=JointId(name),
        parts=(PartId(pair[0]), PartId(pair[1])),
        method=method,
        made=made,
        bond_area_mm2=30000.0 + 1250 * number,
        seam_mm=900.0 + 40 * number,
        normal=(0.0, 0.0, -1.0),
        centre_mm=centre,
        bolts=bolts,
    )


JOINTS = (
    joint(1, ("P02", "P01"), 6),
    joint(2, ("P03", "P01"), 6),
    joint(3, ("P02", "P03"), 4),
    joint(4, ("P04", "P02"), 8),
    joint(5, ("P05", "P06"), 5),
    joint(6, ("P05", "P04"), 7),
    joint(7, ("P08", "P07"), 6),
    joint(8, ("P07", "P05"), 8, made=Place.SITE, method=Method.BOLTED),
    joint(9, ("P09", "P08"), 0, method=Method.BONDED),
    joint(10, ("P01", "P10"), 6, method=Method.BOLTED, made=Place.SITE),
)
BY_ID = {j.id: j for j in JOINTS}


def stack(bolt: Bolt, of: Joint) -> Stack:
    """Pieces on one axis."""
    return Stack(
        bolt=bolt.id,
        joint=of.id,
        size="M8",
        screw="ISO 4017",
        nut="ISO 7040",
        washer="ISO 7093-1",
        length_mm=40.0,
        needed_mm=36.9,
        grip_mm=20.3,
        washers=2,
        washer_mm=2.0,
        washer_outer_mm=24.0,
        head_mm=5.3,
        nut_mm=9.5,
        across_flats_mm=13.0,
        nut_across_flats_mm=13.0,
        key_mm=0.0,
        head_outer_mm=14.4,
        protrusion_mm=5.6,
        torque_nm=6.2,
        torque_rule="washer pressure on PA12",
    )


STACKS = tuple(stack(bolt, j) for j in JOINTS for bolt in j.bolts)


def hardware(*names: str) -> tuple[HardwareLine, ...]:
    """Hardware of some joints."""
    rows: list[HardwareLine] = []
    for name in names:
        count = len(BY_ID[JointId(name)].bolts)
        if not count:
            continue
        for item, kind, length, pieces, torque in (
            ("Hexagon head screw ISO 4017 - M8 x 40 - 8.8", "screw", 40.0, count, 6.2),
            ("Prevailing torque hexagon nut ISO 7040 - M8 - 8", "nut", 0.0, count, 0.0),
            ("Large plain washer ISO 7093-1 - 8 - 200 HV", "washer", 0.0, 2 * count, 0.0),
        ):
            rows.append(
                HardwareLine(
                    joint=JointId(name),
                    item=item,
                    kind=kind,
                    size="M8",
                    length_mm=length,
                    count=pieces,
                    torque_nm=torque,
                )
            )
    return tuple(rows)


def bonding(name: str) -> Bonding:
    """Adhesive of one joint."""
    area = BY_ID[JointId(name)].bond_area_mm2
    return Bonding(
        joint=JointId(name),
        name=ADHESIVE,
        area_mm2=area,
        volume_ml=area * 0.3 * 1.3 / 1000,
        temperature_c=18.0,
        open_min=14.0,
        needed_min=11.0,
        fixture_min=45.0,
        handling_min=240.0,
        full_cure_min=1440.0,
    )


BONDINGS = tuple(bonding(j.id) for j in JOINTS if j.method.is_bonded)


def reached(name: str) -> tuple[Access, ...]:
    """Access to the bolts of one joint: the first half from above, the rest through the neck."""
    j = BY_ID[JointId(name)]
    half = len(j.bolts) // 2
    return tuple(
        Access(
            bolt=bolt.id,
            head_part=bolt.through[0],
            nut_part=bolt.through[-1],
            head_end=0,
            tool="socket 13 mm",
            head="from above, through the open top" if i < half else "through the opening of the neck",
            nut="from below, through the open floor" if i < half else "from the same opening, second hand",
            reach_mm=260.0 if i < half else 480.0,
            is_reachable=not (name == "J08" and i == 7),
        )
        for i, bolt in enumerate(j.bolts)
    )


def join(
    number: int,
    title: str,
    *,
    bench: str,
    section: str,
    moves: tuple[str, ...],
    onto: tuple[str, ...],
    joints: tuple[str, ...],
    start: float,
    hours: float,
    after: tuple[int, ...] = (),
    gates: tuple[tuple[str, int], ...] = (),
    before: tuple[int, ...] = (),
    place: Place = Place.SHOP,
    down: Vector = (0.0, 0.0, -1.0),
    mass: float = 0.0,
    people: int = 1,
    kind: StepKind = StepKind.JOIN,
    prop: str = "",
    critical: bool = False,
    notes: tuple[str, ...] = (),
) -> Step:
    """One joining step."""
    bonded = tuple(name for name in joints if BY_ID[JointId(name)].method.is_bonded)
    hold = None
    if bonded:
        hold = Hold(
            minutes=240.0,
            joints=tuple(JointId(n) for n in bonded),
            before=tuple(StepNumber(str(n)) for n in before),
            reason="handling strength at 18 °C in the shop, 16 °C in the night",
        )
    return Step(
        number=StepNumber(str(number)),
        title=title,
        kind=kind,
        place=place,
        bench=BenchId(bench),
        section=SectionId(section),
        after=tuple(StepNumber(str(n)) for n in after),
        moves=tuple(PartId(p) for p in moves),
        onto=tuple(PartId(p) for p in onto),
        path=(Move(direction=down, travel_mm=180.0),) if moves else (),
        joints=tuple(JointId(n) for n in joints),
        hardware=hardware(*joints),
        stacks=tuple(s for s in STACKS if s.joint in joints),
        adhesive=tuple(bonding(n) for n in bonded),
        hold=hold,
        gates=tuple(Gate(joint=JointId(n), step=StepNumber(str(s))) for n, s in gates),
        lift=Lift(mass_kg=mass, centre_mm=(0.0, 0.0, 0.0), people=people, rule=f"{mass:g} kg, limit for one is 14.7 kg")
        if moves
        else None,
        stability=Stability(tip_deg=4.5 if prop else 17.0, needs_prop=bool(prop), reason=prop),
        access=tuple(row for name in joints for row in reached(name)),
        minutes=hours * 60,
        start_min=start,
        end_min=start + hours * 60,
        is_critical=critical,
        why=("P04 closes the opening through which the nuts of J03 are reached", "fewest changes of direction"),
        notes=notes,
        image=f"step-{number:02d}.png",
    )


STEPS = (
    join(
        1,
        "Lower the front legs onto the plinth ring",
        bench="B1",
        section="S1",
        moves=("P02",),
        onto=("P01",),
        joints=("J01",),
        start=0,
        hours=0.75,
        before=(2, 3),
        mass=7.4,
        critical=True,
        prop="leans forward until the back legs are in",
    ),
    join(
        2,
        "Slide the back legs against the front legs",
        bench="B1",
        section="S1",
        moves=("P03",),
        onto=("P01", "P02"),
        joints=("J02", "J03"),
        start=285,
        hours=1.2,
        after=(1,),
        gates=(("J01", 1),),
        before=(3,),
        mass=8.1,
        down=(0.0, -1.0, 0.0),
        critical=True,
    ),
    join(
        3,
        "Lower the belly onto the legs",
        bench="B1",
        section="S1",
        moves=("P04",),
        onto=("P01", "P02", "P03"),
        joints=("J04",),
        start=600,
        hours=1.0,
        after=(2,),
        gates=(("J02", 2), ("J03", 2)),
        before=(6,),
        mass=16.3,
        people=2,
        critical=True,
    ),
    join(
        4,
        "Join the two halves of the chest",
        bench="B2",
        section="S1",
        moves=("P06",),
        onto=("P05",),
        joints=("J05",),
        start=45,
        hours=0.8,
        before=(6,),
        mass=5.2,
        down=(1.0, 0.0, 0.0),
    ),
    join(
        5,
        "Bolt and bond the head onto the neck",
        bench="B2",
        section="S2",
        moves=("P08",),
        onto=("P07",),
        joints=("J07",),
        start=93,
        hours=0.7,
        before=(7,),
        mass=4.0,
    ),
    join(
        6,
        "Lower the chest onto the belly",
        bench="B1",
        section="S1",
        moves=("P05", "P06"),
        onto=("P01", "P02", "P03", "P04"),
        joints=("J06",),
        start=900,
        hours=1.0,
        after=(3, 4),
        gates=(("J04", 3), ("J05", 4)),
        before=(8,),
        mass=10.6,
        people=2,
        critical=True,
        prop="a strap round the chest until J06 is free",
        notes=("Keep the strap off the fresh seam.",),
    ),
    join(
        7,
        "Glue the left ear to the head",
        bench="B2",
        section="S2",
        moves=("P09",),
        onto=("P07", "P08"),
        joints=("J09",),
        start=400,
        hours=0.4,
        after=(5,),
        gates=(("J07", 5),),
        before=(8,),
        mass=0.4,
    ),
    join(
        8,
        "Lower the head section onto the chest",
        bench="B1",
        section="S2",
        moves=("P07", "P08", "P09"),
        onto=("P01", "P02", "P03", "P04", "P05", "P06"),
        joints=("J08",),
        start=1200,
        hours=1.0,
        after=(6, 7),
        gates=(("J06", 6), ("J09", 7)),
        mass=9.8,
        people=2,
        place=Place.SITE,
        critical=True,
    ),
    join(
        9,
        "Set the finished figure on its base",
        bench="B1",
        section="S1",
        moves=("P01", "P02", "P03", "P04", "P05", "P06", "P07", "P08", "P09"),
        onto=("P10",),
        joints=("J10",),
        start=1290,
        hours=1.5,
        after=(8,),
        mass=52.0,
        people=0,
        kind=StepKind.BASE,
        place=Place.SITE,
        critical=True,
    ),
)

PARTS = (
    part(1, 5.5, (420, 380, 180), (-210, -190, 90)),
    part(2, 7.4, (400, 260, 390), (-200, -190, 270)),
    part(3, 8.1, (400, 280, 390), (-200, 70, 270)),
    part(4, 16.3, (395, 390, 380), (-200, -190, 660)),
    part(5, 5.4, (220, 380, 360), (-200, -190, 1040)),
    part(6, 5.2, (220, 380, 360), (20, -190, 1040)),
    part(7, 5.4, (260, 280, 240), (-130, -140, 1400)),
    part(8, 4.0, (300, 380, 310), (-150, -200, 1640)),
    part(9, 0.4, (60, 90, 210), (-90, 20, 1900)),
    part(10, 41.0, (700, 700, 90), (-350, -350, 0)),
)

FINDINGS = sort_findings(
    (
        Finding(
            level=Level.STOP,
            code="nut-out-of-reach",
            about=("J08.8", "J08"),
            message="The nut of J08.8 lies 640 mm inside; the longest reach is 600 mm.",
            remedy="Make the nut captive, or open the crown of P08.",
        ),
        Finding(
            level=Level.WARN,
            code="method-assumed",
            about=("J09",),
            message="J09 has no bolts; it is taken as bonded.",
            remedy="State the method in joints.toml.",
        ),
        Finding(
            level=Level.NOTE,
            code="open-edges",
            about=("P09",),
            message="P09 has 12 open edges; volume and mass are estimates.",
            remedy="",
        ),
    )
)

SECTIONS = (
    Section(
        id=SectionId("S1"),
        parts=tuple(PartId(f"P{i:02d}") for i in range(1, 7)),
        mass_kg=47.9,
        size_mm=(420.0, 390.0, 1310.0),
        centre_mm=(0.0, 0.0, 740.0),
    ),
    Section(
        id=SectionId("S2"),
        parts=tuple(PartId(f"P{i:02d}") for i in range(7, 10)),
        mass_kg=9.8,
        size_mm=(300.0, 380.0, 710.0),
        centre_mm=(0.0, -20.0, 1650.0),
    ),
)

UNTIMED = Plan(
    figure_name="Sample hare",
    revision="B",
    parts=PARTS,
    joints=JOINTS,
    steps=STEPS,
    sections=SECTIONS,
    findings=FINDINGS,
    total_min=3060.0,
)

"""Five steps that wait only for each other: enough for a PDF that is read back."""

SETTINGS = Settings(
    name="Sample hare",
    client="Sample client",
    revision="B",
    date="2026-03-02",
    shop_name="Sample shop",
    shop_contact="workshop foreman, extension 12",
    materials={
        "PA12 sintered": Material(
            name="PA12 sintered", density_kg_m3=1010.0, bearing_mpa=20.0, source="shop's own data sheet"
        ),
        "timber": Material(name="timber", density_kg_m3=520.0, bearing_mpa=3.0, source="from memory, check"),
    },
    default_material="PA12 sintered",
    adhesive=Adhesive(
        name=ADHESIVE,
        bond_line_mm=0.3,
        waste=0.3,
        cartridge_ml=50.0,
        open_min=12.0,
        working_life_min=15.0,
        fixture_min=35.0,
        handling_min=180.0,
        full_cure_min=1440.0,
        sheet_c=23.0,
        lowest_c=15.0,
        highest_c=30.0,
        strength_mpa=0.0,
        spacer="0.3 mm glass beads",
        source="shop's own data sheet",
    ),
    hardware=HardwareChoice(nut="ISO 7040", washer="ISO 7093-1"),
    crew=Crew(people=2),
    base=Base(when=BaseWhen.AFTER_FINISH, part=PartId("P10"), anchors=4, anchor_size="M12"),
    finish=(
        FinishOperation(name="Fill the seams", on="seams", groove_mm2=12.0, coats=2, wait_min=240.0),
        FinishOperation(name="Sand the seams", on="seams", note="Grain 120, then 240. Dust extraction and mask."),
        FinishOperation(name="Prime", on="surface", coverage_m2_l=9.0, coats=2, wait_min=720.0),
        FinishOperation(name="Top coat", on="surface", coverage_m2_l=8.0, coats=2, wait_min=1440.0),
    ),
    finish_route="filled and coated",
    cautions=("Keep the yard gate closed while the crane works.",),
)

FINISH = Finish(seam_mm=sum(joint.seam_mm for joint in JOINTS), skin_mm2=2.4e6)


def timed(plan: Plan) -> Plan:
    """The plan on the working hours, in the order of the book."""
    laid = in_book_order(replace(plan, calendar=calendar_frame(SETTINGS, days=60)))
    return with_calendar(laid, SETTINGS, FINISH)


PLAN = timed(UNTIMED)
SHORT = timed(replace(UNTIMED, steps=tuple(step for step in STEPS if step.number in ("1", "2", "3", "4", "6"))))

BUY = (
    BuyLine(item="Hexagon head screw ISO 4017 - M8 x 40 - 8.8", kind="screw", count=56, spares=3, packs=2, pack=50),
    BuyLine(item="Prevailing torque hexagon nut ISO 7040 - M8 - 8", kind="nut", count=56, spares=3, packs=2, pack=50),
    BuyLine(item="Large plain washer ISO 7093-1 - 8 - 200 HV", kind="washer", count=112, spares=6, packs=3, pack=50),
)

HARDWARE = hardware(*(j.id for j in JOINTS))


def sheet(of: Joint) -> tuple[WorksheetRow, ...]:
    """A calculation as the engineering room words it, with numbers of this sample."""
    rows = (
        ("bolt size", "nearest clearance hole", "hole 9.00 mm, medium series", "M8", "", "ISO 273 (read second-hand)"),
        (
            "length needed",
            "grip + washers + nut + 2 pitches",
            "20.30 + 2 x 2 + 9.5 + 2 x 1.25",
            "36.3",
            "mm",
            "practice",
        ),
        ("torque to set", "K F d, rounded down", "0.2 x 3875 N x 8 mm", "6.2", "N m", "Shigley ch. 8 (from memory)"),
    )
    glue = (
        "adhesive",
        "area x bond line x (1 + waste)",
        f"{of.bond_area_mm2:.0f} mm2 x 0.3 mm x 1.3",
        "12.5",
        "ml",
        "shop",
    )
    return tuple(
        WorksheetRow(
            about=of.id, quantity=row[0], formula=row[1], inputs=row[2], result=row[3], unit=row[4], source=row[5]
        )
        for row in (*(rows if of.bolts else ()), *((glue,) if of.method.is_bonded else ()))
    )


WORKSHEETS = {j.id: sheet(j) for j in JOINTS}

TEMPERATURES = five_temperatures(SETTINGS.adhesive)


def drawn(folder: Path, name: str, width: int, height: int, label: str, moved_deg: float = 0.0) -> Picture:
    """A placeholder: a few shapes, and one item reference as text over them."""
    image = Image.new("RGB", (width, height), "white")
    pen = ImageDraw.Draw(image)
    unit = min(width, height) / 10
    middle = width / 2
    line = max(2, int(unit / 25))
    pen.ellipse((middle - 2 * unit, 5 * unit, middle + 2 * unit, 9 * unit), fill="#e9e7e2", outline="#222", width=line)
    pen.rectangle(
        (middle - 1.4 * unit, 3.4 * unit, middle + 1.4 * unit, 6 * unit), fill="#e9e7e2", outline="#222", width=line
    )
    pen.ellipse(
        (middle - 1.2 * unit, 0.8 * unit, middle + 1.2 * unit, 3 * unit), fill="#56B4E9", outline="#111", width=2 * line
    )
    image.save(folder / name)
    overlay = (
        f'<line x1="{middle + unit:.0f}" y1="{1.6 * unit:.0f}" x2="{middle + 3.4 * unit:.0f}" y2="{1.2 * unit:.0f}" '
        f'stroke="#111" stroke-width="{line}"/>'
        f'<text x="{middle + 3.5 * unit:.0f}" y="{1.35 * unit:.0f}" font-size="{unit * 0.45:.0f}">{label}</text>'
    )
    return Picture(
        file=name,
        width_px=width,
        height_px=height,
        overlay_svg=overlay,
        legend=((label, label), ("1", "Hexagon head screw ISO 4017 - M8 x 40 - 8.8")),
        alt=f"{label} is moved into its place.",
        view=View(turned_deg=moved_deg),
    )


def draw_pictures(folder: Path) -> Pictures:
    """Placeholder pictures for the whole sample, written to a folder."""
    return Pictures(
        cover=drawn(folder, "cover.png", 1200, 1500, "the figure"),
        overview=drawn(folder, "overview.png", 1200, 1600, "all parts apart"),
        steps={
            step.number: (
                drawn(
                    folder,
                    f"step-{int(step.number):02d}.png",
                    1600,
                    1000,
                    step.moves[0],
                    moved_deg=35.0 if step.number in ("4", "8") else 0.0,
                ),
                *(drawn(folder, f"step-{step.number}-{name}.png", 992, 992, name) for name in step.joints),
                *((drawn(folder, f"step-{step.number}-bolt-1.png", 1299, 992, "M8"),) if step.stacks else ()),
            )
            for step in STEPS
        },
        thumbnails={p.id: drawn(folder, f"part-{p.id}.png", 300, 240, "") for p in PARTS},
        sections={s.id: drawn(folder, f"section-{s.id}.png", 600, 800, s.id) for s in SECTIONS},
    )
