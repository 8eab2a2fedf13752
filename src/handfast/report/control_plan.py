"""The control plan: what is checked in every build, against what, by what, and what is done if it is off.

Columns follow common practice of control plans in the automotive supply trade (characteristic, specification,
method, sample, reaction; from memory). Every check is one that the executor makes; none is added by hand.
"""

from __future__ import annotations

import math

from handfast.execution.joining import force_limit
from handfast.execution.looking import LEANS, REACH
from handfast.model.element import Element
from handfast.model.jaw_limits import SLIPPED, WIDTH_OFF
from handfast.model.recovery import Recovery
from handfast.page.wording import phrase, place_words
from handfast.report.content import ReportInput, Row, Section, Words, filled
from handfast.report.quantities import millimetres
from handfast.report.windows import drives, screw_turns

_COLUMNS = (
    ("no.", 0.05), ("step", 0.2), ("characteristic", 0.16), ("specification", 0.2), ("measured by", 0.15),
    ("reaction", 0.24),
)  # fmt: skip


def control_plan(given: ReportInput) -> Section:
    """A row for each check of each element, in the order of the chart."""
    rows = [row for e in given.page.chart.body.elements for row in _checks(given, e)]
    return Section(
        "control-plan", "Control plan",
        (
            Words("Sample: every build. Where no reaction is named, or none helps, the run stops, says what "
                  "a person must do, and goes on from that element once it is done."),
            filled("control-plan", _COLUMNS, rows, "The chart has nothing that is checked."),
        ),
    )  # fmt: skip


def _checks(given: ReportInput, e: Element) -> list[Row]:
    if e.kind in ("reach", "search") and e.target.startswith("place."):
        return _seen(given, e)
    if e.kind == "grasp" and e.grasp is not None:
        return [_row(e, "width of the jaws", f"{millimetres(e.grasp.width)} ± {millimetres(WIDTH_OFF)}",
                     f"jaws of the {e.hand} hand")]  # fmt: skip
    if e.kind == "locate" and e.touch is not None:
        spec = (
            f"{e.touch.force:.1f} N at {millimetres(e.touch.travel)}, before "
            f"{millimetres(e.touch.travel + e.touch.overtravel)}"
        )
        return [_held(e), _row(e, "where contact is met", spec, _force_sense(given, e.hand))]
    if e.kind == "assemble":
        limit = force_limit(given.page.chart.body, given.page.project.product.mate(e.mate), e.hand)
        spec = f"home with at most {limit:.1f} N"
        return [_held(e), _row(e, "insertion force and depth", spec, _force_sense(given, e.hand))]
    if e.kind == "use":
        return [_screw(given, e)]
    return []


def _seen(given: ReportInput, e: Element) -> list[Row]:
    parts = {p.name for p in given.page.project.product.parts}
    cameras = given.page.project.cell.cameras
    if e.object not in parts or not cameras:
        return []
    spec = f"within {millimetres(REACH)} of its place, leaning less than {math.degrees(LEANS):.0f} deg"
    return [_row(e, f"{e.object} lies in {place_words(e.target)}", spec, f"camera {cameras[0].name}")]


def _held(e: Element) -> Row:
    spec = f"as it closed, ± {millimetres(SLIPPED)}"
    return _row(e, f"{e.object} has not slipped", spec, f"jaws of the {e.hand} hand", ())


def _screw(given: ReportInput, e: Element) -> Row:
    mate = given.page.project.product.mate(e.mate)
    if not drives(e):
        return _row(e, f"{e.object} is on the bit", "yes", f"tool {mate.tool}")
    low, high = screw_turns(e)
    torque = f"{mate.torque if e.torque is None else e.torque:g} N m"
    ends = f"{torque} reached" if e.torque is not None else f"not over {torque}"
    spec = f"{ends}, within {max(0.0, low):.2f} to {high:.2f} turns"
    return _row(e, "torque and angle", spec, f"tool {mate.tool}")


def _force_sense(given: ReportInput, hand: str) -> str:
    sensors = [s.name for s in given.page.project.cell.force_sensors if s.arm == hand]
    return f"force sensor {sensors[0]}" if sensors else f"{hand} arm (no force sensor)"


def _row(e: Element, what: str, spec: str, by: str, own: tuple[Recovery, ...] | None = None) -> Row:
    recoveries = e.recoveries if own is None else own
    said = [reaction(r) for r in recoveries]
    return str(e.number), phrase(e), what, spec, by, "; ".join([*said, "stop"])


def reaction(r: Recovery) -> str:
    """What is done, in words."""
    if r.do == "search":
        return f"{r.cause}: search beside the line, {r.times} places within {millimetres(r.reach)}"
    if r.do == "reject":
        return f"{r.cause}: put aside in {r.place}"
    if r.do == "stop":
        return f"{r.cause}: stop, {r.text}"
    times = "once" if r.times == 1 else f"up to {r.times} times"
    return f"{r.cause}: {r.do}, {times}"
