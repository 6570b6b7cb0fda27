"""What a grant or loan programme pays of a build, item by item, and what the case still lacks."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import pandas as pd

from farmcase.inputs.case import Case
from farmcase.inputs.programmes import declaration_table, kind_of_scope, read_programme
from farmcase.model.checklist import CheckRow, Sums, check_rows
from farmcase.model.outcome import Outcome
from farmcase.model.programme_items import Desk, Line, ruled_lines, said
from farmcase.money.programmes import granted
from farmcase.words import eligibility as words
from farmcase.words.contents import KINDS
from farmcase.words.numbers import money, percent

_ITEM_COLUMNS = ["label", "kind", "amount", "ruling", "funded", "reason"]
_LACKING_COLUMNS = ["label", "need", "state", "still_wanted"]


@dataclass(frozen=True, eq=False)
class Eligibility:
    """How a build stands with a programme; rules are dated, confirm them.

    Attributes
    ----------
    programme, label : name of the programme's file, and its public name
    build : name of the build
    currency : of the case, in which all amounts are
    items : one row for each line of cost at start-month prices without VAT, likely values; columns
        label, kind, amount, ruling, funded (money), reason (a sentence)
    checklist : one row for each content of an application; columns label, need, state,
        still_wanted, is_asked_for
    granted : money: share and ceiling applied to what is funded; NaN where it is not known
    granted_with_evidence : the same with all evidence that is still wanted
    granted_in_words : how `granted` comes about, or why there is none
    declarations : public aid that counts together; columns label, ceiling, currency, years,
        in_words, source
    rules : every fact that was read; columns says, mark, source, address, date
    cautions : sentences to be read with the rest
    """

    programme: str
    label: str
    build: str
    currency: str
    items: pd.DataFrame
    checklist: pd.DataFrame
    granted: float
    granted_with_evidence: float
    granted_in_words: str
    declarations: pd.DataFrame
    rules: pd.DataFrame
    cautions: tuple[str, ...]

    @property
    def whole(self) -> float:
        """All lines of cost."""
        return float(self.items["amount"].sum())

    @property
    def funded(self) -> float:
        """Money that counts as the case stands."""
        return self._sum(words.FUNDED)

    @property
    def wanting_evidence(self) -> float:
        """Money that may count once evidence is there."""
        return self._sum(words.WANTS_EVIDENCE)

    @property
    def refused(self) -> float:
        """Money that does not count: refused, or not fundable under this programme."""
        return self._sum(words.REFUSED) + self.not_fundable

    @property
    def not_fundable(self) -> float:
        """The part of `refused` that this programme pays for nobody."""
        return self._sum(words.NOT_FUNDABLE)

    @property
    def lacking(self) -> pd.DataFrame:
        """Contents that are asked for and not there, with what would satisfy each."""
        rows = self.checklist
        short = rows["is_asked_for"] & rows["state"].isin([words.IN_PART, words.NOT_SEEN])
        return rows.loc[short, _LACKING_COLUMNS]

    def _sum(self, ruling: str) -> float:
        return float(self.items.loc[self.items["ruling"] == ruling, "amount"].sum())


def eligibility(
    case: Case, programme: str, build: str | None = None, outcome: Outcome | None = None
) -> Eligibility:
    """Hold a build against a programme's rules and checklist.

    Parameters
    ----------
    case : the case
    programme : name of a file of `data/reference/programmes` or of the case's own
    build : name of a build; the first of the case when left out, which is then said
    outcome : a run of the case, for its running costs of the first settled year; without one only
        overheads are counted as running costs, which is said

    Raises
    ------
    NotFoundError when there is no such programme or build
    CaseError when the programme's file has faults
    """
    name = next(iter(case.builds)) if build is None else build
    rules, scope = read_programme(programme, case.folder), kind_of_scope(case.folder)
    desk = Desk(case.for_build(name), name, programme, rules, scope)
    lines = ruled_lines(desk, outcome)
    sums, in_words = _granted(desk, lines)
    first = [words.first_build(case.builds[name].label, len(case.builds))]
    return Eligibility(
        programme=programme,
        label=rules.label,
        build=name,
        currency=case.heading.currency,
        items=_item_table(lines),
        checklist=_check_table(check_rows(desk, sums)),
        granted=sums.granted,
        granted_with_evidence=sums.granted_with_evidence,
        granted_in_words=in_words,
        declarations=_declarations(desk, sums),
        rules=_rule_table(desk),
        cautions=(
            words.CONFIRM,
            *(first if build is None and len(case.builds) > 1 else []),
            *_cautions(desk, lines, sums),
        ),
    )


def _amount(lines: list[Line], *rulings: str) -> float:
    return sum(line.amount for line in lines if line.ruling in rulings)


def _granted(desk: Desk, lines: list[Line]) -> tuple[Sums, str]:
    """What is granted, now and with all evidence, and the sentence on it."""
    funded = _amount(lines, words.FUNDED)
    wanting = _amount(lines, words.WANTS_EVIDENCE)
    whole = sum(line.amount for line in lines)
    unknown = Sums(funded, wanting, whole, math.nan, math.nan)
    rules, locale = desk.programme.rules, desk.case.heading.locale
    theirs, ours = desk.programme.currency, desk.case.heading.currency
    none = "" if funded else words.nothing_granted(desk.programme.label) + " "
    if desk.programme.kind == "loan":
        return unknown, words.loan_no_grant()
    if rules.grant_share is None:
        return unknown, none + words.share_unknown()
    if rules.amount is not None and not desk.same_currency:
        return unknown, none + words.other_currency(theirs, ours)
    share, limit = rules.grant_share.share, rules.amount
    least = limit.least if limit is not None else 0.0
    most = limit.most if limit is not None and limit.most is not None else math.inf
    now = granted(funded, share, least, most)
    then = granted(funded + wanting, share, least, most)
    if funded == 0:
        text = none.strip()
    elif now == 0:
        text = words.below_least(money(share * funded, ours, locale), money(least, ours, locale))
    else:
        counted, shown = money(funded, ours, locale), money(now, ours, locale)
        text = words.granted(shown, percent(share, locale), counted, now < share * funded)
    if then > now:
        text += words.with_evidence(money(then, ours, locale))
    return Sums(funded, wanting, whole, now, then), text


def _item_table(lines: list[Line]) -> pd.DataFrame:
    rows = [
        {
            "label": line.label,
            "kind": KINDS[line.kind],
            "amount": line.amount,
            "ruling": line.ruling,
            "funded": line.amount if line.ruling == words.FUNDED else 0.0,
            "reason": line.reason,
        }
        for line in lines
    ]
    names = pd.Index([line.identity for line in lines], name="item")
    return pd.DataFrame(rows, index=names, columns=_ITEM_COLUMNS)


def _check_table(rows: list[CheckRow]) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=list(CheckRow._fields)).set_index("content")


def _declarations(desk: Desk, sums: Sums) -> pd.DataFrame:
    """Ceilings on public aid; compared where the grant is known and in the same currency."""
    known, heading = declaration_table(desk.case.folder), desk.case.heading
    rows = {}
    for name in desk.programme.declarations:
        row = known[name]
        most, currency = float(row["amount"]), row["currency"]
        ceiling = money(most, currency, heading.locale)
        grant = sums.granted_with_evidence
        if currency != heading.currency or math.isnan(grant):
            text = words.declared_not_compared(ceiling)
        elif grant > most:
            text = words.over_ceiling(ceiling)
        else:
            text = words.declared(ceiling, money(grant, currency, heading.locale))
        rows[name] = {
            "label": row["label"],
            "ceiling": most,
            "currency": currency,
            "years": int(row["years"]),
            "in_words": f"{text}. {row['says']}.",
            "source": row["source"],
        }
    columns = ["label", "ceiling", "currency", "years", "in_words", "source"]
    return pd.DataFrame.from_dict(rows, orient="index", columns=columns)


def _rule_table(desk: Desk) -> pd.DataFrame:
    rows = {}
    for place, fact in desk.programme.all_facts().items():
        source = desk.programme.sources.get(fact.source)
        told = (source.title, source.address, source.date) if source else (fact.source, "", "")
        rows[place] = [fact.says, fact.mark, *told]
    columns = ["says", "mark", "source", "address", "date"]
    return pd.DataFrame.from_dict(rows, orient="index", columns=columns)


def _cautions(desk: Desk, lines: list[Line], sums: Sums) -> Iterator[str]:
    programme, heading = desk.programme, desk.case.heading
    yield words.dated(programme.label, programme.text_date, programme.note)
    yield words.for_applicants_of(programme.jurisdiction, desk.case.who.country)
    if not desk.same_currency:
        yield words.other_currency(programme.currency, heading.currency)
    if programme.rules.paid_in_arrears is not None:
        yield said(programme.rules.paid_in_arrears) + "."
    limit = programme.rules.ineligible_costs
    out = 1 - (sums.funded + sums.wanting) / sums.whole if sums.whole else 0.0
    if limit is not None and out > limit.most_share:
        yield words.too_much_ineligible(percent(out, heading.locale), said(limit))
    yield from _kept(desk, lines)
    yield from _other_than_the_case(desk)


def _kept(desk: Desk, lines: list[Line]) -> Iterator[str]:
    """Items that are paid and do not stay as long as they must."""
    rule = desk.programme.rules.kept
    if rule is None:
        return
    may_be_paid = (words.FUNDED, words.WANTS_EVIDENCE)
    rows = [line.row for line in lines if line.row is not None and line.ruling in may_be_paid]
    short = sum(row.life_years.likely < rule.years for row in rows)
    if short:
        yield words.shorter_lives(short, rule.years)
    for name, move in desk.case.moves.items():
        if move.funded_items_leave:
            yield words.funded_items_moved(move.label or name)


def _other_than_the_case(desk: Desk) -> Iterator[str]:
    """Where the grants that the case names for this programme count on more than it gives."""
    rules, locale = desk.programme.rules, desk.case.heading.locale
    for name, grant in desk.case.grants.items():
        if grant.programme != desk.name:
            continue
        label, most = grant.label or name, rules.grant_share
        if most is not None and grant.share.likely > most.share:
            shares = (percent(grant.share.likely, locale), percent(most.share, locale))
            yield words.asks_more(*shares, label)
        if grant.second_hand_counts and rules.second_hand and not rules.second_hand.counts:
            yield words.counts_other(label, "second-hand goods")
        if grant.own_labour_counts:
            yield words.counts_other(label, "own hours")
