"""handfast check, and handfast explain."""

from __future__ import annotations

from handfast.cli.exit_codes import NO, UNUSABLE, YES
from handfast.cli.findings_text import all_lines, as_json
from handfast.cli.open_project import must_be_folder
from handfast.cli.screen import say, say_json
from handfast.workflow.read_project import UnusableProjectError, check, load


def do_check(folder: str, as_json_wanted: bool) -> int:
    """Show every finding. Yes: the project can be used; no: it breaks a rule."""
    must_be_folder(folder)
    reading = load(folder)
    try:
        checked = check(reading)
    except UnusableProjectError as error:
        if as_json_wanted:
            say_json("check", {"usable": False, "findings": as_json(error.findings)})
        else:
            for line in all_lines(error.findings):
                say(line)
        return NO
    if as_json_wanted:
        say_json("check", {"usable": True, "findings": as_json(checked.notes)})
        return YES
    for line in all_lines(checked.notes):
        say(line)
    product, cell = checked.project.product, checked.project.cell
    say(
        f"{checked.project.name}: nothing wrong. Parts {len(product.parts)}, mates {len(product.mates)}, "
        f"arms {len(cell.arms)}, tools {len(cell.tools)}, error sources {len(checked.project.errors)}."
    )
    return YES


def do_explain(rule: str) -> int:
    """What a rule asks for and why."""
    from handfast.checking.registry import explain

    try:
        say(explain(rule))
    except KeyError as error:
        say(str(error.args[0]))
        return UNUSABLE
    return YES
