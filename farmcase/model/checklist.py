"""What an application to a programme has to hold, and what of it the case already has."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

from farmcase.inputs.finance import Gate
from farmcase.model.programme_items import Desk, capital_amount
from farmcase.money.programmes import age_days, match_needed
from farmcase.words import eligibility as words
from farmcase.words.contents import CONTENTS
from farmcase.words.numbers import money

_EVIDENCED = ("contract", "letter", "trial_sales")


@dataclass(frozen=True)
class Sums:
    """What the items came to, in money; the grant is NaN where it is not known."""

    funded: float
    wanting: float
    whole: float
    granted: float
    granted_with_evidence: float


class Shown(NamedTuple):
    """What the case shows of a content, and what is still asked for ("" for the usual)."""

    state: str
    ask: str = ""


class CheckRow(NamedTuple):
    """One content of the application."""

    content: str
    label: str
    need: str
    state: str
    still_wanted: str
    is_asked_for: bool


def check_rows(desk: Desk, sums: Sums) -> list[CheckRow]:
    """Every content in the order of the list, with what would satisfy it."""
    return [_row(desk, sums, content) for content in CONTENTS]


def _row(desk: Desk, sums: Sums, content: str) -> CheckRow:
    label, usual = CONTENTS[content]
    asked = desk.programme.checklist[content]
    check = _CHECKS.get(content)
    state, ask = check(desk, sums) if check else Shown(words.MADE)
    complete = state in (words.HELD, words.MADE, words.NOT_ASKED)
    wanted = [] if complete else [ask or usual]
    if asked.attach and state != words.NOT_ASKED:
        state = words.IN_PART if complete else state
        wanted.append(asked.attach)
    is_asked = asked.need != "not_seen" and state != words.NOT_ASKED
    note = "; ".join(wanted) if wanted else ask
    return CheckRow(content, label, words.NEEDS[asked.need], state, note, is_asked)


def _held(present: bool) -> Shown:
    return Shown(words.HELD if present else words.NOT_SEEN)


def _never(desk: Desk, sums: Sums) -> Shown:
    """Papers of which a case folder says nothing."""
    return Shown(words.NOT_SEEN)


def _applicant(desk: Desk, sums: Sums) -> Shown:
    who = desk.case.who
    return _held(bool(who.applicant.strip() and who.legal_form.strip()))


def _summary(desk: Desk, sums: Sums) -> Shown:
    return _held(bool(desk.case.who.about.strip() and desk.case.builds[desk.build].about.strip()))


def _market(desk: Desk, sums: Sums) -> Shown:
    rows = desk.case.sales.values()
    bare = [
        row.outlet
        for row in rows
        if row.evidence not in _EVIDENCED
        or (row.evidence == "trial_sales" and not row.evidence_date)
    ]
    if not bare:
        return _held(bool(rows))
    state = words.IN_PART if len(bare) < len(rows) else words.NOT_SEEN
    return Shown(state, words.unevidenced(list(dict.fromkeys(bare))))


def _cost_list(desk: Desk, sums: Sums) -> Shown:
    return _held(bool(desk.case.capital))


def _quotes(desk: Desk, sums: Sums) -> Shown:
    rows = desk.case.capital.values()
    short = [row for row in rows if row.quotes_held < _needed(desk, capital_amount(row))]
    if not short:
        return _held(bool(rows))
    state = words.IN_PART if any(row.quotes_held for row in rows) else words.NOT_SEEN
    return Shown(state, words.lacking_quotes(len(short)))


def _needed(desk: Desk, amount: float) -> int:
    """Quotes an item needs; one where the programme asks for quotes and says no number."""
    needed = desk.quotes_needed(amount)
    return 1 if needed is None else needed


def _match(desk: Desk, sums: Sums) -> Shown:
    case, rules = desk.case, desk.programme.rules
    covered = case.money.owners_money.likely
    covered += sum(share.amount.likely for share in case.shares.values())
    if desk.programme.kind == "grant":
        covered += sum(loan.amount.likely for loan in case.loans.values())
    if rules.own_hours_as_match is not None and rules.own_hours_as_match.counts:
        hours = sum(row.own_labour_hours.likely for row in case.capital.values())
        covered += hours * case.own_work.opportunity_wage_per_hour.likely
    if sums.granted != sums.granted:  # not known: only that there is something
        return Shown(words.IN_PART if covered else words.NOT_SEEN)
    own_share = rules.match.share if rules.match is not None else 0.0
    counted = sums.funded + sums.wanting
    needed = match_needed(counted, sums.granted_with_evidence, own_share)
    if covered >= needed:
        return Shown(words.HELD)
    state = words.IN_PART if covered else words.NOT_SEEN
    return Shown(state, words.match_short(_money(desk, covered), _money(desk, needed - covered)))


def _work_plan(desk: Desk, sums: Sums) -> Shown:
    if desk.programme.rules.nothing_before_award is None:
        return Shown(words.MADE)
    return _held(desk.award_month is not None)


def _claims(desk: Desk, sums: Sums) -> Shown:
    return _held(any(grant.programme == desk.name for grant in desk.case.grants.values()))


def _projections(desk: Desk, sums: Sums) -> Shown:
    rule = desk.programme.rules.projections
    years = 2 if rule is None else rule.years
    return Shown(words.MADE if desk.case.heading.horizon_months >= 12 * years else words.NOT_SEEN)


def _opening_balance(desk: Desk, sums: Sums) -> Shown:
    date, rule = desk.case.standing.balance_sheet_date, desk.programme.rules.balance_sheet
    if not date or rule is None:
        return _held(bool(date))
    age = age_days(date, desk.case.heading.start_month)
    if age <= rule.most_days:
        return Shown(words.HELD)
    return Shown(words.IN_PART, words.too_old(age, rule.most_days))


def _is_new(desk: Desk) -> bool:
    standing = desk.case.standing
    return not (standing.balance_sheet_date or standing.sales_per_year.likely)


def _history(desk: Desk, sums: Sums) -> Shown:
    return Shown(words.HELD if _is_new(desk) else words.NOT_SEEN)


def _debts(desk: Desk, sums: Sums) -> Shown:
    standing = desk.case.standing
    if standing.loans_outstanding.likely or standing.creditors.likely:
        return Shown(words.IN_PART)  # totals are there, the list is not
    return _held(bool(standing.balance_sheet_date))


def _personal(desk: Desk, sums: Sums) -> Shown:
    drawings = desk.case.own_work.drawings_per_month.likely
    return _held(bool(drawings or desk.case.standing.drawings_per_year.likely))


def _feasibility(desk: Desk, sums: Sums) -> Shown:
    rule = desk.programme.rules.feasibility_study
    if rule is None:
        return Shown(words.NOT_SEEN)
    above = money(rule.above, desk.programme.currency, desk.case.heading.locale)
    if not desk.same_currency:
        return Shown(words.NOT_SEEN, words.study_in_other_currency(above))
    known = sums.granted_with_evidence == sums.granted_with_evidence
    asked_for = sums.granted_with_evidence if known else sums.whole
    if asked_for > rule.above:
        return Shown(words.NOT_SEEN)
    return Shown(words.NOT_ASKED, words.below_study(above))


def _gates(kind: str) -> Callable[[Desk, Sums], Shown]:
    """A check on the gates of one kind: none, still awaited, or there from the start."""

    def check(desk: Desk, sums: Sums) -> Shown:
        gates: list[Gate] = [gate for gate in desk.case.gates.values() if gate.kind == kind]
        awaited = [gate.label or kind for gate in gates if gate.month.high > 0]
        if awaited:
            return Shown(words.IN_PART, words.consent_awaited(awaited))
        return _held(bool(gates))

    return check


def _vat(desk: Desk, sums: Sums) -> Shown:
    return _held(desk.case.vat is not None)


def _money(desk: Desk, amount: float) -> str:
    return money(amount, desk.case.heading.currency, desk.case.heading.locale)


# A content without a check is made by this workbook.
_CHECKS: dict[str, Callable[[Desk, Sums], Shown]] = {
    "applicant": _applicant,
    "summary": _summary,
    "management": _never,
    "market": _market,
    "cost_list": _cost_list,
    "quotes": _quotes,
    "match": _match,
    "work_plan": _work_plan,
    "claims": _claims,
    "projections": _projections,
    "opening_balance": _opening_balance,
    "history": _history,
    "debts": _debts,
    "personal": _personal,
    "refusal": _never,
    "feasibility": _feasibility,
    "consents": _gates("planning"),
    "tenure": _gates("tenure"),
    "declaration": _never,
    "vat": _vat,
    "insurance": _never,
}
