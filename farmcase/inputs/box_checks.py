"""What must hold of boxes and walls: materials with a thickness, shells, boxes that touch."""

from __future__ import annotations

from collections.abc import Iterable

from farmcase.errors import Fault
from farmcase.inputs.estimate import Record, shown
from farmcase.inputs.faults import listed
from farmcase.inputs.reference import known_shells, reference_table, whole_materials
from farmcase.inputs.view import View

_OPPOSITE = {"front": "back", "left": "right", "roof": "floor"}
_OPPOSITE |= {there: here for here, there in _OPPOSITE.items()}
# Section, field that names a material, fields with its thickness.
_LAYERS = (
    ("rooms", "insulation", ("insulation_m", "floor_insulation_m")),
    ("rooms", "inner_face", ("inner_face_m",)),
    ("containers", "partition", ("partition_m",)),
)


def box_faults(view: View) -> list[Fault]:
    """Every fault of walls and of boxes side by side that one build has."""
    return [*_materials(view), *_shells(view), *_touches(view)]


def _materials(view: View) -> Iterable[Fault]:
    """Materials that the reference table can tell of."""
    folder = view.origins.folder
    table, whole = reference_table("materials", folder), whole_materials(folder)
    for section, name, sizes in _LAYERS:
        for identity, record in view.records(section).items():
            path, material = f"{section}.{identity}", getattr(record, name)
            if not material or material in whole:
                yield from _thickness(view, path, record, name, sizes)
            elif material in table:
                given = f"is {shown(material)}, whose reference row lacks numbers"
                allowed = "conductivity, density and specific heat are needed"
                remedy = "fill in the row, or take another material"
                yield view.origins.at(f"{path}.{name}", given, allowed, remedy)
            else:
                yield view.unknown(f"{path}.{name}", material, table)


def _thickness(
    view: View, path: str, record: Record, name: str, sizes: tuple[str, ...]
) -> Iterable[Fault]:
    """A thickness of nothing, or a material whose thickness nobody gave (a stated 0 is given)."""
    section, identity = path.split(".")
    material, thick = getattr(record, name), [size for size in sizes if getattr(record, size)]
    if thick and not material:
        blamed = view.blamed(path, thick[0], name)
        number = f"{getattr(record, thick[0]):g}"
        given = f"is {number} and {name} is empty"
        if blamed != f"{path}.{thick[0]}":
            given = f"is empty and {thick[0]} is {number}"
        remedy = f"name it in {name}, or set {thick[0]} to 0"
        yield view.origins.at(blamed, given, "a thickness needs a material", remedy)
    elif material and not thick and not set(sizes) & set(view.raw[section][identity]):
        given, allowed = f"is {shown(material)}, without a thickness", "a material needs one"
        yield view.origins.at(f"{path}.{name}", given, allowed, f"add {sizes[0]}")


def _shells(view: View) -> Iterable[Fault]:
    """Kinds of container whose walls, roof and floor the reference tables can tell of."""
    folder = view.origins.folder
    kinds, shells = reference_table("containers", folder), known_shells(folder)
    for identity, box in view.records("containers").items():
        if box.kind in kinds and kinds[box.kind].get("shell") not in shells:
            given = f"is {shown(box.kind)}, whose shell is not known"
            allowed, remedy = f"shells are {listed(shells)}", "fill in its reference row"
            yield view.origins.at(f"containers.{identity}.kind", given, allowed, remedy)


def _touches(view: View) -> Iterable[Fault]:
    """Boxes that touch: both of the build, each pair at one face, each face taken once."""
    mine, known = set(view.mine("containers")), set(view.raw.get("containers", {}))
    stands: dict[tuple[str, str], str] = {}  # which box stands at the face of a box
    faces: dict[frozenset[str], set[tuple[str, str]]] = {}
    for name, box in view.records("containers").items():
        for face, other in box.touches.items():
            path = f"containers.{name}.touches.{face}"
            if other not in known:
                yield view.unknown(path, other, known - {name})
                continue
            ends = {(name, face): other, (other, _OPPOSITE[face]): name}
            taken = [end for end, who in ends.items() if stands.get(end, who) != who]
            wrong = ""
            if other == name:
                wrong = "the box itself"
            elif other not in mine:
                wrong = f"which the build {shown(view.build)} does not have"
            elif faces.setdefault(frozenset((name, other)), set(ends)) != set(ends):
                wrong = "which touches it at another face too"
            elif taken:
                wrong = f"but at the {taken[0][1]} of {shown(taken[0][0])} stands another"
            if wrong:
                allowed = "a face takes one box of the build, and two boxes touch once"
                remedy = "name the box that stands there, or remove it"
                yield view.origins.at(path, f"is {shown(other)}, {wrong}", allowed, remedy)
            else:
                stands |= ends
