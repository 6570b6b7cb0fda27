"""What must hold between the records of finance: gates, schedules, months, programmes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from farmcase.errors import Fault
from farmcase.inputs.estimate import shown
from farmcase.inputs.faults import listed
from farmcase.inputs.programmes import programme_names
from farmcase.inputs.reference import reference_table
from farmcase.inputs.steps import read_steps
from farmcase.inputs.view import View

# Fields that name gates, several with spaces between.
_GATED = {
    "capital": "gate",
    "loans": "gate",
    "leases": "gate",
    "grants": "award_gate",
    "gates": "waits_for",
}
BOOKS, NONE = "follows_books", "no_allowance"


def finance_faults(view: View) -> list[Fault]:
    """Every fault between the records of finance of one build, or of the base of the case."""
    return [*_gates(view), *_circles(view), *_tables(view), *_months(view)]


def gate_names(value: Any) -> list[str]:
    """The gates that a field names."""
    return value.split() if isinstance(value, str) else []


def _gates(view: View) -> Iterable[Fault]:
    known, mine = view.raw.get("gates", {}), view.mine("gates")
    for section, field in _GATED.items():
        records = view.mine(section) if view.build else view.raw.get(section, {})
        for identity, values in records.items():
            path = f"{section}.{identity}.{field}"
            for name in gate_names(values.get(field)):
                if name not in known:
                    yield view.unknown(path, name, known)
                elif view.build and name not in mine:
                    given = (
                        f"names {shown(name)}, which the build {shown(view.build)} does not have"
                    )
                    allowed, remedy = (
                        "both must belong to the same builds",
                        "correct one of the two",
                    )
                    yield view.origins.at(path, given, allowed, remedy)


def _circles(view: View) -> Iterable[Fault]:
    """Gates that wait for themselves by way of others."""
    waits = {n: gate_names(v.get("waits_for")) for n, v in view.raw.get("gates", {}).items()}
    for name in waits:
        seen, ahead = set(), list(waits[name])
        while ahead:
            gate = ahead.pop()
            if gate == name:
                given, allowed = "comes back to itself", "a gate waits for earlier ones only"
                path = f"gates.{name}.waits_for"
                yield view.origins.at(path, given, allowed, "take one of the names out")
                break
            if gate not in seen:
                seen.add(gate)
                ahead += waits.get(gate, [])


def known_schedules(folder: Any) -> set[str]:
    """Names of the schedules of allowances, and the two words that stand for none of them."""
    rows = reference_table("allowances", folder).values()
    return {BOOKS, NONE, *(row.get("schedule") or "" for row in rows)} - {""}


def _tables(view: View) -> Iterable[Fault]:
    """Names that must stand in a reference table."""
    folder = view.origins.folder
    schedules = known_schedules(folder)
    for identity, values in view.raw.get("capital", {}).items():
        name = values.get("tax_class")
        if isinstance(name, str) and name and name not in schedules:
            yield view.unknown(f"capital.{identity}.tax_class", name, schedules)
    programmes = programme_names(folder)
    for identity, values in view.raw.get("grants", {}).items():
        name = values.get("programme")
        if isinstance(name, str) and name and name not in programmes:
            yield view.unknown(f"grants.{identity}.programme", name, programmes)
    yield from _pools(view)
    thresholds = reference_table("thresholds", folder)
    lenders = [n for n, row in thresholds.items() if row["measure"] in COVER_MEASURES]
    single = {
        "tax.default_schedule": schedules,
        "tax.pool": {"", *schedules},
        "tax.form": set(reference_table("business_forms", folder)),
        "money.coverage_threshold": set(lenders),
    }
    for path, known in single.items():
        section, field = path.split(".")
        name = view.raw.get(section, {}).get(field)
        if isinstance(name, str) and name not in known:
            yield view.unknown(path, name, known)


COVER_MEASURES = ("operating_cash_flow_over_debt_service", "term_debt_coverage")


def _pools(view: View) -> Iterable[Fault]:
    """A schedule of a first-year share needs a pool for the rest."""
    folder, tax = view.origins.folder, view.raw.get("tax", {})
    rows = reference_table("allowances", folder).values()
    kinds = {row.get("schedule") or "": row.get("kind") for row in rows}
    used = [tax.get("default_schedule") if tax else None]
    used += [row.get("tax_class") for row in view.raw.get("capital", {}).values()] if tax else []
    asks = [str(name) for name in used if kinds.get(str(name)) == "first_year"]
    pool = tax.get("pool") or ""
    if asks and kinds.get(pool) != "pool":
        given = f"is {shown(pool)}" if pool else "is left out"
        pools = listed(name for name, kind in kinds.items() if kind == "pool")
        allowed = f"{asks[0]} needs a pool for the rest; known are {pools}"
        yield view.origins.at("tax.pool", given, allowed, "name the pool")


def _months(view: View) -> Iterable[Fault]:
    """Months that do not follow one another as they must."""
    for identity, loan in view.records("loans").items():
        if loan.grace_months >= loan.term_months:
            given = f"is {loan.grace_months}"
            allowed = f"the loan runs {loan.term_months} months, grace included"
            path = f"loans.{identity}.grace_months"
            yield view.origins.at(path, given, allowed, "shorten the grace or lengthen the term")
        stages = read_steps(loan.drawn)
        if stages and stages[-1][0] - stages[0][0] >= loan.term_months:
            given = f"ends in month {stages[-1][0]}"
            allowed = f"the loan is repaid by month {stages[0][0] + loan.term_months}"
            path = f"loans.{identity}.drawn"
            yield view.origins.at(path, given, allowed, "draw sooner or lengthen the term")
    for identity, share in view.records("shares").items():
        if share.withdrawn_month is not None and share.withdrawn_month <= share.paid_in_month:
            given = f"is {share.withdrawn_month}"
            allowed = f"later than month {share.paid_in_month}, in which it is paid in"
            path = f"shares.{identity}.withdrawn_month"
            yield view.origins.at(path, given, allowed, "correct one of the two months")
    yield from _surplus(view.parts, view)


def _surplus(parts: Mapping[str, Any], view: View) -> Iterable[Fault]:
    tax = parts.get("tax")
    if tax is None:
        return
    total = tax.price_bonus_share.high + tax.dividend_share.high
    if total > 1 + 1e-9:
        given = f"and dividend_share may add up to {total:g}"
        allowed = "price bonus and dividend together are at most 1"
        yield view.origins.at("tax.price_bonus_share", given, allowed, "lower one of them")
