"""The built wheel, installed away from the checkout, decides a case by itself."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parents[1]
CASE = "harbour_coop"

# Python runs a module of this name at its start: this one notes every file that is opened.
NOTE_OPENED_FILES = """
import atexit, os, sys
opened = set()
sys.addaudithook(lambda event, args: event == "open" and opened.add(str(args[0])))
def tell():
    import farmcase
    with open(os.environ["OPENED_FILES"], "w", encoding="utf-8") as file:
        file.write("\\n".join([farmcase.__file__, *map(os.path.realpath, opened)]))
atexit.register(tell)
"""


def run(*command: str | Path, cwd: Path, **environment: str) -> str:
    """Run a command, show what it said if it fails, and return what it printed."""
    done = subprocess.run(
        [str(part) for part in command],
        cwd=cwd,
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        encoding="utf-8",
    )
    assert done.returncode == 0, f"{command}\n{done.stdout}\n{done.stderr}"
    return done.stdout


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with nothing but the wheel in it; the wheel is made from the sdist."""
    away = tmp_path_factory.mktemp("wheel").resolve()
    run(sys.executable, "-m", "build", "--no-isolation", "--outdir", away, CHECKOUT, cwd=away)
    (wheel,) = away.glob("farmcase-*.whl")
    (away / "site").mkdir()
    pip = (sys.executable, "-m", "pip", "install", "--quiet", "--no-deps", "--no-index")
    run(*pip, "--target", away / "site", wheel, cwd=away)
    return away / "site"


def test_wheel_holds_the_same_tables_as_the_checkout(installed: Path) -> None:
    """Reference tables and starter case in the wheel are those of data/, file by file."""
    for source, copy in [
        (CHECKOUT / "data" / "reference", installed / "farmcase" / "reference"),
        (CHECKOUT / "data" / "cases" / CASE, installed / "farmcase" / "starter_case"),
    ]:
        assert contents(source) == contents(copy) != {}


def contents(folder: Path) -> dict[str, bytes]:
    """Every file below a folder that an editor or a spreadsheet did not leave behind."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not path.name.startswith(".")
    }


def test_installed_wheel_decides_a_case(installed: Path, tmp_path: Path) -> None:
    """`decide` works on a case elsewhere, on the wheel's own code and reference tables only."""
    case = shutil.copytree(CHECKOUT / "data" / "cases" / CASE, tmp_path / "my case")
    (installed / "sitecustomize.py").write_text(NOTE_OPENED_FILES, encoding="utf-8")
    (tmp_path / "elsewhere").mkdir()

    said = run(
        sys.executable,
        *("-m", "farmcase", "decide"),
        case,
        cwd=tmp_path / "elsewhere",
        PYTHONPATH=str(installed),
        PYTHONIOENCODING="utf-8",
        OPENED_FILES=str(tmp_path / "opened.txt"),
    )

    assert said.strip()
    code, *opened = map(Path, (tmp_path / "opened.txt").read_text(encoding="utf-8").splitlines())
    assert code == installed / "farmcase" / "__init__.py"
    assert any(path.is_relative_to(installed / "farmcase" / "reference") for path in opened)
    for folder in ("data", "farmcase"):
        assert not [path for path in opened if path.is_relative_to(CHECKOUT / folder)]
    assert list((tmp_path / "elsewhere").iterdir()) == []
