"""What is built, how well, and what had to be assumed."""

from __future__ import annotations

from handfast.model.project import Project
from handfast.page.ledger_section import chance
from handfast.page.wording import seconds
from handfast.report.content import Block, ReportInput, Row, Section, Words, filled
from handfast.report.quantities import millimetres

_PAIRS = (("what", 0.3), ("value", 0.7))


def job(given: ReportInput) -> Section:
    """The job and its figures."""
    page, project = given.page, given.page.project
    chart, proof, ledger = page.chart.body, page.proof, page.ledger
    screws = sum(m.kind == "screw" for m in project.product.mates)
    rows: list[Row] = [
        ("product", f"{len(project.product.parts)} parts, built on {project.product.base}"),
        ("mates", f"{len(chart.mates)} of {len(project.product.mates)} planned, {screws} of them screws"),
        ("hands", " and ".join(_hand(project, name) for name in chart.hands)),
        ("cycle", f"{seconds(chart.makespan_s)} s; not below {seconds(chart.lower_bound_s)} s whatever waits "
                  "are saved"),
        ("proof of the motions", "not verified" if proof is None else _proof(proof.violations)),
        ("least clearance", "not verified" if proof is None else
         f"{millimetres(proof.smallest_clearance)}, {proof.closest[0]} and {proof.closest[1]}, element "
         f"{proof.closest_element}"),
        ("wanted of each mate", f"goes in in {100 * project.target:g} % of builds"),
        ("predicted, whole build", "not budgeted" if ledger is None else
         f"{chance(ledger.build_yield)}; without touches {chance(ledger.build_yield_untouched)}"),
        ("tried", _tried(given)),
    ]  # fmt: skip
    short = [] if ledger is None else [r for r in ledger.rows if r.probability.low < project.target]
    doubts = [Words(f"{r.mate}: {r.verdict}", "doubt") for r in short]
    return Section("job", "Job", (filled("job", _PAIRS, rows, ""), *doubts))


def _hand(project: Project, name: str) -> str:
    gripper = project.cell.gripper_of(name)
    low, high = gripper.opening
    return f"{name} ({gripper.name}, jaws {millimetres(low)} to {millimetres(high)})"


def _proof(violations: tuple[object, ...]) -> str:
    return f"fails: {len(violations)} things are wrong" if violations else "holds, by independent code"


def _tried(given: ReportInput) -> str:
    found = [
        f"{t.good_builds} of {len(t.builds)} simulated builds whole, "
        f"{'with' if t.with_touches else 'without'} touches"
        for t in given.page.trials
    ]
    return "; ".join(found) if found else "not tried"


def assumptions(given: ReportInput) -> Section:
    """What nobody measured or wrote down, and what was taken as it is not."""
    ledger, proof = given.page.ledger, given.page.proof
    noted: list[Row] = [
        (f"{n.file}:{n.line}" if n.line else n.file, n.where, f"{n.found}; expected {n.expected}", n.fix)
        for n in given.notes
    ]
    columns = (("written at", 0.16), ("what", 0.2), ("how it stands", 0.38), ("to be surer", 0.26))
    blocks: list[Block] = [filled("notes", columns, noted, "The check of the files had nothing to note.")]
    assumed = [s.name for s in given.page.project.errors if s.assumed]
    if assumed:
        blocks.append(Words(f"Error sources that were assumed, not measured: {', '.join(assumed)}.", "doubt"))
    if ledger is not None:
        blocks += [Words(f"{mate} is not budgeted, so not shown to fit: {why}", "doubt")
                   for mate, why in ledger.not_budgeted]  # fmt: skip
        if ledger.taken_as_exact:
            exact = ", ".join(ledger.taken_as_exact)
            blocks.append(Words(f"Taken as exact, for nobody wrote an error: {exact}."))
        blocks += [
            Words(f"Measure this first: {u.source} is assumed and matters most for {u.mate} "
                  f"({100 * u.share:.0f} % of its variance).", "doubt")
            for u in ledger.unknowns
        ]  # fmt: skip
    if proof is not None:
        blocks += [Words(f"The proof takes as given: {text}.") for text in proof.assumptions]
    c = given.page.project.cell.controller
    blocks.append(Words(
        f"Controller: period {c.cycle * 1e3:g} ms, standstill begins {c.stop_delay * 1e3:g} ms after a "
        f"contact is seen; touches at {millimetres(c.touch_speed)}/s, insertions at "
        f"{millimetres(c.insert_speed)}/s; the hand yields by "
        f"{c.lateral_stiffness / 1e3:g} N/mm and {c.angular_stiffness:g} N m/rad at the "
        "insertion."
    ))  # fmt: skip
    blocks.append(Words("Parts, grippers and arms are taken as rigid but for this compliance."))
    return Section("assumptions", "Assumptions", tuple(blocks))
