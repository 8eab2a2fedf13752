"""handfast compare."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

from handfast.cli.exit_codes import NO, YES, UnusableError
from handfast.cli.screen import say, say_json
from handfast.files.record_json import RECORDS_FOLDER, load, sha256
from handfast.model.chart import Chart
from handfast.model.chart_difference import ChartDifference, ElementDifference
from handfast.model.ledger import Ledger
from handfast.model.record import Record
from handfast.page.ledger_section import chance
from handfast.page.wording import phrase, seconds, short_hash
from handfast.workflow.earlier_plan import things_read
from handfast.workflow.set_beside import set_beside


def do_compare(first: str, second: str, as_json: bool) -> int:
    """Set two saved charts beside each other. Yes: nothing has to be checked again; no: something has."""
    before, after = _chart(first), _chart(second)
    found = set_beside(before.body, after.body, _others(first, second))
    ledgers = _ledger(first, before), _ledger(second, after)
    if as_json:
        say_json("compare", _answer(found, before, after, ledgers))
    else:
        _tell(found, before, after, ledgers)
    return YES if not found.changed and not found.gone else NO


def _where(given: str) -> Path:
    """The folder with the records: of a project, a kept one, or that of a record named itself."""
    path = Path(given)
    if path.is_file():
        return path.parent
    for folder in (path / RECORDS_FOLDER, path):
        if (folder / "chart.json").is_file():
            return folder
    raise UnusableError(
        f"{given}: expected a project with a chart, or a folder with a chart.json, found none"
    )


def _chart(given: str) -> Record[Chart]:
    path = Path(given)
    return load(path if path.is_file() else _where(given) / "chart.json", Chart)


def _ledger(given: str, chart: Record[Chart]) -> Ledger | None:
    """The ledger beside a chart, None if there is none or it is of another chart."""
    path = _where(given) / "ledger.json"
    body = load(path, Ledger).body if path.is_file() else None
    return body if body is not None and body.chart_sha256 == sha256(chart) else None


def _others(first: str, second: str) -> frozenset[str]:
    """Parts and tools that are not what they were, as far as both charts say what they were planned from."""
    then, now = (things_read(_where(given)) for given in (first, second))
    return frozenset(name for name, digest in then.items() if now.get(name, digest) != digest)


Ledgers = tuple[Ledger | None, Ledger | None]


def _answer(
    found: ChartDifference, before: Record[Chart], after: Record[Chart], ledgers: Ledgers
) -> dict[str, Any]:
    bands = [None if b is None else {"low": b.build_yield.low, "high": b.build_yield.high} for b in ledgers]
    return {
        "same": found.same,
        "check_again": [_row(d) for d in found.changed],
        "gone": [{"number": e.number, "hand": e.hand, "element": phrase(e)} for e in found.gone],
        "makespan_s": [found.before_s, found.after_s],
        "yield": bands,
        "order_changed": found.order_changed,
        "chart_sha256": [sha256(before), sha256(after)],
    }


def _row(d: ElementDifference) -> dict[str, Any]:
    e = d.element
    return {
        "number": e.number, "before": d.before, "hand": e.hand, "mate": e.mate, "element": phrase(e),
        "matters": list(d.matters), "shift_rad": d.shift,
    }  # fmt: skip


def _tell(found: ChartDifference, before: Record[Chart], after: Record[Chart], ledgers: Ledgers) -> None:
    say(f"chart {short_hash(sha256(before))} and then {short_hash(sha256(after))}")
    more = found.after_s - found.before_s
    say(f"  cycle        {seconds(found.before_s)} s and then {seconds(found.after_s)} s ({more:+.2f} s)")
    told = [chance(b.build_yield) if b is not None else "no ledger of this chart yet" for b in ledgers]
    say(f"  whole build  {told[0]} and then {told[1]}")
    if found.order_changed:
        say("  the mates are done in another order")
    say(f"  {found.same} elements are as they were" + _ending(found))
    for d in found.changed:
        say(_line(d))
    for e in found.gone:
        say(f"  gone: {e.number:>4}  {e.hand:<7}{phrase(e)}")


def _ending(found: ChartDifference) -> str:
    if not found.changed and not found.gone:
        return ": nothing has to be checked again"
    return f"; to be checked again at reduced speed: {len(found.changed)}"


def _line(d: ElementDifference) -> str:
    was = "" if d.before in (None, d.element.number) else f" (was {d.before})"
    how = ", ".join("the part is another" if m == "part" else m for m in d.matters)
    if d.shift > 0:
        how += f", up to {math.degrees(d.shift):.2g} deg"
    return f"  {d.element.number:>10}  {d.element.hand:<7}{phrase(d.element)}{was}: {how}"
