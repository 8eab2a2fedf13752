"""Jig or no jig, as a table for the terminal and as JSON."""

from __future__ import annotations

from dataclasses import asdict, fields
from typing import Any

from handfast.model.economy import Economy
from handfast.model.ledger import Band
from handfast.page.ledger_section import chance
from handfast.workflow.jig_or_not import Either, JigRow

_WIDTH = 24


def jig_lines(rows: tuple[JigRow, ...], money: Economy, has: tuple[str, ...]) -> list[str]:
    """For the terminal: a line a mate, what was assumed, and what the cell has already."""
    return [
        "Jig or no jig, mate by mate (cost: of a good build; yield: at the sure end)",
        f"{'':{_WIDTH}}  {'as the chart has it':^29}   {'with a jig':^29}",
        f"{'mate':{_WIDTH}}{2 * _HEAD}   cheaper",
        *(_line(row) for row in rows),
        f"a jig takes {money.weeks:g} weeks and costs {money.jig:g}, and {money.change:g} at each of "
        f"{money.changes:g} changes of its part a year; it counts as exact, so its yields are the most there "
        "can be",
        f"{money.builds:g} good builds a year; an hour of the cell costs {money.hour:g}, a mate that fails "
        f"{money.stop:g}; laying into a jig takes {money.jig_seconds:g} s",
        _assumed(money),
        f"fixtures that the cell has already: {', '.join(has) or 'none'}",
    ]


def jig_json(rows: tuple[JigRow, ...], money: Economy, has: tuple[str, ...]) -> dict[str, Any]:
    """The same for programs; yields are the sure ends; a cost is null where no good build comes out."""
    return {
        "economy": {**asdict(money), "assumed": _not_written(money)},
        "fixtures": list(has),
        "mates": [
            {
                "name": r.mate, "without": _json(r.without), "jig": _json(r.jig),
                "breaks_even_builds": r.breaks_even,
            }
            for r in rows
        ],
    }  # fmt: skip


def _json(way: Either) -> dict[str, float | None]:
    return {"seconds": way.seconds, "yield": way.yield_, "cost_per_good_build": way.cost}


_HEAD = f"{'seconds':>9}{'yield':>13}{'cost':>9}"


def _line(row: JigRow) -> str:
    return f"{row.mate:{_WIDTH}}{_way(row.without)}{_way(row.jig)}   {_cheaper(row)}"


def _cheaper(row: JigRow) -> str:
    if row.jig_is_cheaper:
        return (
            "a jig" if row.breaks_even is None else f"a jig, from {_count(row.breaks_even)} builds a year on"
        )
    return "no jig" if row.breaks_even is None else f"no jig below {_count(row.breaks_even)} builds a year"


def _count(builds: float) -> str:
    return f"{builds:,.0f}".replace(",", " ")


def _way(way: Either) -> str:
    cost = "none good" if way.cost is None else f"{way.cost:9.3f}"
    return f"{way.seconds:9.1f}{chance(Band(way.yield_, way.yield_)).replace('over ', '> '):>13}{cost}"


def _assumed(money: Economy) -> str:
    names = ", ".join(_not_written(money))
    return (
        f"assumed, write yours under `economy` in project.yaml: {names}"
        if names
        else "all of this as written"
    )


def _not_written(money: Economy) -> list[str]:
    return [f.name for f in fields(money) if f.name not in (*money.written, "written")]
