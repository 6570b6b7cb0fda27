"""Returns of VAT one after the other, for many scenarios. Plain scalar code, compiled."""

from __future__ import annotations

from farmcase.compiled import compiled


@compiled
def settle(due, recovered, before, every, paid_after, refunded_after, out):
    """Add up each return and pay or refund it in its month, (S, T); see `vat.settled`.

    `before` is the number of months of the first return that lie before month 0.
    """
    months = out.shape[1]
    for s in range(out.shape[0]):
        owed, back, line = due[s], recovered[s], out[s]
        first = 0
        while first < months:
            ends = first - before + every if first == 0 else first + every
            net = 0.0
            for m in range(first, min(ends, months)):
                net += owed[m] - back[m]
            last = min(ends - 1, months - 1)
            if net > 0.0:
                line[min(last + paid_after, months - 1)] -= net
            else:
                line[min(last + refunded_after, months - 1)] -= net
            first = ends
