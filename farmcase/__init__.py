"""farmcase: the business case for growing mushrooms in containers.

`open_case` reads a case folder, `evaluate` runs it, `evaluate_many` runs a table of scenarios.
Everything here is loaded when it is first used.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from farmcase.choice.explore import explore
    from farmcase.errors import BalanceError, CaseError, FarmcaseError, NotFoundError
    from farmcase.inputs.case import Case
    from farmcase.inputs.folder import open_case, write_case
    from farmcase.inputs.table import input_table
    from farmcase.model.eligibility import eligibility
    from farmcase.model.evaluate import evaluate, evaluate_many
    from farmcase.model.outcome import Outcome
    from farmcase.risk.tornado import tornado

__version__ = "0.1.0"

_HOMES = {
    "BalanceError": "farmcase.errors",
    "CaseError": "farmcase.errors",
    "FarmcaseError": "farmcase.errors",
    "NotFoundError": "farmcase.errors",
    "Case": "farmcase.inputs.case",
    "open_case": "farmcase.inputs.folder",
    "write_case": "farmcase.inputs.folder",
    "input_table": "farmcase.inputs.table",
    "eligibility": "farmcase.model.eligibility",
    "evaluate": "farmcase.model.evaluate",
    "evaluate_many": "farmcase.model.evaluate",
    "explore": "farmcase.choice.explore",
    "Outcome": "farmcase.model.outcome",
    "tornado": "farmcase.risk.tornado",
}

__all__ = [
    "BalanceError",
    "Case",
    "CaseError",
    "FarmcaseError",
    "NotFoundError",
    "Outcome",
    "eligibility",
    "evaluate",
    "evaluate_many",
    "explore",
    "input_table",
    "open_case",
    "tornado",
    "write_case",
]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'farmcase' has no attribute {name!r}")
