"""From what pydantic found to sentences that name file, line, value, limit and remedy."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from farmcase.errors import Fault
from farmcase.inputs.estimate import Record, shorten, shown
from farmcase.words.labels import input_label


@dataclass
class Origins:
    """Where each path of a case was read: its file and line; and what could not be read.

    `incomplete` holds the tables of which a row could not be taken, `absent` the needed columns
    that a table lacks (as "table.column") and fields that a record lacks with others (as its path):
    said once, not again for each.
    """

    places: dict[str, tuple[str, int | None]] = field(default_factory=dict)
    folder: Path | None = None
    incomplete: set[str] = field(default_factory=set)
    absent: set[str] = field(default_factory=set)
    default: str = "case.toml"

    def copy(self) -> Origins:
        """The same places, to which others can be added."""
        return replace(self, places=dict(self.places))

    def find(self, path: str) -> tuple[str, int | None]:
        """File and line of a path, or of the nearest part of it that is known."""
        parts = path.split(".")
        for length in range(len(parts), 0, -1):
            place = self.places.get(".".join(parts[:length]))
            if place:
                return place
        return (self.default, None)

    def at(self, path: str, given: str, allowed: str, remedy: str) -> Fault:
        """A fault at the place of a path, cut to what one sentence can hold."""
        file, line = self.find(path)
        what = f"{shorten(input_label(path), 40)} ({shorten(path, 60)})"
        cut = shorten(given, 90), shorten(allowed, 110), shorten(remedy, 80)
        return Fault(file, line, what, *cut)


def did_you_mean(name: str, known: Iterable[str], kind: str = "names") -> str:
    """What to do about an unknown name: the nearest known one, or the list of them."""
    names = sorted(known)
    near = difflib.get_close_matches(name[:100], names, n=1, cutoff=0.6)
    if near:
        return f"did you mean {near[0]!r}"
    return f"choose one of the known {kind}" if names else f"there are no {kind} yet: add one"


def listed(names: Iterable[str], most: int = 90) -> str:
    """Names in a row for a sentence, as many as go into `most` letters."""
    known = sorted(names)
    count = len(known)
    while count > 1 and len(", ".join(known[:count])) > most:
        count -= 1
    tail = f" and {len(known) - count} more" if len(known) > count else ""
    return (", ".join(known[:count]) or "none") + tail


def validate(
    model: type[Record], raw: Any, path: str, origins: Origins
) -> tuple[Record | None, list[Fault]]:
    """One record from raw values, or every fault in it."""
    if not isinstance(raw, Mapping):
        return None, [
            origins.at(
                path, f"is {shown(raw)}", "allowed is a section with keys", f"write it as [{path}]"
            )
        ]
    try:
        return model.model_validate(dict(raw)), []
    except ValidationError as error:
        table = path.split(".")[0]
        return None, [
            _fault(model, dict(e), path, origins)
            for e in error.errors()
            if not {f"{table}.{e['loc'][0]}", f"{path}.{e['loc'][0]}"} & origins.absent
        ]


def _fault(model: type[Record], error: dict[str, Any], path: str, origins: Origins) -> Fault:
    where = ".".join([path, *(str(part) for part in error["loc"])]).lstrip(".")
    kind, given = error["type"], f"is {shown(error['input'])}"
    context = error.get("ctx", {})
    if kind == "farmcase":
        where += f".{context['inside']}" if context["inside"] else ""
        return origins.at(where, context["given"], context["allowed"], context["remedy"])
    if kind == "missing":
        return origins.at(where, "is missing", "it must be given", "add it")
    if kind == "extra_forbidden":
        known = [f.alias or name for name, f in model.model_fields.items()]
        advice = did_you_mean(str(error["loc"][-1]), known, "keys")
        return origins.at(where, "is not a known key", f"allowed are {listed(known)}", advice)
    if kind == "literal_error":
        options = _options(str(context["expected"]))
        advice = did_you_mean(str(error["input"]), options, "words")
        return origins.at(where, given, f"allowed are {', '.join(options)}", advice)
    if kind == "string_too_short":
        return origins.at(where, "is empty", "a text must stand here", "fill it in")
    allowed, remedy = _STANDARD.get(kind, ("allowed is another kind of value", "correct it"))
    return origins.at(where, given, allowed, remedy)


def _options(expected: str) -> list[str]:
    """The words that a field allows, in the order in which they are declared."""
    words = [word.strip("'") for word in expected.replace(" or ", ", ").split(", ")]
    return ["true" if word == "True" else word for word in words]


_STANDARD = {
    "bool_type": ("allowed is yes or no (true or false in case.toml)", "write yes or no"),
    "string_type": ("allowed is text", "put it in quotation marks"),
    "int_type": ("allowed is a whole number", "write it without a decimal part or quotes"),
    "int_from_float": ("allowed is a whole number", "write it without a decimal part"),
    "dict_type": ("allowed is a table of keys and values", "write it as a section of its own"),
    "mapping_type": ("allowed is a table of keys and values", "write it as a section of its own"),
    "tuple_type": ("allowed is a list in square brackets", "write for example [1, 2, 3]"),
    "too_short": ("at least one entry is needed", "add one"),
}
