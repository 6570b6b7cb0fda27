"""What can go wrong, as one family.

FarmcaseError
├── CaseError      a case folder, or a change to a case, holds faults; all are listed
├── BalanceError   a balance of the run does not close, so its result is not shown
└── NotFoundError  a case, a build, a measure or a reference row of that name is not there
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """One thing wrong with an input: where it stands, what is there, what may be there.

    Attributes
    ----------
    file : name of the file (or "scenarios" for a table of scenarios)
    line : line in that file, or None where no line exists
    what : the label and path of the input
    given : what was found there, as text
    allowed : what may stand there
    remedy : what to do about it
    """

    file: str
    line: int | None
    what: str
    given: str
    allowed: str
    remedy: str

    def sentence(self) -> str:
        """The fault as one clear sentence."""
        place = self.file if self.line is None else f"{self.file}, line {self.line}"
        text = f"{place}: {self.what} {self.given}; {self.allowed}; {self.remedy}"
        return " ".join(text.split()) + "."


class FarmcaseError(Exception):
    """Any error that farmcase raises on purpose; its text is one a reader can act on."""


class CaseError(FarmcaseError):
    """A case folder or a change to it holds one or more faults; `.faults` lists them all."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(faults)
        super().__init__("\n".join(fault.sentence() for fault in self.faults))


class BalanceError(FarmcaseError):
    """A balance (units, kilograms or cash) does not close: the run stops here."""


class NotFoundError(FarmcaseError):
    """No case, build, measure or reference row of that name."""
