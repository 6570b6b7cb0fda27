"""What several test modules share: the small case, and copies of it to change."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

import farmcase as fc
from farmcase.inputs.case import Case

SMALL_CASE = Path(__file__).resolve().parent / "small_case"


@pytest.fixture
def small_folder(tmp_path: Path) -> Path:
    """A copy of the small case, to be changed."""
    return Path(shutil.copytree(SMALL_CASE, tmp_path / "small_case"))


@pytest.fixture(scope="session")
def small_case() -> Case:
    """The small case as it is."""
    return fc.open_case(SMALL_CASE)
