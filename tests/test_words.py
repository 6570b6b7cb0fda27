"""The word list of DEVELOPERS.md holds: units end names, and one word stands for one thing."""

from __future__ import annotations

import ast
import json
import re
from pathlib import Path

import pytest

from farmcase.inputs.schema import NAMED, SINGLE, TABLES, model_of
from farmcase.words.labels import MEASURES, MONEY_LINES, SECTIONS, input_label

ROOT = Path(__file__).resolve().parents[1]
# Fields named by one word of the trade, whose unit the row or section gives.
BARE = {
    "quantity", "count", "hours", "months", "month", "share", "amount", "price", "freight",
    "minimum_order", "rack_rows", "rack_levels", "flushes_kept", "members", "quotes_held",
    "duty_by_month", "closed_by_month", "exchange_rate", "volume_response",
}  # fmt: skip
BARE_UNITS = ("money", "month", "share/year", "percent", "machines")


def tables_of(heading: str) -> list[list[str]]:
    """The rows of the tables under a heading of DEVELOPERS.md."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    part = text.split(f"## {heading}\n")[1].split("\n## ")[0]
    rows = [line.strip("| ").split(" | ") for line in part.splitlines() if line.startswith("|")]
    return [row for row in rows if not set(row[0]) <= {"-", "|"}]


def unit_endings() -> dict[str, list[str]]:
    """The unit table: unit -> endings."""
    return {row[0]: row[1].split(", ") for row in tables_of("Words") if len(row) == 2}


def number_fields() -> list[tuple[str, str, str]]:
    """Every number field: section, name, unit."""
    found = []
    for section in ("heading", *SINGLE, *NAMED, *TABLES):
        for name, field in model_of(section).model_fields.items():
            extra = field.json_schema_extra
            if isinstance(extra, dict) and extra.get("unit"):
                found.append((section, name, str(extra["unit"])))
    return found


@pytest.mark.parametrize(("section", "name", "unit"), number_fields())
def test_a_unit_ends_the_name(section: str, name: str, unit: str) -> None:
    """Quantity first, unit last, by the table of units."""
    if name in BARE or (unit.startswith(BARE_UNITS) and unit not in unit_endings()):
        return
    bare = name.removesuffix("_by_month")
    endings = unit_endings().get(unit)
    if endings is None:
        assert bare.endswith(unit.split("/")[0]) or bare.startswith(unit.split("/")[0])
        return
    ends = [f"_{bare}".endswith(f"_{ending}") for ending in endings]
    assert any(ends), f"{section}.{name} [{unit}]"


def forbidden_words() -> list[tuple[str, str]]:
    """Words not to be used, with the word to use instead."""
    rows = [row for row in tables_of("Words") if len(row) == 3 and row[0] != "word"]
    return [(bad, row[0]) for row in rows for bad in row[2].split(", ")]


def texts_for_readers() -> dict[str, str]:
    """All text that a reader sees: labels and sentences, README, notebooks, cautions, scope."""
    texts = {}
    for path in sorted((ROOT / "farmcase" / "words").glob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        strings = [n.value for n in ast.walk(tree) if isinstance(n, ast.Constant)]
        texts[path.name] = " ".join(s for s in strings if isinstance(s, str))
    texts["README.md"] = (ROOT / "README.md").read_text(encoding="utf-8")
    for path in sorted((ROOT / "notebooks").glob("*.ipynb")):
        cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
        texts[path.name] = " ".join("".join(c["source"]) for c in cells)
    for name in ("scope.csv", "cautions.csv"):
        texts[name] = (ROOT / "data" / "reference" / name).read_text(encoding="utf-8")
    for path in sorted((ROOT / "data" / "cases").glob("*/*")):
        if path.suffix in (".csv", ".toml"):
            texts[f"{path.parent.name}/{path.name}"] = path.read_text(encoding="utf-8")
    return texts


@pytest.mark.parametrize(("word", "instead"), forbidden_words())
def test_one_word_for_one_thing(word: str, instead: str) -> None:
    """No reader meets a second word for the same thing."""
    pattern = re.compile(rf"\b{re.escape(word)}s?\b", re.IGNORECASE)
    found = {name: pattern.findall(text) for name, text in texts_for_readers().items()}
    assert {name: words for name, words in found.items() if words} == {}, f"write {instead}"


def test_every_measure_and_line_has_a_label() -> None:
    """Labels begin with a capital and hold no underscore; measures have a unit."""
    for label, unit in MEASURES.values():
        assert label[0].isupper() and "_" not in label and unit
    for label in [*MONEY_LINES.values(), *SECTIONS.values()]:
        assert label and "_" not in label


def test_input_labels_read_as_words() -> None:
    """No label of an input shows an underscore or a unit's ending."""
    for section, name, _ in number_fields():
        label = input_label(f"{section}.{name}")
        assert "_" not in label, label
        assert not re.search(r"\b(kwh|kw|m2|m3|deg|wb|c|k|pa|ppm|q10)\b", label), label
