"""Within which forces, torques and angles each touch, insertion and screw counts as good."""

from __future__ import annotations

import math

from handfast.execution.joining import EARLY, LATE, force_limit
from handfast.model.element import Element
from handfast.page.wording import place_words
from handfast.report.content import ReportInput, Row, Section, Words, filled
from handfast.report.quantities import millimetres

_TOUCHES = (
    ("no.", 0.05), ("touch", 0.25), ("contact at", 0.1), ("expected after", 0.13), ("gives up after", 0.13),
    ("speed", 0.1), ("σ of the reading", 0.12), ("hand", 0.12),
)  # fmt: skip
_INSERTIONS = (
    ("no.", 0.05), ("mate", 0.2), ("into", 0.2), ("force at most", 0.14), ("because of", 0.17),
    ("speed", 0.1), ("way in", 0.14),
)  # fmt: skip
_SCREWS = (
    ("no.", 0.05), ("mate", 0.2), ("into", 0.2), ("ends at", 0.17), ("turns", 0.13), ("good within", 0.25),
)  # fmt: skip


def windows(given: ReportInput) -> Section:
    """Touches, insertions, screws: one row an element."""
    elements = given.page.chart.body.elements
    touches = [touch_row(given, e) for e in elements if e.kind == "locate" and e.touch is not None]
    insertions = [insertion_row(given, e) for e in elements if e.kind == "assemble"]
    screws = [screw_row(given, e) for e in elements if drives(e)]
    return Section(
        "windows", "Force and torque-angle windows",
        (
            Words("Process values by which the executor judges each element, never safety limits."),
            filled("touch-windows", _TOUCHES, touches, "No touches."),
            filled("force-windows", _INSERTIONS, insertions, "No insertions."),
            filled("torque-windows", _SCREWS, screws, "No screws."),
        ),
    )  # fmt: skip


def drives(element: Element) -> bool:
    """Whether it turns a screw in, and does not only take one up."""
    return element.kind == "use" and element.leaves is not None and element.leaves.parent.startswith("part.")


def touch_row(given: ReportInput, element: Element) -> Row:
    """Of an element that has a touch."""
    touch = element.touch
    if touch is None:
        raise ValueError(f"element {element.number}: expected a touch, found none")
    ledger = given.page.ledger
    sigma = [u.sigma_reading for u in ledger.updates if u.element == element.id] if ledger else []
    return (
        str(element.number), f"{touch.held} on {touch.part}.{touch.feature}", f"{touch.force:.1f} N",
        millimetres(touch.travel), millimetres(touch.travel + touch.overtravel),
        f"{millimetres(touch.speed)}/s", f"{max(sigma) * 1e6:.0f} µm" if sigma else "not budgeted",
        element.hand,
    )  # fmt: skip


def insertion_row(given: ReportInput, element: Element) -> Row:
    """Of an `assemble` element."""
    mate = given.page.project.product.mate(element.mate)
    limit = force_limit(given.page.chart.body, mate, element.hand)
    why = "the mate's own limit" if limit == mate.force_limit else "half of what the grasp holds"
    way = "straight" if element.strategy is None else f"{element.strategy.name}: {element.strategy.text}"
    speed = given.page.project.cell.controller.insert_speed
    return (
        str(element.number), mate.name, place_words(element.target), f"{limit:.1f} N", why,
        f"{millimetres(speed)}/s", way,
    )  # fmt: skip


def screw_row(given: ReportInput, element: Element) -> Row:
    """Of a `use` element that drives."""
    mate = given.page.project.product.mate(element.mate)
    turns = (element.turns or 0.0) / (2 * math.pi)
    torque = mate.torque if element.torque is None else element.torque
    ends = f"{torque:g} N m" if element.torque is not None else f"{turns:.2f} turns, or {torque:g} N m"
    low, high = screw_turns(element)
    return (
        str(element.number), mate.name, place_words(element.target), ends, f"{turns:.2f}",
        f"{max(low, 0.0):.2f} to {high:.2f} turns ({max(low, 0.0) * 360:.0f} to {high * 360:.0f} deg)",
    )  # fmt: skip


def screw_turns(element: Element) -> tuple[float, float]:
    """Least and most turns with which a screw counts as seated."""
    turns = (element.turns or 0.0) / (2 * math.pi)
    return turns - EARLY, turns + LATE
