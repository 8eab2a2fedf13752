"""What is told where a target is out of reach: ways with numbers that hold."""

from __future__ import annotations

import re
from dataclasses import replace

from tests.uncertainty.test_budget import PROJECT, ledger, row, times, with_half

from handfast.cli.what_would import what_would


def test_ways_that_are_named_bring_what_is_said() -> None:
    """The pin under errors three times as large; the first way named, tried: the ledger made anew."""
    project = replace(PROJECT, errors=tuple(replace(s, sigma=times(s, 3)) for s in PROJECT.errors))
    pin = row(ledger(project), "pin-in-bore")
    told = what_would(pin, 0.9999)
    ((source, chance), *_) = re.findall(r"(?:^|; )([\w ]+) half as large, about ([\d.]+) %", told)
    anew = row(ledger(with_half(source, project)), "pin-in-bore").probability.low
    assert abs(100 * anew - float(chance)) < 1.0
    assert anew > pin.probability.low + 0.005
    assert "the cell set right on first articles" in told


def test_a_target_that_no_way_reaches_is_said_so() -> None:
    screw = row(ledger(), "cover-screw")
    assert "none of these reaches it alone" in what_would(screw, 0.99999)
    within = replace(screw, probability_within=replace(screw.probability, low=0.999999))
    assert "none of these" not in what_would(within, 0.99999)


def test_parts_that_do_not_go_together_are_named_first_and_nothing_is_made_up() -> None:
    screw = row(ledger(), "cover-screw")
    assert "98 % of lots" in what_would(replace(screw, assemblable=0.98), 0.99)
    bare = replace(screw, contributors=(), strategies=(), probability_within=screw.probability)
    assert what_would(bare, 0.99).startswith("nothing that is known")
