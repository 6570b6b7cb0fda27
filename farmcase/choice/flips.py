"""What would change the choice: for each lever, every scale at which another choice is best.

The choices are the builds and carrying on as now, whose worth is nil. A lever is moved over a
range in steps of a twentieth of the plan, each change of the best is closed in on, and all are
listed; a choice that is best only between two steps is not seen.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from farmcase.inputs.case import Case
from farmcase.model.evaluate import evaluate_many
from farmcase.risk.levers import Lever, common_levers

_LEAST, _MOST, _STEP = 0.25, 3.0, 0.05
_CENT = 0.005
_ROUNDS = 40


@dataclass(frozen=True)
class Flip:
    """A change of the best choice as a lever is raised; "" stands for carrying on as now."""

    lever: str
    label: str
    scale: float
    below: str
    above: str


@dataclass(frozen=True)
class Flips:
    """All changes, and the levers along which the choice never changes in the range tried."""

    found: tuple[Flip, ...]
    never: tuple[Lever, ...]
    least: float
    most: float


def flips(case: Case, levers: Iterable[Lever] | None = None) -> Flips:
    """Every scale of every lever at which the choice changes.

    Parameters
    ----------
    case : the case
    levers : what is moved; price, yield, wage, tariff and build costs when left out
    """
    tried = list(common_levers(case).values() if levers is None else levers)
    names = ["", *case.builds]
    scales = [np.arange(_LEAST, min(_MOST, lever.most) + 1e-9, _STEP) for lever in tried]
    pairs = [(lever, s) for lever, row in zip(tried, scales, strict=True) for s in row]
    worth = _worth(case, pairs)
    brackets = _changes(pairs, worth)
    moved = {flip_lever.name for flip_lever, *_ in brackets}
    order = {lever.name: i for i, lever in enumerate(tried)}
    found = _settled(case, brackets)
    found.sort(key=lambda change: (order[change[0].name], change[1]))
    return Flips(
        found=tuple(
            Flip(lever.name, lever.label, scale, names[below], names[above])
            for lever, scale, below, above in found
        ),
        never=tuple(lever for lever in tried if lever.name not in moved),
        least=_LEAST,
        most=_MOST,
    )


_Bracket = tuple[Lever, float, float, int, int]  # lever, low and high scale, best below and above


def _worth(case: Case, pairs: Sequence[tuple[Lever, float]]) -> np.ndarray:
    """Worth of carrying on (nil) and of every build at each lever and scale."""
    base = {path: value for lever, _ in pairs for path, value in lever.likely.items()}
    table = pd.DataFrame([{**base, **lever.scaled(scale)} for lever, scale in pairs])
    found = evaluate_many(case, table, measures=["npv"]).to_numpy()
    return np.concatenate([np.zeros((len(pairs), 1)), found], axis=1)


def _changes(pairs: Sequence[tuple[Lever, float]], worth: np.ndarray) -> list[_Bracket]:
    best = worth.argmax(1)
    return [
        (pairs[i][0], pairs[i][1], pairs[i + 1][1], int(best[i]), int(best[i + 1]))
        for i in range(len(pairs) - 1)
        if pairs[i][0] is pairs[i + 1][0] and best[i] != best[i + 1]
    ]


def _settled(case: Case, brackets: list[_Bracket]) -> list[tuple[Lever, float, int, int]]:
    """Lever, scale, best below and best above of every change.

    Where a third choice is best at the scale at which the two of a bracket are worth the same, the
    bracket holds two changes: it is parted there.
    """
    found: list[tuple[Lever, float, int, int]] = []
    while brackets:
        scales = _close_in(case, brackets)
        worth = _worth(case, [(b[0], s) for b, s in zip(brackets, scales, strict=True)])
        parted: list[_Bracket] = []
        for bracket, scale, row in zip(brackets, scales.tolist(), worth, strict=True):
            lever, low, high, below, above = bracket
            best = int(row.argmax())
            if row[best] - row[below] <= _CENT:
                found.append((lever, scale, below, above))
            else:
                parted.append((lever, low, scale, below, best))
                parted.append((lever, scale, high, best, above))
        brackets = parted
    return found


def _close_in(case: Case, brackets: list[_Bracket]) -> np.ndarray:
    """The scale in each bracket at which its two choices are worth the same, to the cent.

    False position with the Illinois weight, all brackets at once.
    """
    low = np.array([b[1] for b in brackets])
    high = np.array([b[2] for b in brackets])
    if not brackets:
        return low
    gap_low, gap_high = _gap(case, brackets, low), _gap(case, brackets, high)
    at, last = low.copy(), np.zeros(len(brackets))
    for _ in range(_ROUNDS):
        at = (low * gap_high - high * gap_low) / (gap_high - gap_low)
        gap = _gap(case, brackets, at)
        if (np.abs(gap) < _CENT / 10).all():
            break
        up = np.sign(gap) == np.sign(gap_low)
        low, high = np.where(up, at, low), np.where(up, high, at)
        gap_low = np.where(up, gap, np.where(last == -1, gap_low / 2, gap_low))
        gap_high = np.where(up, np.where(last == 1, gap_high / 2, gap_high), gap)
        last = np.where(up, 1, -1)
    return at


def _gap(case: Case, brackets: list[_Bracket], scales: np.ndarray) -> np.ndarray:
    worth = _worth(case, [(b[0], s) for b, s in zip(brackets, scales, strict=True)])
    rows = np.arange(len(brackets))
    return worth[rows, [b[4] for b in brackets]] - worth[rows, [b[3] for b in brackets]]
