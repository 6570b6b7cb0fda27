"""Grants: a share of eligible spending up to a ceiling, paid in arrears after each claim."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


class ClaimTerms(NamedTuple):
    """How a grant is claimed and paid; months from the start."""

    award_month: int  # claims fall every so many months from here
    claim_every_months: int
    paid_after_months: int
    held_back_months: int  # after the last claim, until what is held back is paid


class Granted(NamedTuple):
    """Money of one grant by month, (S, T), positive."""

    claimed: Floats  # what becomes due with each claim
    received: Floats


def granted(
    eligible: Floats, share: Floats, ceiling: Floats, held_back: Floats, terms: ClaimTerms
) -> Granted:
    """Claims and payments of a grant.

    Parameters
    ----------
    eligible : (S, T) eligible spending as it is paid, positive
    share, held_back : (S,) of eligible spending that is granted; of each claim that waits for the
        last one
    ceiling : (S,) the most that is granted in all
    terms : when it is claimed and paid; what would come after the last month comes in it

    Notes
    -----
    Spending is claimed with the next claim after it, so a payment never comes before what it
    pays for.
    """
    last = eligible.shape[-1] - 1
    claimed, received = np.zeros(eligible.shape), np.zeros(eligible.shape)
    spent = np.flatnonzero((eligible != 0).any(0))
    so_far = eligible[:, spent].cumsum(-1)
    due = np.minimum(so_far * share[:, None], ceiling[:, None])
    due = np.diff(due, axis=-1, prepend=0.0)
    claims = [claim_month(int(m), terms, last) for m in spent]
    bought = eligible[:, spent] != 0  # scenarios do not all buy in the same months
    final = np.where(bought, np.array(claims, int), 0).max(-1, initial=0)
    final = np.minimum(final + terms.paid_after_months + terms.held_back_months, last)
    every = np.arange(len(eligible))
    for amount, claim in zip(due.T, claims, strict=True):
        paid = min(claim + terms.paid_after_months, last)
        claimed[:, claim] += amount
        received[:, paid] += amount * (1 - held_back)
        received[every, final] += amount * held_back
    return Granted(claimed, received)


def claim_month(month: int, terms: ClaimTerms, last: int) -> int:
    """The month of the claim that takes in what is paid in a month."""
    every = terms.claim_every_months
    periods = max(1, -(-(month - terms.award_month) // every))
    return min(terms.award_month + periods * every, last)


def to_repay(received: Floats, month: int, kept_months: int, pro_rata: bool) -> Floats:
    """What has to be paid back because funded things leave in a month, (S, T).

    What has been received by then goes back in that month, what comes later in its own month.

    Parameters
    ----------
    received : (S, T)
    month : month in which they leave
    kept_months : how long after the last payment they had to be kept
    pro_rata : whether only the share of the time still to run is paid back
    """
    months = np.arange(received.shape[-1])
    paid = received != 0
    begins, until = paid.argmax(-1), np.where(paid, months, 0).max(-1) + kept_months
    left = (until - month) / np.maximum(1, until - begins) if pro_rata else np.ones(len(received))
    share = np.where(month < until, np.minimum(1.0, left), 0.0)
    owed = np.where(months > month, received, 0.0)
    owed[:, month] = received[:, : month + 1].sum(-1)
    return owed * share[:, None]
