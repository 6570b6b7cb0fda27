"""All charts by name: they take a result, compute nothing, and say their finding in the title.

`shown(chart)` makes the picture of any of them.
"""

from __future__ import annotations

from farmcase.output.break_even_chart import break_even_chart
from farmcase.output.cash_chart import cumulative_cash_chart
from farmcase.output.cost_charts import capital_chart, cost_per_kg_chart
from farmcase.output.cover_chart import debt_cover_chart
from farmcase.output.energy_charts import end_use_chart, heated_chart, season_chart
from farmcase.output.explore_chart import explore_chart
from farmcase.output.gate_chart import gate_chart
from farmcase.output.harvest_chart import harvest_chart
from farmcase.output.hour_map import hour_map, humidity_map
from farmcase.output.map_chart import price_yield_chart
from farmcase.output.monthly_cash_chart import monthly_cash_chart
from farmcase.output.plan_drawing import floor_plan
from farmcase.output.psychrometric_chart import psychrometric_chart
from farmcase.output.security_chart import security_chart
from farmcase.output.theme import Picture, rounded, shown, themed, title_of
from farmcase.output.tornado_chart import tornado_chart
from farmcase.output.worth_chart import worth_chart

__all__ = [
    "Picture",
    "break_even_chart",
    "capital_chart",
    "cost_per_kg_chart",
    "cumulative_cash_chart",
    "debt_cover_chart",
    "end_use_chart",
    "explore_chart",
    "floor_plan",
    "gate_chart",
    "harvest_chart",
    "heated_chart",
    "hour_map",
    "humidity_map",
    "monthly_cash_chart",
    "price_yield_chart",
    "psychrometric_chart",
    "rounded",
    "season_chart",
    "security_chart",
    "shown",
    "themed",
    "title_of",
    "tornado_chart",
    "worth_chart",
]
