"""Starting a case of one's own: a copy of the demonstration case, to be filled in."""

from __future__ import annotations

import re
from pathlib import Path

from farmcase.errors import CaseError, Fault, NotFoundError
from farmcase.inputs.estimate import shorten, shown

_PACKAGE = Path(__file__).resolve().parents[1]
_STARTER = "harbour_coop"


def starter_folder() -> Path:
    """The demonstration case that a new case starts from: the checkout's, or the installed copy.

    Raises
    ------
    NotFoundError when neither is there
    """
    for folder in (_PACKAGE.parent / "data" / "cases" / _STARTER, _PACKAGE / "starter_case"):
        if (folder / "case.toml").is_file():
            return folder
    raise NotFoundError("The demonstration case is missing: install farmcase again.")


def new_case(name: str, cases: Path | None = None) -> Path:
    """Start a case folder as a copy of the demonstration case.

    Parameters
    ----------
    name : small letters, digits and _
    cases : the folder of cases; `data/cases` of the working folder when left out

    Raises
    ------
    CaseError when the name is not allowed or the folder is there already
    """
    home = cases or Path.cwd() / "data" / "cases"
    target = home / name
    if not re.fullmatch(r"[a-z0-9_]+", name):
        given, allowed = f"is {shown(name)}", "allowed are small letters, digits and _"
        raise CaseError([Fault("new", None, "the name", given, allowed, "choose another name")])
    if target.exists():
        given, allowed = f"{name!r} is there already", "a new folder is needed"
        raise CaseError([Fault("new", None, "the case", given, allowed, "choose another name")])
    starter = starter_folder()
    try:
        target.mkdir(parents=True)
        for source in sorted(starter.iterdir()):
            if source.suffix in (".csv", ".toml"):
                (target / source.name).write_bytes(source.read_bytes())
    except OSError as error:
        given, allowed = f"cannot be made ({error.strerror})", "a folder to write in is needed"
        remedy = f"look at {shorten(str(home), 60)}"
        raise CaseError([Fault("new", None, "the case", given, allowed, remedy)]) from None
    return target
