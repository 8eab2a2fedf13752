"""Jig or no jig, as a table for the terminal and as JSON."""

from __future__ import annotations

from dataclasses import asdict, fields
from typing import Any

from handfast.model.economy import Economy
from handfast.model.ledger import Band
from handfast.page.ledger_section import chance
from handfast.workflow.jig_or_not import Either, JigRow


def jig_lines(rows: tuple[JigRow, ...], money: Economy, has: tuple[str, ...]) -> list[str]:
    """For the terminal: what was assumed, a line a mate, and what the cell has already."""
    head = f"{'jig or no jig':28}{'no jig':>8}{'yield':>10}{'cost':>8}{'jig':>10}{'yield':>10}{'cost':>8}"
    return [
        f"{head}   cheaper",
        *(_line(row) for row in rows),
        f"a jig takes {money.weeks:g} weeks and {money.jig:g}, and {money.change:g} at each change of "
        "its part; it counts as exact, so its yields are the most there can be",
        f"at {money.builds:g} good builds a year; {_assumed(money)}",
        f"fixtures that the cell has already: {', '.join(has) or 'none'}",
    ]


def jig_json(rows: tuple[JigRow, ...], money: Economy, has: tuple[str, ...]) -> dict[str, Any]:
    """The same for programs; yields are the sure ends."""
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


def _json(way: Either) -> dict[str, float]:
    return {"seconds": way.seconds, "yield": way.yield_, "cost_per_good_build": way.cost}


def _line(row: JigRow) -> str:
    cheaper = "no jig" if row.without.cost <= row.jig.cost else "jig"
    if row.breaks_even is not None:
        cheaper += f" (a jig from {row.breaks_even:,.0f} builds a year)".replace(",", " ")
    return f"{row.mate:28}{_way(row.without)}  {_way(row.jig)}   {cheaper}"


def _way(way: Either) -> str:
    return f"{way.seconds:6.1f} s{chance(Band(way.yield_, way.yield_)):>10}{way.cost:8.3f}".replace(
        "over 99.999 %", " >99.999 %"
    )


def _assumed(money: Economy) -> str:
    values = ", ".join(f"{name} {getattr(money, name):g}" for name in _not_written(money))
    return f"assumed, write yours under `economy` in project.yaml: {values}" if values else "all as written"


def _not_written(money: Economy) -> list[str]:
    return [f.name for f in fields(money) if f.name not in (*money.written, "written")]
