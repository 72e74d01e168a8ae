"""The figure.toml that the first survey writes: every entry explained to the person who has to fill it in."""

from __future__ import annotations

from dataclasses import dataclass

from assembler.figure.ids import PartId
from assembler.figure.parts import Vector
from assembler.projectfiles.toml import quoted


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstGuess:
    """What the first survey can say of a figure.

    Parameters
    ----------
    name
        Name of the figure, from the folder.
    unit
        Unit that was used for files that state none; empty when every file states its own.
    printer_mm
        Printer envelope, if known.
    base_part
        The part that looks like a base.
    """

    name: str
    unit: str
    printer_mm: Vector | None = None
    base_part: PartId | None = None


def figure_toml(guess: FirstGuess) -> str:
    """Text of a new figure.toml."""
    if guess.base_part is None:
        rule = '# [parts.P01]                 # a rule for one part\n# material = "timber"\n# printed = false'
        base = 'part = ""                   # id of the part that is the base; "" when it has no mesh'
    else:
        rule = (
            f"[parts.{guess.base_part}]                 # assumed from its name: a base that is not printed\n"
            'material = "timber"\nprinted = false'
        )
        base = f"part = {quoted(guess.base_part)}                # assumed from its name"
    box = guess.printer_mm or (400.0, 400.0, 400.0)
    printer = f"printer_mm = [{box[0]:g}, {box[1]:g}, {box[2]:g}]"
    if guess.printer_mm is None:
        printer = f"# {printer}"
    return _TEXT.format(name=quoted(guess.name), unit=quoted(guess.unit), rule=rule, base=base, printer=printer)


_TEXT = """\
# figure.toml: what the shop decides for this figure.
# The program wrote this file once and will not write over it. Edit it freely; comments stay.
# Every name carries its unit. A line that starts with '#' is switched off.

[figure]
name = {name}
client = ""
revision = "A"              # letter of the next issued book
date = ""                   # printed on the cover, year-month-day; "" leaves a field to fill in
unit = {unit}                 # of mesh files that do not state their unit (STL, OBJ, PLY, OFF): "mm", "cm", "m" or "in"
up = [0.0, 0.0, 1.0]        # the axis of the mesh files that points up when the figure stands
front = "-y"                # assumed: the axis that the figure faces; left and right in the book are its own
# moved_mm = [0.0, 0.0, 0.0]  # a shift of all mesh files against the first export that is meant, and is taken back
# What the first survey assumed ('assembler status' asks for it). Take a word out once its values are what you decided.
assumed = ["base", "method", "place", "material", "adhesive", "passages", "people"]

[shop]
name = ""                   # printed on the cover
contact = ""                # whom the crew calls
logo = ""                   # an SVG or PNG file in this folder, printed on the cover
# Printed on one side, each page is a sheet of its own: a step is one sheet or two, and taking it out takes out nothing
# else. Two pages on one sheet of A3 (or 11 x 17) show a step as a spread; both sides of one sheet do as well.
sheet = "A4"                # or "Letter"
labels = ""                 # stock labels by their size in mm; "": "99.1 x 57" on A4, "101.6 x 84.7" on Letter;
                            # also "99.1 x 67.7" and "105 x 74"
inches = false              # true: inch, pound and degree Fahrenheit beside the metric values
cautions = []               # your own cautions, printed after the general ones

# --- materials -------------------------------------------------------------------------------------------------
# density_kg_m3: of the part as made (for extruded parts count walls and infill, not the solid polymer).
# bearing_mpa:   pressure under a washer that the material carries for years. It limits the torque.
# The numbers below are typical values from memory. Replace them by those of your data sheets and say so in 'source'.

[materials."PA12, sintered"]
density_kg_m3 = 950
bearing_mpa = 15
source = "typical value, from memory; check the data sheet"

[materials.timber]
density_kg_m3 = 500         # for lifting
ballast_kg_m3 = 420         # where its mass holds the figure down: the least it may weigh (EN 338, mean of C24)
bearing_mpa = 3
source = "typical softwood, from memory; across the grain"

[parts]
material = "PA12, sintered"   # of every part without a rule of its own

{rule}

# --- hardware --------------------------------------------------------------------------------------------------
# The size of each bolt follows from its hole (ISO 273), its length from grip + washers + nut + protrusion.

[hardware]
screw = "ISO 4017"          # hexagon head, full thread; or "ISO 4014", "ISO 4762" (socket), "ISO 7380-1" (button)
nut = "ISO 4032"            # or "ISO 7040" (prevailing torque)
washer = "ISO 7089"         # or "ISO 7093-1" (large)
property_class = "8.8"      # or "A2-70" (stainless)
nut_factor = 0.2            # K in T = K F d: 0.2 as received, 0.15 oiled
corrosion = ""              # what keeps it from rusting, such as "A2", "A4", "zinc flake"; "" = nobody has decided yet
locking = ""                # what keeps unbonded nuts tight, such as "ISO 7040" or "threadlocker"; "" = not decided
spares_percent = 5          # of each size, rounded up ...
spares_least = 2            # ... and at least this many
pack = 50                   # pieces in a pack
stock_lengths_mm = []       # lengths you have; [] allows every length of the standard

# --- adhesive --------------------------------------------------------------------------------------------------
# All times in minutes at 'sheet_c'. The book converts them to the temperatures below.
# These are typical values of a slow two-part epoxy, not those of a product: copy yours from its data sheet.

[adhesive]
name = "two-part epoxy, slow"
bond_line_mm = 0.3          # thickness of the bond
waste = 0.3                 # 0.3 = 30 % for mixer, nozzle and squeeze-out
cartridge_ml = 400
open_min = 25               # from applying to closing the joint
working_life_min = 30       # from mixing until too thick
fixture_min = 240           # parts no longer slip
handling_min = 480          # clamps may come off: this is the hold in the book
full_cure_min = 7200
sheet_c = 23
lowest_c = 10               # colder or warmer than this: do not glue
highest_c = 35
strength_mpa = 0            # lap shear on your material, from your own coupons; 0 = not stated
peel_mpa = 0                # pulled apart at its edge, from your own coupons; 0 = a quarter of strength_mpa counts
handling_mpa = 0.2          # strength at the end of the hold; what stands on a joint from then on is checked against it
spacer = ""                 # keeps the bond open under the bolts: "0.3 mm glass beads", strewn on, no nozzle mixes them
source = "typical range, from memory; the data sheet rules"

# --- people, hands and weather ---------------------------------------------------------------------------------

[crew]
people = 2
glove = "bare or light"     # or "heavy": decides through which openings a hand goes
hand_opening_mm = 0         # your own measured openings; 0 = built-in sizes
forearm_opening_mm = 0
upper_arm_opening_mm = 0    # where a bolt lies deeper than a forearm is long, 400 mm: on all but the last 400 mm
reach_mm = 550              # shoulder to a nut that the hand holds: 19 of 20 women and all but few men reach so far
lift_one_kg = 0             # your own limit for one person; 0 = by the lifting equation
# Rates: assumptions from common practice until you put your own. Minutes of the whole crew, lengths and areas of one.
fetch_min = 3               # to walk for what moves and place it
second_person_min = 3       # for each further person at a lift: they have to come together
hoist_min = 60              # to rig a hoist, lift and unrig
dry_fit_min = 6             # to fit what moves dry and take it off again
prepare_mm2_min = 4000      # area of face that one person abrades and degreases in a minute
mask_mm_min = 600           # length that one person masks in a minute; a seam has two sides
mix_min = 4                 # to fit a nozzle, purge it and mix
spread_mm2_min = 15000      # area of adhesive that one person spreads in a minute
close_min = 2               # to bring wet faces together
bolt_min = 0.8              # minutes to fit one bolt finger tight
round_min = 0.3             # for one bolt and round of tightening
inside_factor = 1.5         # a bolt half a metre inside takes so many times as long
wipe_mm_min = 300           # length of seam that one person wipes and frees of tape in a minute
prop_min = 8                # to set a prop
turn_min = 10               # to turn what stands, besides the people or the hoist
seam_mm_min = 60            # length of seam that one person fills or sands in a minute
coat_mm2_min = 60000        # area that one person coats in a minute
team = 2                    # people who work at one joint together
day_start_h = 8
day_end_h = 17
shifts_h = []               # more than one shift: [[6, 14], [14, 22]]; a step is not handed over

[calendar]
first_day = ""                # date of day 1, year-month-day; "" = only days are counted
deadline = ""               # last day for the end of all
weekdays = ["Mon", "Tue", "Wed", "Thu", "Fri"]
days_off = []               # dates without work, such as ["2031-04-18"]
not_before = []             # pairs [part, date]: not there earlier
places = 0                  # places of the floor to build on and let cure; 0 = as many as it takes
hoists = 1                  # that can be used at once
warm_c = 30                 # to which joints could be warmed, for what would shorten the calendar

[temperature]               # of the parts, not only of the air
shop_c = 20
night_min_c = 16            # the coldest the shop gets during a hold over night
site_c = 15
# night_site_c = 8          # the coldest a night on site gets; needed where a joint is glued on site

[envelopes]                 # what parts and sections have to fit; take the '#' away and set yours
{printer}
# section_max_kg = 80       # the heaviest section that can be handled on the way and on site

# --- from the shop to the place --------------------------------------------------------------------------------
# Every door, gate, lift and corridor between the bench and the place, with its clear opening, and the vehicle inside.
# From them follows into how many sections the figure is divided. Take the '#' away and set yours.

# [[passage]]
# name = "shop door"
# width_mm = 1200
# height_mm = 2400
# turn_mm = 0               # a right-angled corner follows: clear width of the way behind it; 0: straight on

# [vehicle]
# length_mm = 3200
# width_mm = 1700
# height_mm = 1800
# payload_kg = 1000

# [[section]]               # only if you want your own sections: all together name every part once
# name = "legs"
# parts = ["P01", "P02"]

[base]
when = "first"              # the figure is built on its base; or "after finish": mounted when finished
{base}
size_mm = [0, 0, 0]         # of a base without a mesh
mass_kg = 0
anchors = 0                 # ground anchors, as planned by whoever is responsible for them
anchor_size = ""
anchors_at_mm = []          # their places in the frame of the mesh files, such as [[350, -250, 0], [-350, -250, 0]]

# --- finish ----------------------------------------------------------------------------------------------------
# The operations after the last joint, in order. 'on' is "seams" or "surface".
# groove_mm2: cross-section of filler along a seam. coverage_m2_l: area of one litre in one coat.
# Two routes are built in, with typical values from memory: delete the operations below and name one of
# "painted" or "metal-loaded coat, cut back and polished". route = "" leaves the finish out of the book.

[finish]
route = "painted"
seam_step_mm = 0.5          # greatest step across a seam that is good enough: what filler and sanding take up

[[finish.operation]]
name = "Fill the seams"
on = "seams"
groove_mm2 = 6
wait_min = 720
note = "Filler as its data sheet says; press it in, no air under it."

[[finish.operation]]
name = "Sand the seams flush"
on = "seams"
note = "Start at 120 grit, end at 240. Extract the dust; wear a mask."

[[finish.operation]]
name = "Prime"
on = "surface"
coverage_m2_l = 6
coats = 2
wait_min = 720
note = "High-build primer; sand lightly between the coats."

[[finish.operation]]
name = "Paint"
on = "surface"
coverage_m2_l = 9
coats = 2
wait_min = 480

# --- your wishes for the order ---------------------------------------------------------------------------------

[order]
after = []                  # pairs [later, earlier], such as [["P07", "P03"]]
apart = []                  # groups to build apart and bring in as one, such as [["P10", "P11"]]
work_on_bolts = false       # true: a fresh joint may be loaded where the bolts alone carry it; the book then says so
"""
