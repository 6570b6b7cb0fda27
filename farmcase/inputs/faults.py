"""From what pydantic found to sentences that name file, line, value, limit and remedy."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from pydantic import ValidationError

from farmcase.errors import Fault
from farmcase.inputs.estimate import Record
from farmcase.words.labels import input_label


@dataclass
class Origins:
    """Where each path of a case was read: its file and line."""

    places: dict[str, tuple[str, int | None]] = field(default_factory=dict)
    default: str = "case.toml"

    def find(self, path: str) -> tuple[str, int | None]:
        """File and line of a path, or of the nearest part of it that is known."""
        parts = path.split(".")
        for length in range(len(parts), 0, -1):
            place = self.places.get(".".join(parts[:length]))
            if place:
                return place
        return (self.default, None)

    def at(self, path: str, given: str, allowed: str, remedy: str) -> Fault:
        """A fault at the place of a path."""
        file, line = self.find(path)
        return Fault(file, line, f"{input_label(path)} ({path})", given, allowed, remedy)


def did_you_mean(name: str, known: Iterable[str], kind: str = "names") -> str:
    """What to do about an unknown name: the nearest known one, or the list of them."""
    names = sorted(known)
    near = difflib.get_close_matches(name, names, n=1, cutoff=0.6)
    if near:
        return f"did you mean {near[0]!r}"
    return f"choose one of the known {kind}" if names else f"there are no {kind} yet: add one"


def listed(names: Iterable[str], most: int = 8) -> str:
    """Names in a row for a sentence, cut when there are many."""
    known = sorted(names)
    tail = f" and {len(known) - most} more" if len(known) > most else ""
    return (", ".join(known[:most]) or "none") + tail


def validate(
    model: type[Record], raw: Any, path: str, origins: Origins
) -> tuple[Record | None, list[Fault]]:
    """One record from raw values, or every fault in it."""
    if not isinstance(raw, Mapping):
        fault = origins.at(
            path, f"is {raw!r}", "allowed is a section with keys", "write it as a section"
        )
        return None, [fault]
    try:
        return model.model_validate(dict(raw)), []
    except ValidationError as error:
        return None, [_fault(model, dict(e), path, origins) for e in error.errors()]


def _fault(model: type[Record], error: dict[str, Any], path: str, origins: Origins) -> Fault:
    where = ".".join([path, *(str(part) for part in error["loc"])]).lstrip(".")
    kind, given = error["type"], f"is {_shown(error['input'])}"
    context = error.get("ctx", {})
    if kind == "farmcase":
        return origins.at(where, context["given"], context["allowed"], context["remedy"])
    if kind == "missing":
        return origins.at(where, "is missing", "it must be given", "add it")
    if kind == "extra_forbidden":
        known = [f.alias or name for name, f in model.model_fields.items()]
        name = str(error["loc"][-1])
        advice = did_you_mean(name, known)
        return origins.at(where, "is not a known key", f"allowed are {listed(known, 40)}", advice)
    if kind == "literal_error":
        expected = str(context["expected"])
        options = [o.strip("'") for o in expected.replace(" or ", ", ").split(", ")]
        advice = did_you_mean(str(error["input"]), options)
        return origins.at(where, given, f"allowed are {expected}", advice)
    if kind == "string_too_short":
        return origins.at(where, "is empty", "a text must stand here", "fill it in")
    allowed, remedy = _STANDARD.get(kind, ("it must be of another form", error["msg"].lower()))
    return origins.at(where, given, allowed, remedy)


def _shown(value: Any) -> str:
    text = str(value).lower() if isinstance(value, bool) else repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


_STANDARD = {
    "bool_type": ("allowed is yes or no (true or false in case.toml)", "write yes or no"),
    "string_type": ("allowed is text", "put it in quotation marks"),
    "int_type": ("allowed is a whole number", "write it without a decimal part or quotes"),
    "int_from_float": ("allowed is a whole number", "write it without a decimal part"),
    "dict_type": ("allowed is a table of keys and values", "write it as a section of its own"),
    "tuple_type": ("allowed is a list in square brackets", "write for example [1, 2, 3]"),
    "too_short": ("at least one entry is needed", "add one"),
}
