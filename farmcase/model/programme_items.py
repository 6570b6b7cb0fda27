"""What a build costs, line by line, and what a programme's rules make of each line."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from farmcase.inputs.case import Case
from farmcase.inputs.finance_checks import gate_names
from farmcase.inputs.programme_rules import Fact, Programme
from farmcase.inputs.rows import CapitalRow
from farmcase.model.cost_rows import cost_rows
from farmcase.model.outcome import Outcome
from farmcase.money.programmes import first_payment, open_months, quotes_needed, vat_parts
from farmcase.words import eligibility as words
from farmcase.words.contents import KINDS

_SEVERITY = (words.FUNDED, words.WANTS_EVIDENCE, words.REFUSED, words.NOT_FUNDABLE)
_ALLOWANCES = dict(
    zip(("funded", "conditional", "refused", "not_fundable"), _SEVERITY, strict=True)
)
_TIMES_A_YEAR = {"month": 12, "quarter": 4, "year": 1, "once": 1}
_PART_KINDS = {"selling": "selling_costs", "overheads": "overheads"}  # the rest grows the crop

Finding = tuple[str, str]  # ruling and why


@dataclass(frozen=True)
class Line:
    """One line of cost in money of the start month, without VAT, and its ruling."""

    identity: str
    label: str
    kind: str
    amount: float
    vat: float = 0.0
    row: CapitalRow | None = None
    ruling: str = ""
    reason: str = ""


@dataclass(frozen=True)
class Desk:
    """What the rules are held against: the case as a build sees it, and the programme."""

    case: Case
    build: str
    name: str
    programme: Programme
    scope_kinds: dict[str, str]

    @property
    def same_currency(self) -> bool:
        """Whether amounts of the programme can be compared with those of the case."""
        return self.programme.currency == self.case.heading.currency

    @property
    def opened(self) -> dict[str, int]:
        """The month each gate opens at its likely month."""
        gates = self.case.gates
        months = {name: gate.month.likely for name, gate in gates.items()}
        return open_months(months, {n: gate_names(g.waits_for) for n, g in gates.items()})

    @property
    def award_month(self) -> int | None:
        """The month of the award: that of the grants of this programme, or of any award gate."""
        grants = list(self.case.grants.values())
        mine = [g.award_gate for g in grants if g.award_gate and g.programme == self.name]
        any_grant = [g.award_gate for g in grants if g.award_gate and not g.programme]
        of_kind = [name for name, gate in self.case.gates.items() if gate.kind == "award"]
        opened, names = self.opened, mine or any_grant or of_kind
        return max(opened[name] for name in names) if names else None

    def quotes_needed(self, amount: float) -> int | None:
        """Quotes that an item needs; the most of all bands where currencies differ."""
        rule = self.programme.rules.quotes
        if rule is None:
            return None
        bands = [(float("inf") if b.up_to is None else b.up_to, b.count) for b in rule.bands]
        if not self.same_currency:
            return max(count for _, count in bands)
        return quotes_needed(amount, bands)


def said(fact: Fact) -> str:
    """A fact's sentence, and that it is from memory where it is."""
    return fact.says + (words.FROM_MEMORY if fact.is_from_memory else "")


def capital_amount(row: CapitalRow) -> float:
    """What a row comes to at its likely values, in the case's currency."""
    return row.quantity.likely * row.unit_cost.likely * row.exchange_rate.likely


def ruled_lines(desk: Desk, outcome: Outcome | None) -> list[Line]:
    """Every line of cost of the build with its ruling; VAT last, by the ruling of its items."""
    lines = [_ruled(desk, line) for line in _lines(desk, outcome)]
    return lines + [line for line in _vat_lines(desk, lines) if line.amount]


def _lines(desk: Desk, outcome: Outcome | None) -> Iterator[Line]:
    case = desk.case
    total = 0.0
    for identity, row in case.capital.items():
        amount = capital_amount(row)
        total += amount
        kind = desk.scope_kinds.get(row.scope, "equipment")
        yield Line(identity, row.item, kind, amount, amount * row.vat_rate_share, row)
    aside = total * case.builds[desk.build].contingency_share.likely
    hours = sum(row.own_labour_hours.likely for row in case.capital.values())
    gates = sum(gate.cost.likely for gate in case.gates.values())
    wage = case.own_work.opportunity_wage_per_hour.likely
    yield Line("contingency", "Contingency", "contingency", aside)
    yield Line("own_build_hours", "Own hours of the build", "own_hours", hours * wage)
    yield Line("gate_costs", "Costs of gates", "consents", gates)
    if case.leases:
        yield _leases(case)
    yield from _running(desk, outcome)


def _leases(case: Case) -> Line:
    """All payments of all leases, service and purchase included; deposits come back."""
    amount = vat = 0.0
    for lease in case.leases.values():
        monthly = lease.payment_per_month.likely + lease.service_per_month.likely
        bought = lease.purchase_price.likely if lease.bought_at_end else 0.0
        amount += monthly * lease.term_months + bought
        vat += (monthly * lease.term_months + bought) * lease.vat_rate_share
    return Line("leases", "Leases over their terms", "leases", amount, vat)


def _running(desk: Desk, outcome: Outcome | None) -> Iterator[Line]:
    """Running costs of the first settled year, or overheads alone where there is no run."""
    if outcome is None:
        rows = desk.case.overheads.values()
        amount = sum(row.amount.likely * _TIMES_A_YEAR[row.period] for row in rows)
        yield Line("overheads", words.OVERHEADS_ONLY, "overheads", amount)
        return
    sums: dict[str, float] = {}
    for row in cost_rows(outcome[desk.build]):
        if row.part != "capital":
            own = row.part == "work" and row.group == "own hours"
            kind = "own_hours" if own else _PART_KINDS.get(row.part, "growing_costs")
            sums[kind] = sums.get(kind, 0.0) + row.amount
    for kind, amount in sums.items():
        label = f"First settled year: {KINDS[kind]}"
        yield Line(f"running_{kind}", label, kind, amount)


def _ruled(desk: Desk, line: Line) -> Line:
    findings = [*_of_project(desk), *_of_kind(desk, line)]
    if line.row is not None:
        findings += [*_of_row(desk, line.row), *_of_quotes(desk, line), *_of_award(desk, line.row)]
    return _with_worst(line, findings)


def _with_worst(line: Line, findings: list[Finding]) -> Line:
    """The line under its severest finding, with every reason of that severity."""
    ruling = max((ruling for ruling, _ in findings), key=_SEVERITY.index)
    reasons = [reason for found, reason in findings if found == ruling]
    return replace(line, ruling=ruling, reason=words.sentence(reasons))


def _of_project(desk: Desk) -> Iterator[Finding]:
    rule = desk.programme.rules.growing_projects
    if rule is not None:
        yield words.NOT_FUNDABLE, said(rule)


def _of_kind(desk: Desk, line: Line) -> Iterator[Finding]:
    if line.kind == "own_hours":
        match = desk.programme.rules.own_hours_as_match
        yield words.REFUSED, words.OWN_HOURS if match is None else said(match)
        return
    funding = desk.programme.funds.get(line.kind)
    if funding is None:
        yield words.WANTS_EVIDENCE, words.not_said(line.kind)
    else:
        yield _ALLOWANCES[funding.ruling], said(funding)


def _of_row(desk: Desk, row: CapitalRow) -> Iterator[Finding]:
    """What the row says of itself; a loan does not ask whether a grant would count it."""
    is_grant, second_hand = desk.programme.kind == "grant", desk.programme.rules.second_hand
    if is_grant and not row.grant_eligible:
        yield words.REFUSED, words.CASE_MARKS_IT
    if row.second_hand and second_hand is not None and not second_hand.counts:
        yield words.REFUSED, said(second_hand)
    if row.second_hand and second_hand is None and is_grant:
        yield words.WANTS_EVIDENCE, words.SECOND_HAND_UNKNOWN


def _of_quotes(desk: Desk, line: Line) -> Iterator[Finding]:
    rule, needed = desk.programme.rules.quotes, desk.quotes_needed(line.amount)
    if rule is None or needed is None or line.row is None or line.row.quotes_held >= needed:
        return
    held, by_value = line.row.quotes_held, len(rule.bands) > 1
    text = words.few_quotes(held, needed)
    if by_value and not desk.same_currency:
        ours = desk.case.heading.currency
        text = words.quotes_not_compared(held, needed, desk.programme.currency, ours)
    yield words.WANTS_EVIDENCE, text + (words.FROM_MEMORY if rule.is_from_memory else "")


def _of_award(desk: Desk, row: CapitalRow) -> Iterator[Finding]:
    if desk.programme.rules.nothing_before_award is None:
        return
    award = desk.award_month
    if award is None:
        yield words.WANTS_EVIDENCE, words.no_award_gate()
        return
    planned = [month for month, share in row.payments if share > 0]
    opened = desk.opened
    paid = first_payment(planned, [opened[gate] for gate in gate_names(row.gate)])
    if paid < award:
        yield words.REFUSED, words.before_award(paid, award)


def _vat_lines(desk: Desk, lines: list[Line]) -> Iterator[Line]:
    """VAT that is claimed back, then VAT that is borne, by the ruling of its items."""
    share, found = _vat_status(desk)
    recovered_in_all = 0.0
    for ruling in _SEVERITY:
        vat = sum(line.vat for line in lines if line.ruling == ruling)
        recovered, borne = vat_parts(vat, share)
        recovered_in_all += recovered
        label = words.vat_label(ruling)
        line = Line(f"vat_{_SEVERITY.index(ruling)}", label, "vat", borne)
        yield _with_worst(line, [found, (ruling, words.vat_follows(ruling))])
    back = Line("vat_claimed_back", "VAT that is claimed back", "vat", recovered_in_all)
    yield _with_worst(back, [(words.REFUSED, words.VAT_CLAIMED_BACK)])


def _vat_status(desk: Desk) -> tuple[float, Finding]:
    """The share of VAT that is claimed back, and the finding on the rest."""
    vat, rule = desk.case.vat, desk.programme.rules.vat_irrecoverable_only
    if vat is None:
        return 0.0, (words.WANTS_EVIDENCE, words.VAT_UNKNOWN)
    if vat.scheme == "farmer_flat_rate":
        return 0.0, (words.WANTS_EVIDENCE, words.FLAT_RATE)
    share = 0.0 if vat.scheme == "not_registered" else vat.recoverable_share.likely
    if rule is None:
        return share, (words.WANTS_EVIDENCE, words.not_said("vat"))
    return share, (words.FUNDED, said(rule))
