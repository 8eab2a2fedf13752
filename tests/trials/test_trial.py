from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.trials.bench_chart import bench_chart, bench_project, ledger, source

from handfast.model.feature import Lot
from handfast.model.project import Project
from handfast.model.trial import Build, MateTry
from handfast.trials.count import count, report
from handfast.trials.draw import Draws
from handfast.trials.insertion import Inserted
from handfast.trials.second_opinion import sampled
from handfast.trials.trial import Trial, Ways, one_build, trial

ERRORS = (
    source("holder.nest", 3e-4, changes="shift"),
    source("arm.right.tip", 8e-6, 8e-6, 8e-6, 2e-5, 2e-5, 2e-5),
    source("touch.right", 1e-5),
)


def test_without_errors_the_pin_goes_in_untouched_by_the_walls() -> None:
    project = bench_project()
    build, log = one_build(Trial(project, bench_chart(project), None, 7), 0)
    assert log.ended == "done", log.reason
    assert build.tries[0].outcome == "ok"
    assert build.tries[0].offset == pytest.approx(0.0, abs=1e-7)
    assert build.duration_s > 1.0
    assert 0 <= build.tries[0].unsettled < build.tries[0].steps


def planted(shift: float) -> Project:
    """The block stands aside of where the plan has it; nobody told the plan."""
    return replace(bench_project(source("holder.nest", abs(shift), changes="shift")))


def test_the_correction_goes_the_right_way() -> None:
    project = planted(9e-4)
    chart = bench_chart(project)
    number = next(
        b for b in range(100)
        if abs(Draws(project.errors, 7, b).twist(project.errors[0])[0]) > 8e-4
    )  # fmt: skip
    shift = abs(float(Draws(project.errors, 7, number).twist(project.errors[0])[0]))
    blind, _ = one_build(Trial(project, chart, ledger(), 7, touches=False), number)
    assert blind.tries[0].outcome == "failed"
    assert blind.tries[0].cause == "missed the chamfer"
    assert blind.tries[0].offset == pytest.approx(shift, abs=1e-6)
    touched, log = one_build(Trial(project, chart, ledger(), 7), number)
    assert log.ended == "done", log.reason
    assert touched.tries[0].outcome == "ok"
    # What is left is how much thinner than drawn the pin is: 2.5 to 7 um (8 g6), taken for distance.
    assert touched.tries[0].offset < 1e-5


def test_equal_seeds_give_equal_reports_however_many_processes() -> None:
    project = bench_project(*ERRORS)
    chart = bench_chart(project)
    done: list[tuple[int, int]] = []
    first = trial(
        project, chart, ledger(), builds=3, seed=11, ways=Ways(progress=lambda n, of: done.append((n, of)))
    )
    again = trial(project, chart, ledger(), builds=3, seed=11, ways=Ways(processes=2))
    other = trial(project, chart, ledger(), builds=3, seed=12)
    assert first == again
    assert first != other
    assert done == [(1, 3), (2, 3), (3, 3)]
    assert [b.number for b in first.builds] == [0, 1, 2]
    offsets = [b.tries[0].offset for b in first.builds]
    assert len(set(offsets)) == 3
    # The first builds of a longer trial are the builds of a shorter one.
    assert trial(project, chart, ledger(), builds=2, seed=11).builds == first.builds[:2]


def test_an_interrupt_keeps_what_was_done() -> None:
    project = bench_project()

    def stop(done: int, of: int) -> None:
        if done == 2:
            raise KeyboardInterrupt

    found = trial(project, bench_chart(project), None, builds=5, seed=7, ways=Ways(progress=stop))
    assert [b.number for b in found.builds] == [0, 1]


def test_a_run_that_stops_before_its_mate_counts_against_it() -> None:
    project = bench_project(source("place.tray.pin", 0.05, changes="part"))
    build, log = one_build(Trial(project, bench_chart(project), None, 7), 0)
    assert log.ended == "stopped"
    assert build.tries[0].outcome == "failed"
    assert "from place.tray.pin" in build.tries[0].cause


def test_numbers_of_builds_that_make_no_sense_are_refused() -> None:
    project = bench_project()
    with pytest.raises(ValueError, match="at least one build"):
        trial(project, bench_chart(project), None, builds=0, seed=7)


def test_counts() -> None:
    def build(number: int, *outcomes: str) -> Build:
        causes = ["why" if o == "failed" else "" for o in outcomes]
        tries = (
            MateTry(m, o, c, 0, 0, 0, 0)  # type: ignore[arg-type]
            for m, o, c in zip("ab", outcomes, causes, strict=True)
        )
        return Build(number, tuple(tries), 1.0, whole=all(o == "ok" for o in outcomes))

    builds = (
        build(0, "ok", "ok"),
        build(1, "ok", "invalid"),
        build(2, "failed", "not tried"),
        build(3, "ok", "ok"),
    )
    b = count("b", builds)
    assert (b.tried, b.succeeded, b.invalid, b.causes) == (2, 2, 1, ())
    a = count("a", builds)
    assert (a.tried, a.succeeded, a.invalid, a.causes) == (4, 3, 0, (("why", 1),))
    assert report(("a", "b"), builds, chart_sha256="", touches=True).good_builds == 2
    # Wilson 1927: 10 of 10 at 95 % is 72.2 to 100 %.
    ten = tuple(build(i, "ok", "ok") for i in range(10))
    assert np.round(count("a", ten).interval, 3) == pytest.approx([0.722, 1.0])
    assert count("c", builds).interval == (0.0, 1.0)


def test_a_burr_stops_its_part_and_is_named() -> None:
    project = bench_project()
    lot = Lot(burrs=1.0)
    parts = tuple(
        replace(p, features=tuple(replace(f, lot=lot) if f.name == "bore" else f for f in p.features))
        for p in project.product.parts
    )
    burred = replace(project, product=replace(project.product, parts=parts))
    build, log = one_build(Trial(burred, bench_chart(burred), None, 7), 0)
    assert (build.tries[0].outcome, build.tries[0].cause) == ("failed", "a burr on block.bore")
    assert log.cause == "did not go in"
    assert not build.whole


def test_the_physics_engine_solves_every_insertion_where_it_is_asked_to(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    project = bench_project(*ERRORS)
    chart = bench_chart(project)
    quick = trial(project, chart, ledger(), builds=2, seed=11)
    assert not quick.engine
    assert quick.builds[0].repeats

    def not_asked(_task: object) -> None:
        raise AssertionError("the fast solver was asked")

    monkeypatch.setattr("handfast.trials.trial.insert_quickly", not_asked)
    found = trial(project, chart, ledger(), builds=2, seed=11, engine=True)
    assert found.engine
    assert [b.tries[0].outcome for b in found.builds] == [b.tries[0].outcome for b in quick.builds]
    assert all(not b.repeats for b in found.builds)


def test_the_engine_is_asked_of_each_mate_in_turn_and_of_rare_failures_more_often() -> None:
    one = Inserted("ok", "", 0.0, 0.0, 0.0, 0.0, 0.0, True, np.eye(4), (), 0.0, 1)
    told = {m: [b for b in range(1000) if sampled(b, m, 7, one)] for m in range(7)}
    assert sorted(b for builds in told.values() for b in builds) == [*range(0, 50, 5), *range(50, 1000, 20)]
    assert {len(builds) for builds in told.values()} <= {8, 9}
    failed = replace(one, outcome="failed")
    assert [sampled(4 * b, 0, 7, failed) for b in range(100)] == [True] * 100
    assert sum(sampled(b, 0, 7, failed, scale=2.0) for b in range(1000)) < 60
