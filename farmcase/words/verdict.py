"""The choice in words: which build pays, by how much, and against what it was compared."""

from __future__ import annotations

from dataclasses import dataclass, field

from farmcase.words.numbers import money, percent, plain

CARRY_ON = "Carry on as now"
_THIN_SHARE = 0.1  # a lead below a tenth of the money needed is called thin


@dataclass(frozen=True)
class Facts:
    """What the verdict rests on; present values by build, carrying on being nil."""

    npv: dict[str, float]
    labels: dict[str, str]
    other_views: dict[str, dict[str, float]]  # view of own hours -> build -> npv
    scope_gaps: dict[str, list[str]]
    years: float
    rate: float
    wage: float
    currency: str
    locale: str
    money_needed: dict[str, float] = field(default_factory=dict)
    left_out: list[str] = field(default_factory=list)
    owners_npv: dict[str, float] = field(default_factory=dict)  # after loans, to the owners


def best_of(npv: dict[str, float]) -> str:
    """The build of highest present value, or "" when carrying on as now is at least as good."""
    best = max(npv, key=lambda build: npv[build])
    return best if npv[best] > 0 else ""


def verdict(facts: Facts) -> str:
    """The verdict in a few plain sentences; none where lines of the case are left out."""
    if facts.left_out:
        return (
            f"No verdict: this case leaves out {_listed(facts.left_out, 12)}, so its totals, "
            "profit and worth mean nothing."
        )
    parts = [_choice(facts), _compared(facts), _own_hours(facts), _to_owners(facts)]
    parts += [
        f"Not yet on the same scope: {facts.labels[build]} says nothing of {_listed(gaps)}."
        for build, gaps in facts.scope_gaps.items()
        if gaps
    ]
    return " ".join(part for part in parts if part)


def _choice(facts: Facts) -> str:
    def amount(value: float) -> str:
        return money(value, facts.currency, facts.locale)

    ranked = sorted(facts.npv, key=lambda build: -facts.npv[build])
    first = ranked[0]
    if not best_of(facts.npv):
        others = " and ".join(
            f"{facts.labels[b]} would lose {amount(-facts.npv[b])}" for b in ranked
        )
        return f"{CARRY_ON} is better: at the likely values {others} in today's money."
    text = (
        f"{facts.labels[first]} pays best: at the likely values it is worth "
        f"{amount(facts.npv[first])} in today's money, against nil for {CARRY_ON.lower()}"
    )
    for build in ranked[1:]:
        worth = facts.npv[build]
        tail = f"worth {amount(worth)}" if worth >= 0 else f"losing {amount(-worth)}"
        gap = amount(facts.npv[first] - worth)
        text += f", and {gap} more than {facts.labels[build]} ({tail})"
    return text + "." + _thin(facts, ranked)


def _thin(facts: Facts, ranked: list[str]) -> str:
    """A margin that is small beside the money it takes, said in words."""
    lead = facts.npv[ranked[0]] - max(0.0, *(facts.npv[b] for b in ranked[1:]), 0.0)
    needed = facts.money_needed.get(ranked[0], 0.0)
    if needed <= 0 or lead >= _THIN_SHARE * needed:
        return ""
    share = percent(lead / needed, facts.locale)
    return f" That lead is thin: {share} of the money it needs."


def _compared(facts: Facts) -> str:
    names = [*facts.labels.values(), CARRY_ON]
    wage = money(facts.wage, facts.currency, facts.locale, 2)
    return (
        f"Compared were {_listed(names)}, over {plain(facts.years, facts.locale)} years at "
        f"{percent(facts.rate, facts.locale, 1)} a year, own hours charged at {wage} an hour."
    )


def _own_hours(facts: Facts) -> str:
    headline = best_of(facts.npv)
    changed = {
        view: best_of(npv) for view, npv in facts.other_views.items() if best_of(npv) != headline
    }
    if not changed:
        return "Leaving own hours uncharged, or charging drawings, does not change the choice."
    said = [
        f"with own hours {_VIEWS[view]} it is {facts.labels.get(build, CARRY_ON)}"
        for view, build in changed.items()
    ]
    return f"The choice depends on how own hours are charged: {_listed(said)}."


def _to_owners(facts: Facts) -> str:
    """Where what is left to the owners after loans ranks the builds otherwise.

    A lease carries its finance in its payments, a purchase does not, so the two may differ.
    """
    known = {build: worth for build, worth in facts.owners_npv.items() if worth == worth}
    if not known or best_of(known) == best_of(facts.npv):
        return ""
    best, headline = best_of(known), best_of(facts.npv)
    shown = [
        f"{facts.labels[build]} {money(worth, facts.currency, facts.locale)}"
        for build, worth in known.items()
        if build in (best, headline)
    ]
    name = facts.labels.get(best, CARRY_ON)
    return f"To the owners, after all loans and leases, {name} is worth most ({_listed(shown)})."


_VIEWS = {
    "not_charged": "not charged",
    "drawings": "charged as drawings",
    "opportunity_wage": "charged at what they are worth elsewhere",
}


def _listed(names: list[str], most: int = 6) -> str:
    if len(names) > most:
        return ", ".join(names[:most]) + f" and {len(names) - most} more"
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]
