"""A draft of the process-FMEA: what may go wrong in each mate and grasp, why, and what would notice it.

Causes are the contributors of the fit ledger, with their share of the variance; detection is what the chart
touches, measures and sees. Severity, occurrence and detection are for the team to rate: the columns stay
empty, and the predicted rate stands beside them. Columns follow common practice of process-FMEA (from
memory).
"""

from __future__ import annotations

from handfast.model.element import Element
from handfast.model.ledger import MateRow, PairRow
from handfast.model.mate import Mate
from handfast.model.project import Project
from handfast.page.wording import phrase
from handfast.report.content import ReportInput, Row, Section, Words, filled
from handfast.report.quantities import millimetres, per_million

_COLUMNS = (
    ("step", 0.14), ("what may go wrong", 0.15), ("effect", 0.11), ("causes, share of the variance", 0.19),
    ("prevented now by", 0.11), ("noticed now by", 0.12), ("predicted of a million", 0.07),
    ("S", 0.037), ("O", 0.037), ("D", 0.036),
)  # fmt: skip
_CAUSES = 4
_RARE = 1e-6  # what fails less often is put into one row
# What a condition of the ledger (docs/ledger.md) is broken as.
_MODES = {
    "capture": "the tip misses the lead-in",
    "force": "jams: pressed on both sides, over the force limit",
    "entry": "leans too far to enter the mouth",
    "no wedging": "wedges: both contacts lock",
    "between its ends": "does not drop in between the ends of the slot",
    "phase": "teeth meet on their crests",
    "lateral": "beside the opening",
    "lean": "leans by over half a turn of the thread: cross-threaded",
}


def failure_modes(given: ReportInput) -> Section:
    """The draft: a row for each thing that must hold of each mate, then one for each kind of grasp."""
    rows = [row for mate in given.page.chart.body.mates for row in _of_mate(given, mate)]
    rows += _of_parts(given)
    return Section(
        "failure-modes", "Process-FMEA, draft",
        (
            Words("S, O and D are for the team to rate; nothing here rates them. The predicted figures count "
                  "simulated and computed errors, and only those that were declared."),
            filled("failure-modes", _COLUMNS, rows, "No mates."),
        ),
    )  # fmt: skip


def _of_mate(given: ReportInput, name: str) -> list[Row]:
    mate = given.page.project.product.mate(name)
    row = given.page.row(name)
    ledger = given.page.ledger
    if row is None:
        known = dict(ledger.not_budgeted).get(name, "") if ledger else ""
        why = f"not budgeted: {known}" if known else "not budgeted"
        noticed = _noticed(given, mate, None)
        return [(name, "does not go in", _effect(mate), why, "", noticed, "unknown",
                 "", "", "")]  # fmt: skip
    first = [_pair_row(given, mate, row, row.pairs[0] if row.pairs else None)]
    rare = [p.name for p in row.pairs[1:] if 1 - p.probability < _RARE]
    others = [_pair_row(given, mate, row, p) for p in row.pairs[1:] if p.name not in rare]
    if rare:
        also = f"also: {'; '.join(rare)}"
        others.append(("", also, *["as above"] * 4, "under 1 each", "", "", ""))
    return first + others


def _pair_row(given: ReportInput, mate: Mate, row: MateRow, pair: PairRow | None) -> Row:
    limits = () if pair is None else pair.limits
    named = dict.fromkeys(_MODES[x.name] for x in limits if x.name in _MODES)
    modes = "; ".join(named) or "does not go in"
    if pair is not None:
        modes = f"{pair.name}: {modes}"
    if pair is None or len(row.pairs) == 1:
        rate = per_million(row.probability.low, row.probability.high)
    else:
        rate = f"{per_million(pair.probability, pair.probability)} (this alone)"
    first = pair is None or pair is row.pairs[0]
    return (
        mate.name if first else "", modes, _effect(mate) if first else "as above",
        _causes(row) if first else "as above", _prevented(row) if first else "as above",
        _noticed(given, mate, row) if first else "as above", rate, "", "", "",
    )  # fmt: skip


def _effect(mate: Mate) -> str:
    if mate.kind == "screw":
        return f"{mate.part} not seated or thread damaged; the run stops"
    return f"{mate.part} not home or its edge damaged; the run stops"


def _causes(row: MateRow) -> str:
    top = sorted(row.contributors, key=lambda c: -c.share)[:_CAUSES]
    said = [
        f"{c.source} {100 * c.share:.0f} %{', assumed' if c.assumed else ''}" for c in top if c.share > 5e-3
    ]
    return "; ".join(said) or "no declared error acts on it"


def _prevented(row: MateRow) -> str:
    touches = len(row.touches)
    done = [f"{touches} touch{'es' if touches != 1 else ''} correct the way in"] if touches else []
    if row.strategy != "straight":
        done.append(f"goes in by: {row.strategy}")
    return "; ".join(done) or "nothing but the accuracy of the cell"


def _noticed(given: ReportInput, mate: Mate, row: MateRow | None) -> str:
    own = given.page.chart.body.elements
    numbers = {e.id: e.number for e in own}
    touches = [f"touch {numbers[t]}" for t in (row.touches if row else ()) if t in numbers]
    going_in = [e for e in own if e.mate == mate.name and e.kind in ("assemble", "use")]
    how = "torque and angle" if mate.kind == "screw" else "insertion force and depth"
    return ", ".join([*touches, *([f"{how}, element {going_in[-1].number}"] if going_in else [])])


def _of_parts(given: ReportInput) -> list[Row]:
    """Every part that a hand or a tool takes from its place."""
    project = given.page.project
    picks = [
        e for e in given.page.chart.body.elements
        if e.kind == "grasp" and e.target.startswith("place.") and e.grasp is not None
    ]  # fmt: skip
    return [_pick(project, e) for e in picks]


def _pick(project: Project, e: Element) -> Row:
    width = millimetres(e.grasp.width) if e.grasp is not None else ""
    holder, place = project.cell.place_of(e.object)
    lies = [f"lies up to {millimetres(place.slack)} off in {holder.name}.{place.name}"] if place.slack else []
    causes = "; ".join(["not loaded, or loaded the wrong way up", *lies])
    is_part = any(p.name == e.object for p in project.product.parts)
    camera = [f"camera {c.name}" for c in project.cell.cameras[:1]] if is_part else []
    noticed = ", ".join([*camera, f"width of the jaws, {width}"])
    return (
        phrase(e), "missing, elsewhere, wrong way up, or another part", "the run stops before it is moved",
        causes, "loading sheet", noticed, "not predicted", "", "", "",
    )  # fmt: skip
