"""What a trial has shown, for a person."""

from __future__ import annotations

from collections import Counter

from handfast.cli.screen import say
from handfast.model.reliability import Reliability
from handfast.model.trial import TrialReport
from handfast.page.ledger_section import chance
from handfast.workflow.rare_failures import SCALES, RareFailure

MOST_SHOWN = 5  # insertions on which the two contact solvers do not agree


def tell_rare(found: tuple[RareFailure, ...], failures: int) -> None:
    """Each mate at the scale of the errors at which it fails often enough."""
    say(
        f"errors made larger until each mate failed at least {failures} times, beside a ledger of such errors"
    )
    for r in found:
        if r.scale == 0:
            say(f"  {r.mate}: not shown: fails less often with errors up to {SCALES[-1]:g} times as large")
            continue
        low, high = 100 * r.predicted.low, 100 * r.predicted.high
        said = f"{low:.1f} %" if high - low < 0.05 else f"{low:.1f} to {high:.1f} %"
        verdict = "within a factor of two" if r.agrees else "does not agree within a factor of two"
        seen = f"{r.failed} of {r.tried} failed, {100 * r.share:.1f} %"
        say(f"  {r.mate}: {r.scale:g} times the errors: {seen}; predicted {said}: {verdict}")


def tell_trial(found: TrialReport, agreed: Reliability, took: float) -> None:
    """Mate by mate beside the prediction, with what failed."""
    how = "with touches" if found.with_touches else "without touches"
    if found.scale != 1.0:
        how += f", errors {found.scale:g} times as large"
    if found.engine:
        how += ", every insertion in the physics engine"
    say(f"{found.good_builds} of {len(found.builds)} simulated builds came out whole, {how} ({took:.0f} s)")
    _tell_cycle(found)
    placed = {t.mate: t.cause for b in found.builds for t in b.tries if t.outcome == "not tried" and t.cause}
    causes = {c.mate: c.causes for c in found.counts}
    invalid = {c.mate: c.invalid for c in found.counts}
    for m in agreed.mates:
        if m.mate in placed and m.tried == 0:
            say(f"  {m.mate}: {placed[m.mate]}")
            continue
        low, high = (f"{100 * p:.1f}" for p in m.observed)
        verdict = "agrees" if m.agrees else ("was never tried" if m.tried == 0 else "does not agree")
        say(
            f"  {m.mate}: {m.succeeded} of {m.tried} went in, {low} to {high} %; "
            f"predicted {chance(m.predicted)}: {verdict}"
        )
        for cause, count in causes.get(m.mate, ()):
            say(f"      {count:>3}  {cause}")
        if invalid.get(m.mate):
            say(f"      {invalid[m.mate]:>3}  left out: the simulated contact was not accurate enough")
    _tell_unsettled(found)
    _tell_repeats(found)
    say(f"  intervals at {100 * agreed.level:.2f} % each, so that all hold together with 95 %")


def _tell_cycle(found: TrialReport) -> None:
    """How long whole builds took, and what was recovered on the way."""
    took = sorted(b.duration_s for b in found.builds if b.whole)
    if took:
        middle, late = took[len(took) // 2], took[min(len(took) - 1, int(0.95 * len(took)))]
        if f"{took[0]:.1f}" == f"{took[-1]:.1f}":
            say(f"  cycle {middle:.1f} s, each of them")
        else:
            spread = f"half up to {middle:.1f} s, 95 % up to {late:.1f} s"
            say(f"  cycle {took[0]:.1f} to {took[-1]:.1f} s, {spread}")
    if found.with_recoveries:
        used = Counter(f"{do} ({met})" for b in found.builds for do, met in b.recoveries)
        said = ", ".join(f"{n} times {what}" for what, n in used.most_common()) or "none"
        say(f"  recoveries used: {said}; mates are counted by their first tries")


def _tell_unsettled(found: TrialReport) -> None:
    """How many steps of contact ended without balance, and where most of them."""
    steps, without = Counter[str](), Counter[str]()
    for t in (t for b in found.builds for t in b.tries):
        steps[t.mate] += t.steps
        without[t.mate] += t.unsettled
    whole, of = sum(without.values()), sum(steps.values())
    if whole:
        mate, most = without.most_common(1)[0]
        say(
            f"  {whole} of {of} steps of contact ended without balance, most of them of {mate}: {most}, "
            f"{100 * most / steps[mate]:.1f} % of its own"
        )


def _tell_repeats(found: TrialReport) -> None:
    """How far the fast contact solver and the physics engine say the same."""
    repeats = [r for b in found.builds for r in b.repeats]
    counted = [r for r in repeats if r.engine_outcome != "invalid"]
    unlike = [r for r in counted if r.outcome != r.engine_outcome]
    if repeats:
        said = "all with the same outcome" if not unlike else f"{len(unlike)} with another outcome"
        say(f"  {len(counted)} insertions repeated in the physics engine, {said}")
    if len(counted) < len(repeats):
        say(f"      {len(repeats) - len(counted):>3}  left out: the engine's contact was too soft")
    for r in unlike[:MOST_SHOWN]:
        said, engine = (c or "went in" for c in (r.cause, r.engine_cause))
        peaks = f"peak {r.peak_force:.1f} N, {r.engine_peak_force:.1f} N in the engine"
        say(f"           {r.mate}: {said}; in the engine: {engine} ({peaks})")
