"""handfast replay."""

from __future__ import annotations

from dataclasses import asdict

from handfast.cli.exit_codes import NO, YES
from handfast.cli.run_lines import tell_end, tell_line
from handfast.cli.screen import say, say_json
from handfast.files.run_log_file import read_run_log


def do_replay(file: str, as_json: bool) -> int:
    """Tell a run from its log. Yes: it was done, and the log is whole; no: it stopped, or the log breaks
    off."""
    found = read_run_log(file)
    if as_json:
        say_json("replay", {**asdict(found.log), "head": asdict(found.head), "damage": found.damage})
    else:
        head = found.head
        say(f"{head.project}, chart {head.chart_sha256[:12]}, from element {head.first}")
        for line in found.log.lines:
            tell_line(line)
        if found.damage:
            done = [line.element for line in found.log.lines if line.event == "done"]
            say(f"the log breaks off: {found.damage}")
            say(f"last element that is known to be done: {done[-1] if done else 'none'}")
        else:
            tell_end(found.log)
    return YES if found.log.ended == "done" and not found.damage else NO
