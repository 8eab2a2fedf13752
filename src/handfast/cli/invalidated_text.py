"""What a calibration invalidates, as lines and as JSON."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from handfast.cli.saved_records import FILES, record_path
from handfast.cli.screen import say
from handfast.model.source_proposal import SourceProposals
from handfast.workflow.earlier_plan import earlier_plan
from handfast.workflow.invalidated import Invalidated, invalidated

_STAY = ("chart", "chart-basis", "no-plan", "source-proposals")


def _known(folder: str, found: SourceProposals) -> Invalidated | None:
    """What of the saved chart and ledger no longer holds; None if no chart says what it was planned from."""
    made = earlier_plan(record_path(folder, "chart").parent)
    return None if made is None else invalidated(found, made.chart.body, made.basis.body)


def tell_invalidated(folder: str, found: SourceProposals) -> None:
    """What has to be made again once the proposals are taken over."""
    known = _known(folder, found)
    say("  taking this over invalidates:")
    if known is None:
        say(f"    chart   no chart here says what it was planned from: `handfast plan {folder}`")
    elif known.elements:
        count = sum(len(numbers) for _, numbers in known.elements)
        say(f"    chart   {count} of {known.of} elements (holds and delays apart), to be planned anew:")
        for name, numbers in known.elements:
            say(f"            {name}: {ranges(numbers)}")
        if known.stand:
            say(f"            the others stay where they keep clear of it: {', '.join(known.stand)}")
    else:
        say("    chart   no motion: none depends on what was measured")
    say(f"    ledger  {', '.join(found.mates) or 'no mate that it speaks of'}")
    say(f"    records {', '.join(_records(folder)) or 'none'}, which are of the files as they were")


def invalidated_json(folder: str, found: SourceProposals) -> dict[str, Any]:
    """The same as JSON; elements null where no chart says what it was planned from."""
    known = _known(folder, found)
    return {
        "elements": None if known is None else {name: list(numbers) for name, numbers in known.elements},
        "of": None if known is None else known.of,
        "mates": list(found.mates),
        "records": _records(folder),
    }


def _records(folder: str) -> list[str]:
    """Those that cannot be gone on from."""
    return [name for name in FILES if name not in _STAY and record_path(folder, name).is_file()]


def ranges(numbers: tuple[int, ...]) -> str:
    """Rising numbers in words: 3, 5 to 9."""
    runs: list[list[int]] = [[numbers[0], numbers[0]]]
    for before, n in pairwise(numbers):
        if n == before + 1:
            runs[-1][1] = n
        else:
            runs.append([n, n])
    return ", ".join(str(a) if a == b else f"{a} to {b}" if b > a + 1 else f"{a}, {b}" for a, b in runs)
