"""An assembly's STEP file, put together from the files of its parts: what a part's file says is not asked of the kernel
a second time.

Terminology
    entity     one numbered statement of a STEP file: `#15 = MANIFOLD_SOLID_BREP('',#16);`
    block      the numbers of one part: its own, each after the part's place in the assembly; block 0 is the
               assembly's own
    context    what a representation's figures are in: the units, and how close points may lie

Source: ISO 10303-21 (the file), ISO 10303-41 and -43 (products, their structure and their places), ISO 10303-46
(colors).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from rootgap.errors import KernelError
from rootgap.solids.export import AUTHOR, TIMESTAMP, Part, grouped

#: A string, in which nothing is a reference, or a reference.
_TOKEN = re.compile(rb"'(?:[^']|'')*'|#(\d+)")
#: What stands in a template for a part's place in the assembly; no STEP file holds this byte.
_PLACE = b"\x00"
_DATA, _END = b"DATA;\n", b"ENDSEC;\nEND-ISO-10303-21;\n"
#: More entities than the assembly says of each part.
OWN_A_PART = 40
_REPRESENTATION = re.compile(
    rb"#(\d+) = (?:ADVANCED_BREP_)?SHAPE_REPRESENTATION\('',\(\s*#(\d+)[^)]*\),\s*#(\d+)\);"
)
_DEFINITION = re.compile(rb"#(\d+) = PRODUCT_DEFINITION\(")
_SOLID = re.compile(rb"#(\d+) = MANIFOLD_SOLID_BREP\(")


#: What the file as a whole is about, the same in every file of the kernel.
_ABOUT = (
    "APPLICATION_PROTOCOL_DEFINITION('international standard','automotive_design',2000,#2)",
    "APPLICATION_CONTEXT('core data for automotive mechanical design processes')",
)
_HEAD = """ISO-10303-21;
HEADER;
FILE_DESCRIPTION(({author}),'2;1');
FILE_NAME({file},'{day}',({author}),({author}),
  {author},{author},{author});
FILE_SCHEMA(('AUTOMOTIVE_DESIGN {{ 1 0 10303 214 1 1 1 1 }}'));
ENDSEC;
"""


@dataclass(frozen=True)
class StepPart:
    """A part's STEP file, read for an assembly. body: its entities, without those that say what the file as a whole is
    about. Numbers in it: definition, of the product; shape, of its representation; origin, of that one's axes; context;
    solids; last, the highest."""

    body: bytes
    definition: int
    shape: int
    origin: int
    context: int
    solids: tuple[int, ...]
    last: int

    def template(self, digits: int) -> bytes:
        """Return the entities with their numbers in `digits` digits, before each of which the part's place in an
        assembly is yet to come."""

        def numbered(match: re.Match[bytes]) -> bytes:
            number = match[1]
            return match[0] if number is None or int(number) <= len(_ABOUT) else b"#" + _PLACE + number.zfill(digits)

        return _TOKEN.sub(numbered, self.body)


def step_part(data: bytes, name: str) -> StepPart:
    """Return the STEP file of the part `name`, as the kernel writes it, read for an assembly.

    Raises KernelError where it is not such a file of one product.
    """
    body = data.partition(_DATA)[2].partition(_END)[0]
    start = body.find(f"#{len(_ABOUT) + 1} = ".encode())
    about = "".join(f"#{number} = {entity};\n" for number, entity in enumerate(_ABOUT, start=1)).encode()
    shapes, definitions = _REPRESENTATION.findall(body), _DEFINITION.findall(body)
    if start < 0 or body[:start] != about or len(shapes) != 1 or len(definitions) != 1:
        raise KernelError(name, "the kernel does not write it as one product")
    shape, origin, context = (int(number) for number in shapes[0])
    solids = tuple(int(number) for number in _SOLID.findall(body))
    last = int(body[body.rindex(b"\n#") + 2 :].split(b" ", 1)[0])
    return StepPart(body[start:], int(definitions[0]), shape, origin, context, solids, last)


@dataclass(frozen=True)
class _Product:
    """A product of an assembly. Numbers of its entities: its definition, its representation and that one's axes."""

    name: str
    definition: int
    shape: int
    origin: int


class _Own:
    """The assembly's own entities, numbered as they come."""

    def __init__(self) -> None:
        """Begin with what the file is about, and with what all of its products share."""
        self.entities = list(_ABOUT)
        millimetre = self.add("( LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT(.MILLI.,.METRE.) )")
        radian = self.add("( NAMED_UNIT(*) PLANE_ANGLE_UNIT() SI_UNIT($,.RADIAN.) )")
        steradian = self.add("( NAMED_UNIT(*) SI_UNIT($,.STERADIAN.) SOLID_ANGLE_UNIT() )")
        close = self.add(
            f"UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE(2.E-07),#{millimetre},\n"
            "  'distance_accuracy_value','confusion accuracy')"
        )
        self._context = self.add(
            f"( GEOMETRIC_REPRESENTATION_CONTEXT(3)\n  GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT((#{close}))\n"
            f"  GLOBAL_UNIT_ASSIGNED_CONTEXT((#{millimetre},#{radian},#{steradian}))\n"
            "  REPRESENTATION_CONTEXT('Context #1','3D Context with UNIT and UNCERTAINTY') )"
        )
        point = self.add("CARTESIAN_POINT('',(0.,0.,0.))")
        axis, ref = self.add("DIRECTION('',(0.,0.,1.))"), self.add("DIRECTION('',(1.,0.,0.))")
        self._axes = f"AXIS2_PLACEMENT_3D('',#{point},#{axis},#{ref})"
        self._placed = 0

    def add(self, entity: str) -> int:
        """Return the number of an entity that is added."""
        self.entities.append(entity)
        return len(self.entities)

    def product(self, name: str, members: Sequence[_Product]) -> _Product:
        """Add a product that is put together from `members`, each where it is."""
        label = _text(name)
        mechanical = self.add("PRODUCT_CONTEXT('',#2,'mechanical')")
        product = self.add(f"PRODUCT({label},{label},'',(#{mechanical}))")
        self.add(f"PRODUCT_RELATED_PRODUCT_CATEGORY('part',$,(#{product}))")
        formation = self.add(f"PRODUCT_DEFINITION_FORMATION('','',#{product})")
        design = self.add("PRODUCT_DEFINITION_CONTEXT('part definition',#2,'design')")
        definition = self.add(f"PRODUCT_DEFINITION('design','',#{formation},#{design})")
        of_it = self.add(f"PRODUCT_DEFINITION_SHAPE('','',#{definition})")
        origin, *places = (self.add(self._axes) for _ in range(len(members) + 1))
        items = ",".join(f"#{number}" for number in (origin, *places))
        shape = self.add(f"SHAPE_REPRESENTATION('',({items}),#{self._context})")
        self.add(f"SHAPE_DEFINITION_REPRESENTATION(#{of_it},#{shape})")
        for member, place in zip(members, places, strict=True):
            self._place(member, definition, shape, place)
        return _Product(name, definition, shape, origin)

    def _place(self, member: _Product, definition: int, shape: int, place: int) -> None:
        """Add a member, its axes on those of `place`, to the product of the numbers `definition` and `shape`."""
        self._placed += 1
        occurrence = self.add(
            f"NEXT_ASSEMBLY_USAGE_OCCURRENCE('{self._placed}',{_text(member.name)},'',\n"
            f"  #{definition},#{member.definition},$)"
        )
        placed = self.add(f"PRODUCT_DEFINITION_SHAPE('Placement','Placement of an item',#{occurrence})")
        moved = self.add(f"ITEM_DEFINED_TRANSFORMATION('','',#{member.origin},#{place})")
        related = self.add(
            f"( REPRESENTATION_RELATIONSHIP('','',#{member.shape},#{shape})\n"
            f"  REPRESENTATION_RELATIONSHIP_WITH_TRANSFORMATION(#{moved})\n  SHAPE_REPRESENTATION_RELATIONSHIP() )"
        )
        self.add(f"CONTEXT_DEPENDENT_SHAPE_REPRESENTATION(#{related},#{placed})")

    def paint(self, solids: Iterable[int], context: int, color: tuple[float, float, float]) -> None:
        """Add the color, (red, green, blue), 0 to 1, of solids in a `context`."""
        last = self.add(f"COLOUR_RGB('',{','.join(map(_real, color))})")
        for style in (
            "FILL_AREA_STYLE_COLOUR('',#{})",
            "FILL_AREA_STYLE('',(#{}))",
            "SURFACE_STYLE_FILL_AREA(#{})",
            "SURFACE_SIDE_STYLE('',(#{}))",
            "SURFACE_STYLE_USAGE(.BOTH.,#{})",
            "PRESENTATION_STYLE_ASSIGNMENT((#{}))",
        ):
            last = self.add(style.format(last))
        styled = [self.add(f"STYLED_ITEM('color',(#{last}),#{solid})") for solid in solids]
        items = ",".join(f"#{number}" for number in styled)
        self.add(f"MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION('',({items}),#{context})")


def assembly_step(
    file: str,
    name: str,
    parts: Sequence[Part],
    read: Callable[[Part], StepPart],
    template: Callable[[Part, int], bytes],
) -> bytes:
    """Return the STEP file `file` of the assembly `name`: its groups, and their parts with their colors.

    read, template: give a part's file, and what `StepPart.template` returns of it. The same parts give the same bytes.
    Raises ValueError as `grouped` does.
    """
    groups = grouped(name, parts)
    files = {part.name: read(part) for part in parts}
    blocks = {part.name: number for number, part in enumerate(parts, start=1)}
    # So many that the assembly's own, some thirty a part, have room in block 0.
    digits = len(str(max(file.last for file in files.values()))) if files else 1
    digits = max(digits, len(str(OWN_A_PART * (len(parts) + 1))))

    def at(part: Part, number: int) -> int:
        return blocks[part.name] * 10**digits + number

    own = _Own()
    members = []
    for group, chain in groups.items():
        products = []
        for part in chain:
            one = files[part.name]
            numbers = (at(part, number) for number in (one.definition, one.shape, one.origin))
            products.append(_Product(part.name, *numbers))
            own.paint((at(part, solid) for solid in one.solids), at(part, one.context), part.color)
        members.append(own.product(group, products))
    own.product(name, members)
    if len(own.entities) >= 10**digits:
        raise AssertionError(f"{len(own.entities)} entities do not go into a block of {10**digits}")
    author = _text(AUTHOR)
    head = _HEAD.format(author=author, file=_text(file), day=TIMESTAMP).encode()
    lines = "".join(f"#{number} = {entity};\n" for number, entity in enumerate(own.entities, start=1)).encode()
    shifted = (template(part, digits).replace(_PLACE, str(blocks[part.name]).encode()) for part in parts)
    return b"".join((head, _DATA, lines, *shifted, _END))


def _text(words: str) -> str:
    """Return `words` as a string of a STEP file. Source: ISO 10303-21, 6.4.3."""
    plain = words.replace("\\", "\\\\").replace("'", "''")
    return "'" + "".join(c if c.isascii() else f"\\X4\\{ord(c):08X}\\X0\\" for c in plain) + "'"


def _real(figure: float) -> str:
    """Return a figure as a STEP file has it, with a point."""
    text = f"{figure:.12g}"
    return text if "." in text else f"{text}."
