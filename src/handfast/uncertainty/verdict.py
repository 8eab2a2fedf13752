"""One plain sentence about a mate."""

from __future__ import annotations

from handfast.model.ledger import Band, Contributor


def verdict(
    target: float,
    now: Band,
    untouched: Band,
    within: Band,
    found: tuple[Contributor, ...],
    touches: int,
    reason: str,
) -> str:
    """What an engineer should take away from a row."""
    worst = f"; most of what is left is {_named(found[0])}" if found and found[0].share > 0 else ""
    if now.model_dependent:
        why = f": {reason}" if reason else ""
        return f"Not shown, the answer depends on the contact model ({_band(now)}){why}."
    if now.low >= target:
        return f"Goes in, {_band(now)} of builds{_touched(untouched, now, touches)}{worst}."
    helps = max(found, key=lambda c: c.gained_if_halved, default=None)
    fix = ""
    if helps is not None and helps.gained_if_halved > 0.0005:
        then = percent(min(1.0, now.low + helps.gained_if_halved))
        fix = f"; {helps.source} half as large would bring {then}"
    elif within.low >= target:
        fix = f"; correcting the cell on first articles would bring {percent(within.low)}"
    wanted = f"Not certain enough, {_band(now)} of builds where {percent(target)} are wanted"
    return f"{wanted}{_touched(untouched, now, touches)}{worst}{fix}."


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


def _touched(untouched: Band, now: Band, touches: int) -> str:
    if touches == 0 or now.low - untouched.low < 0.0005:
        return ""
    return f" with {'a touch' if touches == 1 else f'{touches} touches'} (without: {percent(untouched.low)})"


def _named(contributor: Contributor) -> str:
    return f"{contributor.source} ({100 * contributor.share:.0f} %)"
