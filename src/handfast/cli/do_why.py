"""handfast why."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

from handfast.checking.checked_project import CheckedProject
from handfast.cli.exit_codes import YES, UnusableError
from handfast.cli.open_project import open_project
from handfast.cli.saved_records import maybe, must_be_of, need
from handfast.cli.screen import say, say_json
from handfast.model.chart import Chart
from handfast.model.no_plan import NoPlan
from handfast.workflow.explain_chart import others, why

if TYPE_CHECKING:
    from handfast.planning.alternatives import Alternative, Alternatives, Held


def do_why(folder: str, mate: str, as_json: bool) -> int:
    """Why a mate is done as it is, or why it cannot be: about the last plan."""
    checked = open_project(folder)
    no = maybe(folder, "no-plan", NoPlan)
    _must_be_a_mate(checked, mate)
    if no is not None:
        text, found = why(checked, no, mate), None
    else:
        chart = need(folder, "chart", Chart)
        must_be_of(checked.project, chart, folder)
        text, found = why(checked, chart, mate), others(checked, chart, mate)
    if as_json:
        told = {} if found is None else asdict(found)
        say_json("why", {"mate": mate, "planned": no is None, "answer": text, **told})
    else:
        say(text)
        if found is not None:
            _tell(found)
    return YES


def _must_be_a_mate(checked: CheckedProject, mate: str) -> None:
    names = [m.name for m in checked.project.product.mates]
    if mate not in names:
        raise UnusableError(f"--mate {mate}: expected one of {', '.join(names)}")


def _tell(found: Alternatives) -> None:
    if found.given:
        say("order: as the product gives it")
    elif found.after:
        say(f"order: after {', '.join(found.after)}, whose parts it is joined to or which it says it needs")
    else:
        say("order: nothing has to be done before it")
    for held in found.held:
        say(_grasp(held))
    say("routes, from where things stood then:")
    for route in found.routes:
        say(f"  {route.route:<24} {_verdict(route, found)}")
        for c in route.causes:
            say(f"      {c.count:>5}  {c.cause}" + (f"; nearest: {c.nearest}" if c.nearest else ""))


def _grasp(held: Held) -> str:
    on = " and ".join(held.features)
    which = f"; number {held.rank} of {held.of} grasps, in the order they are looked at" if held.rank else ""
    return (
        f"grasp: {held.hand} hand on {on} of {held.item}, zone {held.zone}, jaws {held.width * 1e3:.1f} mm "
        f"apart; slips at {held.slip_force:.0f} N or {held.slip_torque:.2f} N m{which}"
    )


def _verdict(route: Alternative, found: Alternatives) -> str:
    cost = f"reckoned at {route.cost_s:.0f} s"
    if not route.works:
        return "does not work:"
    fell = "; what fell out before it:" if route.causes else ""
    if route.chosen:
        cheaper = [r for r in found.routes if r.cost_s < route.cost_s and r.works]
        if cheaper:
            return f"chosen, {cost}; a cheaper one is kept from the chart by what comes before or after{fell}"
        return f"chosen, {cost}: none that works is cheaper{fell}"
    return f"works too, {cost}{fell}"
