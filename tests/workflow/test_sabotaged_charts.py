"""Charts that must not be run: each is refused before the cell is asked for anything."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from tests.execution.scripted_cell import ScriptedCell
from tests.proof.chart_by_hand import FOLDER, with_element
from tests.proof.faults import faster, grasp_of, leaves_of, of_kind, renumbered, shifted, with_motion

from handfast.checking.checked_project import CheckedProject
from handfast.execution.executor import execute
from handfast.execution.rehearsal import in_order, ready_at, rehearse
from handfast.execution.rounds import Rounds
from handfast.files.record_json import make_record, sha256
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.ledger import Band, Ledger
from handfast.model.product import Product
from handfast.model.project import Project
from handfast.model.scene import Attachment, Scene
from handfast.model.tightening import Stage, Tightening
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import rotation
from handfast.workflow.make_chart import is_chart, plan
from handfast.workflow.not_proven import NotProvenError
from handfast.workflow.read_project import check, load
from handfast.workflow.run_chart import run

Sabotage = Callable[[Chart], Chart]
X = np.array([1.0, 0, 0])


def but(of: str, by: str, item: str, **change: object) -> Sabotage:
    """One element otherwise."""

    def spoil(chart: Chart) -> Chart:
        return with_element(chart, of_kind(chart, of, by, item).number, **change)

    return spoil


def without(kind: str, hand: str, item: str) -> Sabotage:
    """One element left out."""

    def spoil(chart: Chart) -> Chart:
        gone = of_kind(chart, kind, hand, item)
        return renumbered(chart, [e for e in chart.elements if e is not gone])

    return spoil


def later(kind: str, hand: str, item: str, behind: tuple[str, str, str]) -> Sabotage:
    """One element after another one."""

    def spoil(chart: Chart) -> Chart:
        moved, there = of_kind(chart, kind, hand, item), of_kind(chart, *behind)
        rest = [e for e in chart.elements if e is not moved]
        at = rest.index(there) + 1
        return renumbered(chart, [*rest[:at], moved, *rest[at:]])

    return spoil


def start(item: str, parent: str | None = None, turn: float = 0.0) -> Sabotage:
    """An item elsewhere at the start, or turned about x."""

    def spoil(chart: Chart) -> Chart:
        pose = Pose.from_matrix(rotation(X, turn))
        moved = Attachment(item, parent or chart.start.of(item).parent, pose)
        return replace(chart, start=chart.start.moved(moved))

    return spoil


def missing(item: str) -> Sabotage:
    return lambda c: replace(
        c, start=Scene(tuple(a for a in c.start.attachments if a.item != item), c.start.openings)
    )


def drive(chart: Chart) -> Element:
    return next(e for e in chart.elements if e.kind == "use" and e.torque is not None)


def mate_first(chart: Chart, mate: str) -> Chart:
    """All elements of one mate before the others: its motions no longer follow each other, its part comes
    early."""
    own = [e for e in chart.elements if e.mate == mate]
    return renumbered(chart, [*own, *(e for e in chart.elements if e.mate != mate)])


def elsewhere(part: str, parent: str) -> Sabotage:
    def spoil(chart: Chart) -> Chart:
        e = next(e for e in chart.elements if e.kind == "release" and e.object == part and e.leaves
                 and e.leaves.parent.startswith("part."))  # fmt: skip
        return with_element(chart, e.number, leaves=replace(leaves_of(e), parent=parent))

    return spoil


QUICK: dict[str, tuple[Sabotage, str]] = {
    "pin never grasped": (without("grasp", "left", "pin"), "pin"),
    "right hand never takes the pin": (without("grasp", "right", "pin"), "hold"),
    "cover never grasped": (without("grasp", "left", "cover"), "hold cover"),
    "driver never taken": (without("grasp", "right", "driver"), "driver"),
    "cover let go before its screw": (
        later("use", "right", "screw", ("release", "left", "cover")), "cover"),
    "cover let go before it is home": (
        but("assemble", "left", "cover", kind="move"), "before cover-on-block"),
    "block upside down": (start("block", turn=np.pi), "turned"),
    "block turned on its side": (start("block", turn=np.pi / 2), "turned"),
    "pin starts in another place": (start("pin", "place.tray.cover"), "should start at place.tray.pin"),
    "screw not in the chart's start": (missing("screw"), "nowhere"),
    "hole covered before the pin is in": (lambda c: mate_first(c, "cover-on-block"), ""),
    "screw before the cover": (lambda c: mate_first(c, "cover-screw"), ""),
    "too much torque": (lambda c: with_element(c, drive(c).number, torque=2.6), "2.6 N m are asked for"),
    "too little torque": (lambda c: with_element(c, drive(c).number, torque=0.4), "0.4 N m are asked for"),
    "no torque": (lambda c: with_element(c, drive(c).number, torque=None), "no torque is asked for"),
    "no turns": (lambda c: with_element(c, drive(c).number, turns=None), "turns"),
    "screw never taken up": (lambda c: renumbered(c, [e for e in c.elements if not (
        e.kind == "use" and e.torque is None)]), "should be on the bit"),
    "driven by the other hand": (
        lambda c: with_element(c, drive(c).number, hand="left", motions=()), "holds"),
    "a hand that is not there": (but("grasp", "left", "pin", hand="third"), "no third hand"),
    "grasped from the wrong hand": (but("grasp", "right", "pin", target="hand.right"), "should be at"),
    "nobody says how to grasp": (but("grasp", "left", "cover", grasp=None), "how the left hand grasps"),
    "touch not described": (but("locate", "right", "pin", touch=None), "not described"),
    "left nowhere": (but("release", "left", "cover", leaves=None), "nobody says where"),
    "another motion's start": (
        lambda c: with_motion(c, of_kind(c, "assemble", "right", "pin").number, 0,
                              lambda m: shifted(m, 1, 0.02)), "deg from where"),
    "a motion of the other arm": (
        lambda c: with_motion(c, of_kind(c, "move", "left", "cover").number, 0,
                              lambda m: replace(m, arm="right")), "is of the right arm"),
    "pin mate left out": (but("assemble", "right", "pin", kind="position"), "pin"),
}  # fmt: skip

# What only the verifier sees. Turned in the grasp, set down beside its home, too fast, a bit that does not
# reach.
PROOF: dict[str, Sabotage] = {
    "grasp turned half round": lambda c: with_element(
        c, (e := of_kind(c, "grasp", "left", "cover")).number,
        grasp=replace(grasp_of(e), T_grip_part=Pose.from_matrix(
            grasp_of(e).T_grip_part.matrix @ rotation(np.array([0.0, 0, 1]), np.pi)))),
    "pin left upside down": lambda c: with_element(
        c, (e := of_kind(c, "release", "right", "pin")).number,
        leaves=replace(leaves_of(e), pose=Pose.from_matrix(leaves_of(e).pose.matrix @ rotation(X, np.pi)))),
    "twice as fast": lambda c: with_motion(c, of_kind(c, "move", "left", "cover").number, 0,
                                           lambda m: faster(m, 2.0)),
    "bit that cannot reach": lambda c: with_element(
        c, (e := drive(c)).number, motions=(replace(
            e.motions[-1], q=(e.motions[-1].q[0],) * len(e.motions[-1].q),
            v=tuple((0.0,) * 6 for _ in e.motions[-1].v)),)),
}  # fmt: skip


@pytest.fixture(scope="module")
def checked() -> CheckedProject:
    return check(load(FOLDER))


@pytest.fixture(scope="module")
def sound(checked: CheckedProject) -> Chart:
    found = plan(checked, seed=7)
    assert is_chart(found)
    return found.body


def refused(checked: CheckedProject, chart: Chart) -> str:
    """What `run` says; the cell is never asked for anything."""
    record = make_record(chart, checked.project.inputs, 0)
    ledger = make_record(Ledger(sha256(record), (), Band(1, 1), Band(1, 1)), (), 0)
    cell = ScriptedCell(checked.project)
    with pytest.raises(NotProvenError) as error:
        run(checked, record, ledger, cell)
    assert cell.calls == []
    return str(error.value)


def told(project: Project, chart: Chart) -> str:
    found = rehearse(project, chart, in_order(chart), ready_at(project, chart, 1))
    return "" if found is None else found[1]


def test_what_is_sabotaged_below_is_sound(checked: CheckedProject, sound: Chart) -> None:
    assert told(checked.project, sound) == ""
    assert len(QUICK) + len(PROOF) == 30


@pytest.mark.parametrize("name", QUICK)
def test_a_chart_that_contradicts_itself_is_refused(checked: CheckedProject, sound: Chart, name: str) -> None:
    spoil, expected = QUICK[name]
    assert expected in refused(checked, spoil(sound))
    log = execute(checked.project, spoil(sound), None, (cell := ScriptedCell(checked.project)))
    assert (log.ended, log.cause, cell.calls) == ("stopped", "chart", [])


@pytest.mark.slow
@pytest.mark.parametrize("name", PROOF)
def test_a_chart_that_does_not_hold_is_refused(checked: CheckedProject, sound: Chart, name: str) -> None:
    message = refused(checked, PROOF[name](sound))
    assert message.endswith("plan again")


def test_rounds_of_a_pattern_are_driven_in_their_order(checked: CheckedProject, sound: Chart) -> None:
    """Two screws: by turns first, then to 1.8 N m; crosswise rules are those of the product alone."""
    product = checked.project.product
    screw = product.mate("cover-screw")
    other = replace(screw, name="other-screw")
    pattern = Tightening("both", ("cover-screw", "other-screw"), (Stage(turns=6.0), Stage(torque=1.8)))
    both = Product(product.base, product.parts, (*product.mates, other), tightenings=(pattern,))
    turned = replace(drive(sound), torque=None)
    tight = drive(sound)

    def said(*order: tuple[Element, str]) -> list[str]:
        rounds = Rounds(both)
        return [rounds.due(replace(e, mate=name)) for e, name in order]

    a, b = "cover-screw", "other-screw"
    assert said((turned, a), (turned, b), (tight, a), (tight, b)) == [""] * 4
    assert "other-screw has had 0 rounds, 1 are wanted" in said((turned, a), (tight, a))[1]
    assert "cover-screw has had 0 rounds" in said((turned, b))[0]
    assert "goes by turns, 1.8 N m are asked for" in said((tight, a))[0]
    assert "all 2 rounds" in said((turned, a), (turned, b), (tight, a), (tight, b), (tight, a))[4]
