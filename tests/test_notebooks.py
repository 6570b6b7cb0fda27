"""The notebooks as a reader meets them; nbval runs them and compares every output."""

from __future__ import annotations

import ast
import json
import re
from pathlib import Path

import pytest

FOLDER = Path(__file__).resolve().parents[1] / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))


def cells(path: Path, kind: str) -> list[dict]:
    """The cells of one kind."""
    found = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return [cell for cell in found if cell["cell_type"] == kind]


def source(cell: dict) -> str:
    """The text of a cell."""
    return "".join(cell["source"])


def test_there_are_ten_in_the_order_of_the_story() -> None:
    """Numbered from 01 without a gap."""
    assert [path.name[:2] for path in NOTEBOOKS] == [f"{i:02d}" for i in range(1, 11)]


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
class TestNotebook:
    """What holds for each of them."""

    def test_opens_with_title_promise_step_and_name(self, path: Path) -> None:
        """Title, one line of promise, the step of the flow; then the one name, once."""
        first = source(cells(path, "markdown")[0])
        assert first.startswith("# ") and "**Promise:**" in first and "Step of the flow" in first
        code = [source(cell) for cell in cells(path, "code")]
        assert re.fullmatch(r'NAME = "[a-z0-9_]+"', code[0])
        assert sum("NAME =" in text for text in code) == 1
        assert sum('"harbour_coop"' in text for text in code) == 1

    def test_cells_are_short_and_define_nothing(self, path: Path) -> None:
        """At most 15 lines, no functions, no downloads, no shell."""
        for cell in cells(path, "code"):
            text = source(cell)
            assert len([line for line in text.splitlines() if line.strip()]) <= 15
            tree = ast.parse(text)
            assert not [n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef | ast.Lambda)]
            assert not re.search(r"^[!%]|urlretrieve|requests|http", text, re.MULTILINE)

    def test_outputs_are_there_without_running(self, path: Path) -> None:
        """Every cell that ends in a value shows it, without an error, warning or random name."""
        for cell in cells(path, "code"):
            last = ast.parse(source(cell)).body[-1]
            if isinstance(last, ast.Expr):
                assert cell["outputs"], source(cell)
            for output in cell["outputs"]:
                assert output["output_type"] != "error"
                assert output.get("name") != "stderr"
                assert " at 0x" not in json.dumps(output)

    def test_every_picture_has_a_caption(self, path: Path) -> None:
        """Text stands right before or after each picture."""
        found = json.loads(path.read_text(encoding="utf-8"))["cells"]
        for i, cell in enumerate(found):
            if "charts.shown" in source(cell) and cell["cell_type"] == "code":
                around = [found[j]["cell_type"] for j in (i - 1, i + 1) if 0 <= j < len(found)]
                assert "markdown" in around
