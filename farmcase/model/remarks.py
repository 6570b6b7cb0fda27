"""The remarks of a build: everything that must be said beside its numbers."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from farmcase.crop.substrate import unit_dry_kg
from farmcase.inputs.faults import listed
from farmcase.inputs.reference import most_fill_share, threshold
from farmcase.model.build_outcome import ONE, BuildOutcome
from farmcase.model.investment import first_cost, schedules
from farmcase.model.ledger import run_ledger
from farmcase.model.members import build_hours
from farmcase.model.profit_tax import deducted, years_of
from farmcase.model.room_remarks import climate, supply
from farmcase.model.rooms import LENGTHS, filled_rooms
from farmcase.money.allowances import last_quarter_share, over_limit
from farmcase.money.returns import rates_of_return
from farmcase.money.schedules import schedule_from_rows, schedule_rows
from farmcase.words import remarks as say
from farmcase.words.numbers import money, month_name, percent, plain


def remarks(outcome: BuildOutcome, brief: bool = False) -> list[str]:
    """Every remark on a build, the weightiest first; or only those no screen may leave out."""
    parts = (_returns, _cash, _market, _rooms)
    if not brief:
        parts = (*parts, climate, _grant, _plan, _building, _timing, _taxes)
    return [sentence for part in parts for sentence in part(outcome)]


def _locale(outcome: BuildOutcome) -> str:
    return outcome.inputs.case.heading.locale


def _money(outcome: BuildOutcome, amount: float) -> str:
    heading = outcome.inputs.case.heading
    return money(amount, heading.currency, heading.locale)


def _returns(outcome: BuildOutcome) -> Iterator[str]:
    if outcome.inputs.timetable.start >= outcome.inputs.months:
        yield say.never_built()
        return
    if not np.isfinite(outcome.measure("payback_years")) and outcome.measure("money_needed") > 0:
        years = outcome.inputs.case.heading.horizon_months / 12
        yield say.never_pays_back(plain(years, _locale(outcome), 0 if years % 1 == 0 else 1))
    if outcome.paid_back_by_end_value:
        yield say.only_by_end_value()
    if outcome.months_below_again:
        yield say.below_again(
            month_name(outcome.dates[outcome.months_below_again[0]], _locale(outcome))
        )
    if outcome.measure("irr_count") > 1:
        rates = rates_of_return(outcome.ledger.lines["project_flow"][0])
        yield say.several_rates([percent(rate, _locale(outcome), 1) for rate in rates])
    if not np.isfinite(outcome.measure("break_even_output_kg_per_year")):
        yield say.no_break_even()


def _cash(outcome: BuildOutcome) -> Iterator[str]:
    overdraft = outcome.ledger.cash.overdraft[0]
    limit = outcome.inputs.case.money.overdraft_limit.likely
    if overdraft.max() > limit + 0.005:
        month = month_name(outcome.dates[int(overdraft.argmax())], _locale(outcome))
        yield say.overdraft_over(_money(outcome, overdraft.max()), _money(outcome, limit), month)
        unpaid = run_ledger(outcome.inputs, outcome.physical, ONE, "not_charged").cash
        yield say.cash_without_own_hours(_money(outcome, (unpaid.cash - unpaid.overdraft).min()))


def _grant(outcome: BuildOutcome) -> Iterator[str]:
    lines, inputs = outcome.ledger.lines, outcome.inputs
    granted = lines["grant"].sum()
    if not granted:
        return
    eligible = outcome.ledger.built.flows.eligible.sum()
    built = -sum(lines[n].sum() for n in ("capital", "contingency", "own_build_work"))
    if eligible < built - 0.005:
        yield say.grant_covers(*(_money(outcome, v) for v in (granted, eligible, built)))
    ceiling = inputs.column("grants", "ceiling").sum()
    if granted >= ceiling - 0.005:
        yield say.ceiling_reached(_money(outcome, ceiling))


def _market(outcome: BuildOutcome) -> Iterator[str]:
    year = outcome.measurer.year.months
    unsold = outcome.ledger.kilograms.filled.unsold_kg[0].sum(0)[year].sum()
    if unsold > 0.01 * outcome.measure("output_kg_per_year"):
        yield say.unsold(plain(unsold, _locale(outcome)))


def _rooms(outcome: BuildOutcome) -> Iterator[str]:
    case, locale = outcome.inputs.case, _locale(outcome)
    if case.output is None:
        yield say.tightest_limit(outcome.tightest_limit)
    for room, filled in filled_rooms(case).items():
        if filled > most_fill_share(case.folder):
            yield say.full_room(case.rooms[room].label or room, percent(filled, locale))
    yield from supply(outcome)


def _plan(outcome: BuildOutcome) -> Iterator[str]:
    case, locale = outcome.inputs.case, _locale(outcome)
    year = outcome.measurer.year.months
    days = LENGTHS[outcome.inputs.calendar]
    weekly = outcome.ledger.work.own_hours[0][year] / days[year] * 7
    available = case.own_work.hours_available_per_week.likely
    if weekly.max(initial=0.0) > available:
        yield say.too_many_hours(plain(weekly.max(), locale), plain(available, locale))
    if case.output is None:
        for crop in case.crops.values():
            dry = unit_dry_kg(crop.unit_wet_kg.likely, crop.moisture_share.likely)
            kept = sum(crop.flush_shares[: crop.flushes_kept])
            likely = float(dry) * crop.biological_efficiency_share.likely * kept
            if abs(crop.planned_kg_per_unit / likely - 1) > 0.15:
                planned = plain(crop.planned_kg_per_unit, locale, 2)
                yield say.over_planned(crop.label, planned, plain(likely, locale, 2))


def _building(outcome: BuildOutcome) -> Iterator[str]:
    inputs, locale = outcome.inputs, _locale(outcome)
    hours = build_hours(outcome)[0]
    weekly = hours * 12 / 365 * 7
    available = inputs.case.own_work.hours_available_per_week.likely
    if weekly.max() > available:
        month = month_name(outcome.dates[int(weekly.argmax())], locale)
        yield say.building_hours(plain(weekly.max(), locale), month, plain(available, locale))


def _timing(outcome: BuildOutcome) -> Iterator[str]:
    inputs, table = outcome.inputs, outcome.inputs.timetable
    labels = {name: gate.label or name for name, gate in inputs.records("gates").items()}
    if table.critical:
        gate = listed(labels[name] for name in table.as_critical)
        spare = table.spare[table.critical]
        opens = month_name(
            outcome.dates[min(table.opens[table.critical], inputs.months - 1)], _locale(outcome)
        )
        yield say.critical_gate(gate, opens, spare, table.start - table.planned_start)
    late = [row for row, month in table.ready.items() if month > table.start]
    if late:
        cost = first_cost(inputs, outcome.ledger.levels["general"])[0]
        names = list(table.ready)
        worth = sum(float(cost[names.index(row)]) for row in late)
        yield say.paid_late(len(late), _money(outcome, worth))
    if not outcome.measurer.year.whole and table.start < inputs.months:
        yield say.no_settled_year()
    for lease in inputs.records("leases").values():
        ends = table.after(lease.starts_month, lease.gate.split()) + lease.term_months - 1
        if lease.grown_in and not lease.bought_at_end and ends < inputs.months - 1:
            yield say.lease_ends(lease.label, month_name(outcome.dates[ends], _locale(outcome)))
    owed = outcome.ledger.cash.loan_balance[0, -1]
    if owed > 0.005:
        yield say.loan_left(_money(outcome, owed))


def _taxes(outcome: BuildOutcome) -> Iterator[str]:
    case = outcome.inputs.case
    rated = any(
        row.vat_rate_share
        for section in ("capital", "substrate", "sales", "overheads", "carriers", "leases")
        for row in outcome.inputs.records(section).values()
    )
    if case.vat is None and rated:
        yield say.vat_left_out()
    if case.tax is None:
        yield say.tax_left_out()
    if case.vat is not None or case.tax is not None:
        yield say.confirm_taxes()
    if case.tax is not None:
        yield from _allowances(outcome)
    repaid = -outcome.ledger.lines["grant_repaid"].sum()
    if repaid > 0:
        yield say.grant_repaid(_money(outcome, float(repaid)))


def _allowances(outcome: BuildOutcome) -> Iterator[str]:
    """Limits of schedules that spending breaks, and what the end of the case does to tax."""
    inputs, built = outcome.inputs, outcome.ledger.built
    folder, years = inputs.case.folder, years_of(inputs)
    for (name, _), additions in zip(schedules(inputs), built.flows.additions[0], strict=True):
        rows = schedule_rows(name, folder)
        if rows[0]["kind"] == "annual_limit":
            over = over_limit(additions, schedule_from_rows(rows), years).max()
            if over > 0.005:
                yield say.over_allowance(rows[0]["asset_class"], _money(outcome, float(over)))
        if rows[0]["jurisdiction"] == "US" and rows[0]["kind"] == "table":
            most = threshold("us_last_quarter_share", "high", folder)
            share = float(np.nanmax(last_quarter_share(additions, years), initial=0.0))
            if share > most:
                shown = percent(share, _locale(outcome)), percent(most, _locale(outcome))
                yield say.last_quarter(rows[0]["asset_class"], *shown)
    loss = -deducted(inputs, built, outcome.ledger.rented).end_gain[0]
    if loss > 0.005:
        yield say.loss_at_the_end(_money(outcome, float(loss)))
