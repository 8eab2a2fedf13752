"""handfast keep, handfast restore: known-good charts under a name, with the records that belong to them."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

from handfast.cli.choices_text import LISTED
from handfast.cli.exit_codes import NO, YES, UnusableError
from handfast.cli.open_project import must_be_folder, open_project
from handfast.cli.saved_records import FILES, need, record_path
from handfast.cli.screen import say
from handfast.files.record_json import load, sha256
from handfast.model.chart import Chart
from handfast.page.wording import short_hash
from handfast.workflow.inputs import changed_files

KEPT = "kept"
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")


def do_keep(folder: str, name: str) -> int:
    """Copy the chart and what was made of it to records/kept/NAME. Refuses a name that is taken."""
    must_be_folder(folder)
    chart = need(folder, "chart", Chart)
    kept = _kept(folder, name)
    if LISTED.fullmatch(name):
        raise UnusableError(f"{name}: expected another name; that one is for the charts that `plan` lists")
    if kept.exists():
        raise UnusableError(f"{kept}: expected a new name, found charts kept under it; choose another")
    kept.mkdir(parents=True)
    for record in FILES:
        if record_path(folder, record).is_file():
            shutil.copyfile(record_path(folder, record), kept / f"{record}.json")
    say(f"kept chart {short_hash(sha256(chart))} as {name!r} in {kept}")
    return YES


def do_restore(folder: str, name: str) -> int:
    """Put a kept chart back. No: the project's files have changed since it was made."""
    checked = open_project(folder)
    kept = _kept(folder, name)
    if not (kept / "chart.json").is_file():
        there = sorted(p.name for p in kept.parent.glob("*")) if kept.parent.is_dir() else []
        raise UnusableError(
            f"{kept}: expected a kept chart, found none; kept are: {', '.join(there) or 'none'}"
        )
    chart = load(kept / "chart.json", Chart)
    for record in FILES:
        copy, here = kept / f"{record}.json", record_path(folder, record)
        if copy.is_file():
            shutil.copyfile(copy, here)
        else:
            here.unlink(missing_ok=True)
    say(f"chart {short_hash(sha256(chart))} is back from {name!r}, with what was made of it")
    changed = changed_files(checked.project, chart)
    if changed:
        say(f"it was made of other files: changed since are {', '.join(changed)}")
        say("put them back as they were, or plan again; other commands refuse this chart until then")
    return NO if changed else YES


def _kept(folder: str, name: str) -> Path:
    if not _NAME.fullmatch(name):
        raise UnusableError(
            f"{name!r}: expected a name of letters, digits, dot, dash and underscore, up to 64 of them"
        )
    return record_path(folder, "chart").parent / KEPT / name
