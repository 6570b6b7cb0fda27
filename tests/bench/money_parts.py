"""How fast the parts of the money stage are that run in kernels of their own, a scenario each.

Run from the project's folder: .venv/bin/python tests/bench/money_parts.py
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from stages import CASE, scenarios, timed

import farmcase as fc
from farmcase.model.gather import BuildInputs
from farmcase.model.kilograms import Expander, follow_kilograms
from farmcase.model.ledger import run_ledger
from farmcase.model.measures import Measurer, most_scale, sale_year
from farmcase.model.physical import run_physical
from farmcase.money.breakeven import break_even_prices, break_even_yield, sell_at
from farmcase.money.returns import modified_rate, npv, payback_periods, single_rate
from farmcase.money.sales import SaleTerms, sell

ROWS = 256


def parts(case: fc.Case, build: str) -> dict[str, Callable[[], object]]:
    """Each part on the same scenarios, every money input varied."""
    physical = run_physical(BuildInputs(case, build, {}))
    table = scenarios(case, "money", ROWS)
    inputs = BuildInputs(case, build, {str(path): table[path].to_numpy(float) for path in table})
    group, ones = np.zeros(ROWS, np.int64), np.ones(ROWS)
    expand = Expander(inputs, group)
    ledger = run_ledger(inputs, physical, group)
    measurer = Measurer(inputs, physical, ledger, group)
    flow, rate, levels = measurer.flow, np.array(measurer.rate), ledger.levels
    year, most = sale_year(measurer), most_scale(measurer)
    fields = ("price_per_kg", "fee_share", "packaging_per_kg", "delivery_per_kg")
    trips = inputs.column("sales", "deliveries_per_week")
    terms = SaleTerms(
        *(inputs.column("sales", name) for name in fields),
        trips_per_week=trips * inputs.column("sales", "cost_per_delivery"),
        delay_days=inputs.column("sales", "payment_delay_days"),
    )
    supply = ledger.kilograms.supply()
    return {
        "picked, graded, limits, order": lambda: follow_kilograms(inputs, physical, expand),
        "outlets filled, money, delays": lambda: sell(
            supply, terms, expand.days, levels["sales"], levels["general"]
        ),
        "present value": lambda: npv(rate, flow),
        "rate of return": lambda: single_rate(flow),
        "modified rate": lambda: modified_rate(flow, rate, rate),
        "payback": lambda: payback_periods(flow),
        "break-even yield": lambda: break_even_yield(year, most),
        "break-even price": lambda: break_even_prices(year),
        "sold at break-even": lambda: sell_at(year, ones, ones),
    }


def main() -> None:
    """Print the figures."""
    case = fc.open_case(CASE)
    total = 0.0
    for name, work in parts(case, next(iter(case.builds))).items():
        spent = timed(work, 25) / ROWS * 1e6
        total += spent
        print(f"{name:32s} {spent:6.2f} us a scenario")
    print(f"{'all of these':32s} {total:6.2f} us a scenario")


if __name__ == "__main__":
    main()
