"""Plan and ledger settled on first-fit: touches come in where they are needed, and the ledger of the
chart agrees.
"""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from tests.cli.test_commands import answer, handfast

from handfast.files.record_json import sha256
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.proof import verify
from handfast.workflow.make_chart import MadeAgain
from handfast.workflow.make_ledger import budget
from handfast.workflow.read_project import check, load
from handfast.workflow.settle_chart import Settled, as_made, settled, short_of

FOLDER = Path(__file__).parents[2] / "projects" / "first-fit"
SCREW = "cover-screw"


def copied(where: Path) -> Path:
    """A copy of first-fit without records."""
    return Path(shutil.copytree(FOLDER, where / "first-fit", ignore=shutil.ignore_patterns("records")))


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Settled:
    return settled(check(load(copied(tmp_path_factory.mktemp("settled")))), target=0.995, seed=0)


def test_every_mate_reaches_the_target_with_touches_and_not_without(found: Settled) -> None:
    ledger = found.ledger.body
    assert ledger.chart_sha256 == sha256(found.chart)
    assert short_of(ledger, 0.995) == ()
    assert ledger.build_yield.low >= 0.985
    assert ledger.build_yield_untouched.low < 0.9
    screw = next(row for row in ledger.rows if row.mate == SCREW)
    assert screw.probability_untouched.low < 0.9


def test_the_chart_makes_what_was_demanded_and_nothing_that_could_not_be_made(found: Settled) -> None:
    made = [e.touch for e in found.chart.body.elements if e.kind == "locate" and e.mate == SCREW]
    demand = next(d for d in found.demands if d.mate == SCREW)
    assert demand.touches
    assert tuple(made) == demand.touches
    assert not set(demand.excluded) & set(demand.touches)
    assert demand.reason == ""


def test_a_touch_that_the_chart_does_not_make_is_not_asked_for_again(found: Settled) -> None:
    demand = next(d for d in found.demands if d.mate == SCREW)
    lost = replace(demand.touches[0], feature="under")
    asked = replace(demand, touches=(lost, *demand.touches))
    assert as_made(found.chart.body, (asked,)) == (replace(demand, excluded=(*demand.excluded, lost)),)


def test_a_demanded_touch_stands_where_it_was_asked_for(found: Settled) -> None:
    """By the chart's own motions: the hand at the end of the guarded move, and how it holds the driver."""
    from handfast.uncertainty.hand_poses import hand_poses

    project = check(load(FOLDER)).project
    poses = hand_poses(project, found.chart.body)
    scene, grasp = found.chart.body.start, None
    for element in found.chart.body.elements:
        if element.kind == "locate" and element.mate == SCREW:
            assert element.touch is not None
            assert element.touch.contact is not None
            assert grasp is not None
            bit = project.cell.tool("driver").bit.matrix
            T_grip_screw = grasp.T_grip_part.matrix @ bit @ scene.of("screw").pose.matrix
            place = project.cell.place_of("block")
            T_block = place[0].pose.matrix @ place[1].pose.matrix
            face = project.product.part("block").feature(element.touch.feature).frame.matrix
            wanted = T_block @ face @ element.touch.contact.matrix
            assert poses[element.id] @ T_grip_screw == pytest.approx(wanted, abs=1e-6)
        if element.grasp is not None and element.grasp.item == "driver":
            grasp = element.grasp
        if element.leaves is not None and element.leaves.parent == "tool.driver":
            scene = scene.moved(element.leaves)


def _mates(chart: Chart, left_out: str) -> list[Element]:
    """What the hands do for other mates, whenever they do it."""
    return [
        replace(e, number=0, id="", start_s=0.0) for e in chart.elements
        if e.mate not in (left_out, "") and e.kind not in ("hold", "delay")
    ]  # fmt: skip


def test_a_chart_with_touches_is_gone_on_from(found: Settled, tmp_path: Path) -> None:
    """The screw waits 2 mm aside: its mate is planned and its touches are chosen anew; all else stays."""
    folder = copied(tmp_path)
    checked = check(load(folder))
    same = settled(checked, target=0.995, seed=0, earlier=found.made)
    assert isinstance(same.again, MadeAgain)
    assert (same.again.kept, same.again.because) == (same.again.of, {})
    assert same.chart == found.chart
    cell = folder / "cell.yaml"
    text = cell.read_text(encoding="utf-8")
    assert "[230 mm, 520 mm, 0 mm]" in text
    cell.write_text(text.replace("[230 mm, 520 mm, 0 mm]", "[232 mm, 520 mm, 0 mm]"), encoding="utf-8")
    edited = check(load(folder))
    after = settled(edited, target=0.995, seed=0, earlier=found.made)
    assert isinstance(after.again, MadeAgain)
    assert set(after.again.because) == {SCREW}
    assert 0 < after.again.of - after.again.kept < after.again.of / 2
    assert _mates(after.chart.body, SCREW) == _mates(found.chart.body, SCREW)
    assert {f.sha256 for f in after.chart.inputs if f.path == "chart"} == {sha256(found.chart)}
    assert short_of(after.ledger.body, 0.995) == ()
    assert [e.mate for e in after.chart.body.elements if e.kind == "locate"].count(SCREW) > 0
    assert verify(edited.project, after.chart.body, "").holds
    assert not verify(edited.project, found.chart.body, "").holds


def test_a_plan_without_a_target_takes_the_touches_back(tmp_path: Path) -> None:
    """And says that it goes on from the chart with touches; --fresh goes on from none."""
    folder = copied(tmp_path)
    first = answer("plan", folder, "--seed", "0")
    touched = answer("plan", folder, "--target", "99.5%", "--seed", "0")
    assert touched["taken_over"]["of_chart_sha256"] == first["chart_sha256"]
    assert set(touched["taken_over"]["anew"]) == {d["mate"] for d in touched["demands"] if d["touches"]}
    said = handfast("plan", folder, "--target", "99.5%", "--seed", "0").stdout
    assert "they are those of the chart before" in said
    bare = answer("plan", folder, "--seed", "0")
    assert set(bare["taken_over"]["anew"]) == set(touched["taken_over"]["anew"])
    kinds = [e["mate"] for e in bare["elements"] if e["kind"] == "locate"]
    assert kinds == [e["mate"] for e in first["elements"] if e["kind"] == "locate"]
    assert answer("plan", folder, "--target", "99.5%", "--seed", "0", "--fresh")["taken_over"] is None


def test_a_target_that_is_met_asks_for_nothing(tmp_path: Path) -> None:
    checked = check(load(copied(tmp_path)))
    plain = settled(checked, target=0.5, seed=0)
    assert plain.demands == ()
    assert [e.mate for e in plain.chart.body.elements if e.kind == "locate"] == ["pin-in-bore"]
    assert budget(checked, plain.chart).body == plain.ledger.body


def test_where_touching_is_forbidden_the_answer_says_so(tmp_path: Path) -> None:
    folder = copied(tmp_path)
    product = folder / "product.yaml"
    text = product.read_text()
    assert "    tool: driver\n" in text
    faces = ", ".join(f"{{face: block.{name}}}" for name in ("end", "front", "top", "under"))
    product.write_text(text.replace("    tool: driver\n", f"    tool: driver\n    no_touch: [{faces}]\n"))
    result = answer("plan", folder, "--target", "99.5%", "--seed", "0")
    assert result["reached"] is False
    assert result["short_of_target"] == [SCREW]
    demand = next(d for d in result["demands"] if d["mate"] == SCREW)
    assert demand["touches"] == []
    assert demand["reason"] == "no face of what it goes to may be touched"


@pytest.mark.parametrize(
    ("target", "says"),
    [
        ("99.5", "expected a chance between 0 and 100 %"),
        ("100%", "expected a chance between 0 and 100 %"),
        ("0.1 mm", "found the unit 'mm'"),
        ("sure", "expected a ratio with its unit"),
    ],
)
def test_a_target_that_is_none_is_refused(target: str, says: str) -> None:
    result = handfast("plan", FOLDER, "--target", target)
    assert result.exit_code == 2
    assert says in result.stderr


def test_touches_are_settled_with_both_hands_at_once_too(found: Settled, tmp_path: Path) -> None:
    """The target is reached, in less than one hand at a time needs for it; the proof holds with the
    touches."""
    checked = check(load(copied(tmp_path)))
    both = settled(checked, target=0.995, seed=0, together=True)
    assert short_of(both.ledger.body, 0.995) == ()
    chart = both.chart.body
    assert both.ledger.body.chart_sha256 == sha256(both.chart)
    assert sum(e.kind == "locate" for e in chart.elements) >= 3
    assert chart.makespan_s < 0.85 * found.chart.body.makespan_s
    assert verify(checked.project, chart, sha256(both.chart)).holds
