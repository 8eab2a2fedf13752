"""One mate of the ledger in full: its chain, what its error is made of, what is allowed, its touches."""

from __future__ import annotations

import math
from collections.abc import Sequence

from handfast.model.chart import Chart
from handfast.model.ledger import Band, Contributor, Limit, MateRow, Outcome
from handfast.page.ledger_section import chance, micrometres

# Smaller parts of the variance, and smaller gains, are left out.
_TELLS = 5e-5


def mate_lines(row: MateRow, chart: Chart) -> list[str]:
    """For the terminal, section by section."""
    return [
        f"{row.mate} ({row.element}{'' if row.strategy == 'straight' else f', by {row.strategy}'})",
        *_chain(row, chart),
        *_causes(row),
        *_region(row),
        *_touches(row),
        *_ends(row),
        f"chance, over all cells {chance(row.probability)}; within one, set right on first articles, "
        f"{chance(row.probability_within)}; without touches {chance(row.probability_untouched)}",
        f"chance in builds that came as far {chance(row.in_order)}; without touches "
        f"{chance(row.in_order_untouched)}",
        *(
            f"instead of {row.strategy}: {s.name}, {chance(s.probability)}, "
            f"up to {s.extra_s:.2f} s more: {s.text}"
            for s in row.strategies
        ),
        row.verdict,
    ]


def _chain(row: MateRow, chart: Chart) -> list[str]:
    """Where errors come in, in the order of the process."""
    order = {e.id: e.number for e in chart.elements}
    by_place: dict[str, list[str]] = {}
    for c in row.contributors:
        for place in c.places:
            by_place.setdefault(place, []).append(c.source)
    places = sorted(by_place, key=lambda p: (order.get(p, 0), p))
    lines = [f"  {_named(p, order):<44} {', '.join(by_place[p])}" for p in places]
    return ["the chain: where errors come in", *lines]


def _named(place: str, order: dict[str, int]) -> str:
    return f"element {order[place]}, {place}" if place in order else place


def _causes(row: MateRow) -> list[str]:
    lines = [
        f"  {100 * c.share:5.1f} %  {micrometres(c.sigma):>8}  half as large: {_gained(c)}  {c.source}, "
        f"{c.changes}{', assumed' if c.assumed else ''}"
        for c in row.contributors
        if c.share > _TELLS or c.gained_if_halved > _TELLS
    ]
    after = row.after
    return [
        f"what the error is made of: sigma {micrometres(after.sigma_major)} along the worse axis, "
        f"{micrometres(after.sigma_minor)} across it, tilt {math.degrees(after.sigma_angle):.3f} deg",
        *lines,
    ]


def _gained(contributor: Contributor) -> str:
    points = f"{100 * contributor.gained_if_halved:+.2f} points"
    return points if contributor.exact else f"about {points}"


def _region(row: MateRow) -> list[str]:
    lines = [f"what is allowed: {micrometres(row.allowed)}, {math.degrees(row.allowed_angle):.3f} deg"]
    for pair in row.pairs:
        limits = _limits(pair.limits)
        lines.append(
            f"  {pair.name}: holds in {chance(Band(pair.probability, pair.probability))} by itself "
            f"(sigma {micrometres(pair.sigma_major)}, {math.degrees(pair.sigma_angle):.3f} deg)"
        )
        lines += [f"      {limits}"] if limits else []
    if row.assemblable < 1:
        lines.append(f"  the drawn parts can go together in {100 * row.assemblable:.2f} % of lots")
    return lines


# The other end of a band is told under the name of its requirement and this.
_OTHER_ENDS = (" at least friction", " at most backlash")


def _limits(limits: Sequence[Limit]) -> str:
    """At the sure end, and then what the other end of the band allows."""
    sure = [_limit(x) for x in limits if not x.name.endswith(_OTHER_ENDS)]
    others = [
        f"with{end.removeprefix(' at')} {', '.join(_limit(x).replace(end, '') for x in of)}"
        for end in _OTHER_ENDS
        if (of := [x for x in limits if x.name.endswith(end)])
    ]
    return "; ".join([", ".join(sure), *others] if sure else others)


def _ends(row: MateRow) -> list[str]:
    """How it may end, and what jaws that close for it may do."""
    lines = [f"jaws close on {j.item} ({j.element}): {_chances(j.outcomes)}" for j in row.jaws]
    if row.outcomes:
        lines.append(f"how it may end, at the sure end: {_chances(row.outcomes)}")
    if row.pressing is not None:
        p = row.pressing
        lines.append(
            f"pressing takes {p.force:.0f} N at middle sizes, {p.most:.0f} N at the tightest; "
            f"the hand gives {p.limit:.0f} N"
        )
    return lines


def _chances(found: tuple[Outcome, ...]) -> str:
    return ", ".join(f"{o.name} {chance(Band(o.probability, o.probability))}" for o in found)


def _limit(limit: Limit) -> str:
    value = micrometres(limit.value) if limit.unit == "m" else f"{math.degrees(limit.value):.3f} deg"
    return f"{limit.name} {value}"


def _touches(row: MateRow) -> list[str]:
    if not row.touches:
        return ["touches: none"]
    before, after = micrometres(row.before.sigma_major), micrometres(row.after.sigma_major)
    return [f"touches: {', '.join(row.touches)}; sigma {before} before, {after} after"]
