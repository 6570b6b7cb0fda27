"""A small writer of SVG, and how boxes, rooms, racks, doors and sizes are drawn with it."""

from __future__ import annotations

from html import escape
from typing import Any

from farmcase.climate.floorplan import BoxPlan, Rect, RoomPlan
from farmcase.output.theme import FONT, INK, QUIET, even_lines
from farmcase.words import floor_plan as say
from farmcase.words.numbers import plain

STEEL, LINING, RACK, PLACE = "#6B6F73", "#E2DCCB", "#D8C39A", "#FFFFFF"
WAY = "#FFFFFF"
FLOORS = {"fruiting": "#E3F0EA", "spawn_run": "#E6E3EE", "cold_store": "#DCEBF6"}
_LETTER = 6.2  # width of a letter of 12 px


class Sheet:
    """A page of SVG with a title, to which shapes are added."""

    def __init__(self, width: float, height: float, title: str, note: str) -> None:
        self.width, self.height, self.title = width, height, title
        self.shapes: list[str] = []
        lines = even_lines(title, int(width / 8.2))
        for i, line in enumerate(lines):
            self.text(5, 20 + 20 * i, line, size=16, bold=True, anchor="start")
        self.text(5, 21 + 20 * len(lines), note, color=QUIET, anchor="start")

    def add(self, tag: str, inside: str = "", **attributes: Any) -> None:
        """One element; numbers are written with at most two decimals."""
        said = " ".join(
            f'{name.rstrip("_").replace("_", "-")}="{_number(value)}"'
            for name, value in attributes.items()
        )
        self.shapes.append(f"<{tag} {said}>{inside}</{tag}>" if inside else f"<{tag} {said}/>")

    def rect(self, at: tuple[float, float], size: tuple[float, float], **look: Any) -> None:
        """A box by its corner and size in px."""
        self.add("rect", x=at[0], y=at[1], width=size[0], height=size[1], **look)

    def line(self, a: tuple[float, float], b: tuple[float, float], **look: Any) -> None:
        """A line between two points in px."""
        look = {"stroke": INK, "stroke_width": 1, **look}
        self.add("line", x1=a[0], y1=a[1], x2=b[0], y2=b[1], **look)

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: int = 12,
        bold: bool = False,
        color: str = INK,
        anchor: str = "middle",
        turned: bool = False,
    ) -> None:
        """Words at a point in px."""
        more = {"transform": f"rotate(-90 {_number(x)} {_number(y)})"} if turned else {}
        weight = "bold" if bold else "normal"
        self.add(
            "text",
            escape(words),
            x=x,
            y=y,
            font_family=FONT,
            font_size=size,
            font_weight=weight,
            fill=color,
            text_anchor=anchor,
            **more,
        )

    def span(self, a: float, b: float, y: float, words: str) -> None:
        """A dimension along x: a line with ticks at both ends and its length beside it."""
        self.line((a, y), (b, y), stroke=QUIET)
        for x in (a, b):
            self.line((x - 3, y + 3), (x + 3, y - 3), stroke=QUIET)
        self.text((a + b) / 2, y - 5, words, size=11, color=QUIET)

    def rise(self, a: float, b: float, x: float, words: str) -> None:
        """A dimension along y."""
        self.line((x, a), (x, b), stroke=QUIET)
        for y in (a, b):
            self.line((x - 3, y + 3), (x + 3, y - 3), stroke=QUIET)
        self.text(x - 6, (a + b) / 2, words, size=11, color=QUIET, turned=True)

    def scale_bar(self, x: float, y: float, scale: float, locale: str) -> None:
        """A bar of two metres, each half of another tone."""
        for i, fill in enumerate((INK, "#FFFFFF")):
            self.rect((x + i * scale, y), (scale, 7), fill=fill, stroke=INK)
        for i in range(3):
            words = plain(i, locale) if i < 2 else say.metres(plain(i, locale))
            self.text(x + i * scale, y + 21, words, size=11, color=QUIET)

    def svg(self) -> str:
        """The page as SVG."""
        w, h = _number(self.width), _number(self.height)
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}" height="{h}" '
            f'viewBox="0 0 {w} {h}" role="img" aria-label="{escape(self.title)}">'
        )
        page = f'<rect width="{w}" height="{h}" fill="#FFFFFF"/>'
        return "".join([head, page, *self.shapes, "</svg>"])


def _number(value: object) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)


class Pen:
    """Turns metres of one box into px of the page."""

    def __init__(self, sheet: Sheet, x: float, y: float, scale: float) -> None:
        self.sheet, self.x, self.y, self.scale = sheet, x, y, scale

    def at(self, x_m: float, y_m: float) -> tuple[float, float]:
        """A point in px."""
        return self.x + x_m * self.scale, self.y + y_m * self.scale

    def rect(self, rect: Rect, **look: Any) -> None:
        """A box given in metres."""
        size = rect.length_m * self.scale, rect.width_m * self.scale
        self.sheet.rect(self.at(rect.x_m, rect.y_m), size, **look)


def draw_box(
    sheet: Sheet,
    box: BoxPlan,
    labels: dict[str, tuple[str, str]],
    x: float,
    y: float,
    scale: float,
    locale: str,
) -> None:
    """One box with its rooms, dimensions and names; (x, y) is its corner on the page."""
    pen, outside = Pen(sheet, x, y, scale), box.outside
    right, bottom = pen.at(outside.length_m, outside.width_m)
    if box.is_area:
        pen.rect(outside, fill="#FAFAF7", stroke=QUIET, stroke_dasharray="7 4")
    else:
        pen.rect(outside, fill=STEEL)
        pen.rect(box.inside, fill=LINING if box.rooms else PLACE)
        name = say.box(labels[box.name][0], _length(outside.length_m, locale))
        sheet.text((x + right) / 2, y - 8, name, bold=True)
        _box_doors(pen, box)
    sheet.rise(y, bottom, x - 12, _length(outside.width_m, locale))
    for room in box.rooms:
        label, kind = labels[room.name]
        _room(pen, room, kind, box.is_area)
        _names(pen, room, label, bottom, locale, box.is_area)


def _length(metres: float, locale: str) -> str:
    return say.metres(plain(metres, locale, 2))


def _box_doors(pen: Pen, box: BoxPlan) -> None:
    """The two leaves of the box's own doors, shut, at its right end."""
    middle, end = box.outside.width_m / 2, box.outside.length_m + 2 / pen.scale
    for side in (-1, 1):
        hinge, tip = middle + side * box.door_width_m / 2, middle + side * 0.03
        pen.sheet.line(pen.at(end, hinge), pen.at(end, tip), stroke=INK, stroke_width=4)


def _room(pen: Pen, room: RoomPlan, kind: str, is_area: bool) -> None:
    if not is_area:
        pen.rect(room.floor, fill=FLOORS.get(kind, "#FFFFFF"), stroke=INK, stroke_width=1.2)
    for rack in room.racks:
        pen.rect(rack, fill=RACK, stroke=QUIET, stroke_width=0.8)
    for place in room.places:
        pen.rect(place, class_="place", fill=PLACE, stroke=QUIET, stroke_width=0.7)
    if room.doorway is not None:
        _door(pen, room, room.doorway)


def _door(pen: Pen, room: RoomPlan, way: Rect) -> None:
    """The doorway through the wall, the leaf and the quarter it sweeps into the room."""
    pen.rect(way, fill=WAY)
    if room.door == "below":
        wide, edge = way.length_m, way.y_m
        hinge, shut, tip = (way.x_m, edge), (way.x_m + wide, edge), (way.x_m, edge - wide)
        sweep = 1
    else:
        wide, from_left = way.width_m, room.door == "left"
        edge = way.x_m + (way.length_m if from_left else 0.0)
        hinge, shut = (edge, way.y_m), (edge, way.y_m + wide)
        tip, sweep = ((edge + wide, way.y_m), 1) if from_left else ((edge - wide, way.y_m), 0)
    pen.sheet.line(pen.at(*hinge), pen.at(*shut), stroke=WAY, stroke_width=2)
    pen.sheet.line(pen.at(*hinge), pen.at(*tip), stroke=INK, stroke_width=1.6)
    (x1, y1), (x2, y2), r = pen.at(*tip), pen.at(*shut), wide * pen.scale
    path = f"M{_number(x1)},{_number(y1)}A{_number(r)},{_number(r)},0,0,{sweep},"
    path += f"{_number(x2)},{_number(y2)}"
    pen.sheet.add("path", d=path, fill="none", stroke=QUIET, stroke_dasharray="3 2")


def _names(pen: Pen, room: RoomPlan, label: str, bottom: float, locale: str, is_area: bool) -> None:
    """Length, name, area and places of a room under its box; of an area inside it."""
    floor, sheet = room.floor, pen.sheet
    left, right = pen.at(floor.x_m, 0)[0], pen.at(floor.x_m + floor.length_m, 0)[0]
    sheet.span(left, right, bottom + 22, _length(floor.length_m, locale))
    letters = max(8, int((right - left + 8) / _LETTER))
    lines = [(line, True) for line in even_lines(label, letters)]
    area = say.square_metres(plain(floor.length_m * floor.width_m, locale, 1))
    count = plain(room.places_counted, locale)
    said = [area, say.on_levels(count, room.levels)] if room.places else [area]
    lines += [(line, False) for text in said for line in even_lines(text, letters)]
    top = bottom + 40
    for i, (line, bold) in enumerate(lines):
        color = INK if bold else QUIET
        sheet.text((left + right) / 2, top + 14 * i, line, bold=bold, color=color)
