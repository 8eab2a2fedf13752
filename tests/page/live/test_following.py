"""The page follows what run and trial write in another terminal."""

from __future__ import annotations

from pathlib import Path

from handfast.files.going import GOING, going
from handfast.files.log_lines import LineWriter
from handfast.files.run_log_file import LogHead, RunLogWriter
from handfast.files.shown_build import BUILD, show
from handfast.model.run_log import LogLine, RunLog
from handfast.page.live.following import LOG, Follower
from handfast.page.live.watch import differences, fingerprint

HEAD = LogHead("first-fit", "ab" * 32, "simulated", 1, 7)


def written(path: Path, lines: list[LogLine], end: RunLog | None = None) -> None:
    writer = LineWriter(path)
    log = RunLogWriter(writer, HEAD)
    for line in lines:
        log.line(line)
    if end is not None:
        log.end(end)
    writer.close()


def events(*names: str) -> list[LogLine]:
    return [LogLine(float(i), f"m/{i:02d}-reach-left", name) for i, name in enumerate(names)]


def test_each_line_is_told_once_and_then_the_end(tmp_path: Path) -> None:
    log = tmp_path / "records" / LOG
    follower = Follower(tmp_path)
    assert follower.news() == []
    written(log, events("start", "done"))
    first = follower.news()
    assert [(n["state"], n["line"]["event"]) for n in first] == [("going", "start"), ("going", "done")]
    assert follower.news() == []
    lines = events("start", "done", "width")
    written(log, lines, RunLog(HEAD.chart_sha256, "simulated", tuple(lines), "stopped", "look at the pin"))
    later = follower.news()
    assert [n["state"] for n in later] == ["going", "stopped"]
    assert later[0]["line"]["event"] == "width"
    assert later[1]["text"] == "look at the pin"


def test_a_second_run_begins_anew(tmp_path: Path) -> None:
    log = tmp_path / "records" / LOG
    follower = Follower(tmp_path)
    lines = events("start", "done")
    written(log, lines, RunLog(HEAD.chart_sha256, "simulated", tuple(lines), "done"))
    assert [n["state"] for n in follower.news()] == ["going", "going", "done"]
    written(log, events("start"))
    assert [n["line"]["event"] for n in follower.news()] == ["start"]


def test_what_lay_there_before_and_what_is_damaged_is_not_told(tmp_path: Path) -> None:
    log = tmp_path / "records" / LOG
    written(log, events("start"))
    follower = Follower(tmp_path)
    assert follower.news() == []
    log.write_bytes(b"nonsense")
    assert follower.news() == []


def test_a_trial_says_how_far_it_is_and_that_it_has_ended(tmp_path: Path) -> None:
    follower = Follower(tmp_path)
    with going(tmp_path / "records", "trial") as tell:
        tell(3, 50)
        assert follower.news() == [{"kind": "trial", "done": 3, "of": 50}]
        assert follower.news() == []
    assert follower.news() == [{"kind": "trial", "done": 0, "of": 0}]
    assert not (tmp_path / "records" / GOING).exists()


def test_a_build_of_a_trial_is_told_whole_and_seldom(tmp_path: Path) -> None:
    """As the trial itself writes it: the first build at once, those of the next seconds not."""
    follower = Follower(tmp_path)
    path = tmp_path / "records" / BUILD
    with going(tmp_path / "records", "trial"):
        for number in (4, 5):
            show(
                path,
                number,
                RunLog("ab" * 32, "simulated", tuple(events("start", "stands", "done")), "stopped", "why"),
            )
        (told,) = follower.news()
        assert (told["kind"], told["number"], told["reason"]) == ("build", 4, "why")
        assert [line["event"] for line in told["lines"]] == ["start", "done"]
        assert follower.news() == []
        path.write_text("nonsense")
        assert follower.news() == []
    assert not path.exists()


def test_neither_sets_off_another_round_of_checking(tmp_path: Path) -> None:
    before = fingerprint(tmp_path)
    written(tmp_path / "records" / LOG, events("start"))
    with going(tmp_path / "records", "trial") as tell:
        tell(1, 2)
        assert differences(before, fingerprint(tmp_path)) == ()
