"""Writes small STEP files (ISO 10303-21, AP214): plates with one round hole, exact boundary representations."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

Point = tuple[float, float, float]
Plate = tuple[Point, Point, tuple[float, float, float]]
"""Lowest and highest corner, and the hole: x, y, radius."""

_HEAD = """ISO-10303-21;
HEADER;
FILE_DESCRIPTION((''),'2;1');
FILE_NAME('','',(''),(''),'','','');
FILE_SCHEMA(('AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }'));
ENDSEC;
DATA;
"""


class _Lines:
    """Numbered entities of a file."""

    def __init__(self) -> None:
        self.lines: list[str] = []

    def add(self, text: str) -> str:
        self.lines.append(f"#{len(self.lines) + 1}={text};")
        return f"#{len(self.lines)}"

    def point(self, at: Point) -> str:
        return self.add(f"CARTESIAN_POINT('',({at[0]:.6f},{at[1]:.6f},{at[2]:.6f}))")

    def direction(self, along: Point) -> str:
        return self.add(f"DIRECTION('',({along[0]:.6f},{along[1]:.6f},{along[2]:.6f}))")

    def axes(self, at: Point, z: Point, x: Point) -> str:
        return self.add(f"AXIS2_PLACEMENT_3D('',{self.point(at)},{self.direction(z)},{self.direction(x)})")


class _PlateWriter:
    """One plate: four sides, two faces with a circle in each, the wall of the hole."""

    def __init__(self, lines: _Lines, plate: Plate) -> None:
        self.lines = lines
        self.plate = plate
        self.vertices: dict[Point, str] = {}
        self.edges: dict[tuple[Point, Point], str] = {}

    def solid(self, name: str) -> str:
        add = self.lines.add
        (x0, y0, z0), (x1, y1, z1), (cx, cy, radius) = self.plate
        rims = [self._rim((cx, cy, z), radius) for z in (z0, z1)]
        ring = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        below = [(x, y, z0) for x, y in (ring[0], ring[3], ring[2], ring[1])]
        above = [(x, y, z1) for x, y in ring]
        faces = [
            self._face(below, (0, 0, -1), (1, 0, 0), self._bound(rims[0], "T")),
            self._face(above, (0, 0, 1), (1, 0, 0), self._bound(rims[1], "F")),
        ]
        normals = [(0, -1, 0), (1, 0, 0), (0, 1, 0), (-1, 0, 0)]
        for number, normal in enumerate(normals):
            (ax, ay), (bx, by) = ring[number], ring[(number + 1) % 4]
            corners = [(ax, ay, z0), (bx, by, z0), (bx, by, z1), (ax, ay, z1)]
            faces.append(self._face(corners, normal, (abs(normal[1]), abs(normal[0]), 0)))
        up = self._line((cx + radius, cy, z0), (cx + radius, cy, z1))
        down = self._line((cx + radius, cy, z1), (cx + radius, cy, z0))
        loop = add(f"EDGE_LOOP('',({self._used(rims[0], 'F')},{up},{self._used(rims[1], 'T')},{down}))")
        bound = add(f"FACE_OUTER_BOUND('',{loop},.T.)")
        wall = add(f"CYLINDRICAL_SURFACE('',{self.lines.axes((cx, cy, z0), (0, 0, 1), (1, 0, 0))},{radius:.6f})")
        faces.append(add(f"ADVANCED_FACE('',({bound}),{wall},.F.)"))
        shell = add(f"CLOSED_SHELL('',({','.join(faces)}))")
        return add(f"MANIFOLD_SOLID_BREP('{name}',{shell})")

    def _vertex(self, at: Point) -> str:
        if at not in self.vertices:
            self.vertices[at] = self.lines.add(f"VERTEX_POINT('',{self.lines.point(at)})")
        return self.vertices[at]

    def _used(self, edge: str, way: str) -> str:
        return self.lines.add(f"ORIENTED_EDGE('',*,*,{edge},.{way}.)")

    def _line(self, start: Point, end: Point) -> str:
        if (end, start) in self.edges:
            return self._used(self.edges[end, start], "F")
        if (start, end) not in self.edges:
            length = sum((b - a) ** 2 for a, b in zip(start, end, strict=True)) ** 0.5
            along = tuple((b - a) / length for a, b in zip(start, end, strict=True))
            vector = self.lines.add(f"VECTOR('',{self.lines.direction(along)},1.)")  # type: ignore[arg-type]
            line = self.lines.add(f"LINE('',{self.lines.point(start)},{vector})")
            edge = f"EDGE_CURVE('',{self._vertex(start)},{self._vertex(end)},{line},.T.)"
            self.edges[start, end] = self.lines.add(edge)
        return self._used(self.edges[start, end], "T")

    def _rim(self, centre: Point, radius: float) -> str:
        circle = self.lines.add(f"CIRCLE('',{self.lines.axes(centre, (0, 0, 1), (1, 0, 0))},{radius:.6f})")
        seam = self._vertex((centre[0] + radius, centre[1], centre[2]))
        return self.lines.add(f"EDGE_CURVE('',{seam},{seam},{circle},.T.)")

    def _bound(self, rim: str, way: str) -> str:
        loop = self.lines.add(f"EDGE_LOOP('',({self._used(rim, way)}))")
        return self.lines.add(f"FACE_BOUND('',{loop},.T.)")

    def _face(self, corners: list[Point], normal: Point, x: Point, *inner: str) -> str:
        pairs = zip(corners, corners[1:] + corners[:1], strict=True)
        loop = self.lines.add(f"EDGE_LOOP('',({','.join(self._line(a, b) for a, b in pairs)}))")
        outer = self.lines.add(f"FACE_OUTER_BOUND('',{loop},.T.)")
        plane = self.lines.add(f"PLANE('',{self.lines.axes(corners[0], normal, x)})")
        return self.lines.add(f"ADVANCED_FACE('',({','.join((outer, *inner))}),{plane},.T.)")


def write_step(path: Path, plates: Mapping[str, Plate], unit: str = "SI_UNIT(.MILLI.,.METRE.)") -> None:
    """Write plates, each a product of its own, with lengths in the given unit."""
    lines = _Lines()
    add = lines.add
    length = add(f"(LENGTH_UNIT()NAMED_UNIT(*){unit})")
    angle = add("(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))")
    solid_angle = add("(NAMED_UNIT(*)SI_UNIT($,.STERADIAN.)SOLID_ANGLE_UNIT())")
    doubt = add(f"UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE(1.E-05),{length},'distance_accuracy_value','')")
    context = add(
        f"(GEOMETRIC_REPRESENTATION_CONTEXT(3)GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT(({doubt}))"
        f"GLOBAL_UNIT_ASSIGNED_CONTEXT(({length},{angle},{solid_angle}))REPRESENTATION_CONTEXT('',''))"
    )
    application = add("APPLICATION_CONTEXT('automotive design')")
    product_context = add(f"PRODUCT_CONTEXT('',{application},'mechanical')")
    design_context = add(f"PRODUCT_DEFINITION_CONTEXT('part definition',{application},'design')")
    for name, plate in plates.items():
        body = _PlateWriter(lines, plate).solid(name)
        origin = lines.axes((0, 0, 0), (0, 0, 1), (1, 0, 0))
        shape = add(f"ADVANCED_BREP_SHAPE_REPRESENTATION('{name}',({origin},{body}),{context})")
        product = add(f"PRODUCT('{name}','{name}','',({product_context}))")
        formation = add(f"PRODUCT_DEFINITION_FORMATION('','',{product})")
        definition = add(f"PRODUCT_DEFINITION('design','',{formation},{design_context})")
        defined = add(f"PRODUCT_DEFINITION_SHAPE('','',{definition})")
        add(f"SHAPE_DEFINITION_REPRESENTATION({defined},{shape})")
    path.write_text(_HEAD + "\n".join(lines.lines) + "\nENDSEC;\nEND-ISO-10303-21;\n", encoding="ascii")
