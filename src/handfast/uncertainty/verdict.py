"""One plain sentence about a mate."""

from __future__ import annotations

from handfast.model.ledger import Band, Contributor, MateRow


def verdict(target: float, row: MateRow, least: str, reason: str) -> str:
    """What an engineer should take away from a row whose figures are there.

    least: what is least likely to hold where several things must, "" for one; reason: why the answer
    depends on the contact model.
    """
    now, found = row.probability, row.contributors
    largest = max(found, key=lambda c: c.share, default=None)
    worst = f"; most of what is left is {_named(largest)}" if largest and largest.share > 0 else ""
    if row.assemblable < target:
        return (
            f"Not certain enough whatever the cell does: the drawn parts can go together in "
            f"{percent(row.assemblable)} of lots only ({_band(now)} in all)."
        )
    if row.pressing is not None and row.pressing.most > row.pressing.limit:
        p = row.pressing
        return (
            f"Not with this hand: pressing takes {p.force:.0f} N, up to {p.most:.0f} N, and it gives "
            f"{p.limit:.0f} N ({_band(now)} in all): a press, or a looser fit."
        )
    if now.model_dependent:
        why = f": {reason}" if reason else ""
        return f"Not shown, the answer depends on the contact model ({_band(now)}){why}."
    if now.low >= target:
        return f"Goes in, {_band(now)} of builds{_touched(row)}{worst}."
    wanted = f"Not certain enough, {_band(now)} of builds where {percent(target)} are wanted"
    where = f"; least likely: {least}" if least else ""
    return f"{wanted}{_touched(row)}{where}{worst}{_fix(target, row)}."


def _fix(target: float, row: MateRow) -> str:
    """What would help most, the strongest that is known."""
    helps: Contributor | None = max(row.contributors, key=lambda c: c.gained_if_halved, default=None)
    way = max(row.strategies, key=lambda s: s.probability.low, default=None)
    gain = 0.0 if helps is None else helps.gained_if_halved
    if way is not None and way.probability.low - row.probability.low > gain:
        return f"; {way.name} would bring {percent(way.probability.low)}"
    if helps is not None and gain > 0.0005:
        hoped = percent(min(1.0, row.probability.low + gain))
        return f"; {helps.source} half as large would bring about {hoped}"
    if row.probability_within.low >= target:
        return f"; correcting the cell on first articles would bring {percent(row.probability_within.low)}"
    return ""


def percent(share: float) -> str:
    """A chance in per cent with as many digits as its distance from one needs: "99.97 %"."""
    missing = 1 - share
    digits = 1
    while digits < 4 and 0 < missing < 0.5 * 10 ** -(digits + 1):
        digits += 1
    # Never round a chance up to certainty.
    shown = f"{100 * share:.{digits}f}"
    return "over 99.9999 %" if float(shown) == 100 and missing > 0 else f"{float(shown):g} %"


def _band(band: Band) -> str:
    low, high = percent(band.low), percent(band.high)
    return low if low == high else f"{low.removesuffix(' %')} to {high}"


def _touched(row: MateRow) -> str:
    untouched, touches = row.probability_untouched, len(row.touches)
    if touches == 0 or row.probability.low - untouched.low < 0.0005:
        return ""
    return f" with {'a touch' if touches == 1 else f'{touches} touches'} (without: {percent(untouched.low)})"


def _named(contributor: Contributor) -> str:
    return f"{contributor.source} ({100 * contributor.share:.0f} %)"
