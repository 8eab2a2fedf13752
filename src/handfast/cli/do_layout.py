"""handfast layout."""

from __future__ import annotations

import math
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from handfast.cli.exit_codes import NO, YES, UnusableError
from handfast.cli.open_project import open_project
from handfast.cli.screen import progress, say, say_json
from handfast.files.errors_diff import diff
from handfast.files.nearest import listed
from handfast.files.written_poses import Standing, with_poses
from handfast.model.project import Project
from handfast.page.reach_map import Panel, reach_map
from handfast.page.wording import seconds
from handfast.planning.layout.arms import Crew, crews
from handfast.planning.layout.field import layout_map
from handfast.planning.layout.ground import Ground, poses_of
from handfast.planning.layout.measure import Bench
from handfast.planning.layout.search import Candidate, better_layouts, differences, tried


def do_layout(
    folder: str, work: int, keep: list[str], drawing: str | None, accept: bool, seed: int, as_json: bool
) -> int:
    """Measure the layout, look for a better one, compare crews. Yes: the product can be built as it is.

    accept: the better one is written into cell.yaml."""
    project = open_project(folder).project
    _must_be_there(project, keep)
    bench = Bench(project)
    first = tried(bench, project, seed)
    with progress("layouts") as tell:
        found = better_layouts(
            bench, Ground(bench.ws), first, work=work, seed=seed, keep=frozenset(keep), progress=tell
        )
    best = found[-1]
    teams = []
    with progress("arms") as tell:
        for crew in crews(bench, first, seed):
            teams.append(crew)
            tell(crew.text, len(teams) - 1, len(project.cell.arms) + 2)
    if drawing is not None:
        _draw(bench, best.layout, drawing)
    cell = _cell_file(folder)
    text, left = with_poses(cell, [Standing(*d) for d in differences(project, best.layout)])
    change = diff(cell, text)
    if as_json:
        say_json("layout", {**_as_json(project, first, best, teams, work, seed), "diff": change})
    else:
        _tell(project, first, best, teams, work, seed)
        _tell_change(folder, change, left, accept)
        if drawing is not None:
            say(f"wrote {drawing}")
    if accept and change:
        cell.write_text(text, encoding="utf-8")
        if not as_json:
            say(f"wrote {cell}; check, plan and budget again")
    return NO if first.refusal else YES


def _must_be_there(project: Project, names: list[str]) -> None:
    there = list(poses_of(project))
    for name in names:
        if name not in there:
            raise UnusableError(f"--keep {name}: expected an arm or a holder: {listed(there)}")


def _draw(bench: Bench, layout: Project, path: str) -> None:
    found = layout_map(bench, layout)
    panels = [Panel(f"{f.hand} arm", f.x, f.y, f.share) for f in found.fields]
    label = f"What the arms of {layout.name} reach, from above"
    Path(path).parent.mkdir(parents=True, exist_ok=True)
    Path(path).write_text(reach_map(panels, found.outlines, found.table, label), encoding="utf-8")


def _tell(
    project: Project, first: Candidate, best: Candidate, teams: list[Crew], work: int, seed: int
) -> None:
    same = best is first
    hands = [a.name for a in project.cell.arms]
    say("Share of the grasps of what is needed there that each arm reaches, its links clear of everything:")
    say(_row("", hands if same else [*hands, *(f"{h}, moved" for h in hands)]))
    for holder in dict.fromkeys(h for _, h, _ in first.measures.shares):
        columns = [_share(c, hand, holder) for c in ((first,) if same else (first, best)) for hand in hands]
        say(_row(holder, columns))
    say()
    say(_row("", ["as it is"] if same else ["as it is", "moved"]))
    for name, value in _lines(first).items():
        say(_row(name, [value] if same else [value, _lines(best)[name]]))
    for name, one in (("as it is", first), ("moved", best)):
        if one.refusal:
            say(f"  no plan {name}: {one.refusal}")
    say()
    if same and not work:
        say("No other layout was planned in (--work 0).")
    elif same:
        say(f"No better layout among the {work} that were planned in (seed {seed}).")
    else:
        say(f"Better, of {work} layouts that were planned in (seed {seed}): compared by the cycle, longer by")
        say("half the share of poses where arms meet, and by what is lost of grasps and of clearance.")
    say()
    say("The same product by fewer and by more arms, one hand at a time:")
    for crew in teams:
        cycle = crew.found.refusal or f"{seconds(crew.found.cycle_s)} s a cycle"
        say(f"  {len(crew.arms)}  {crew.text}: {cycle}")
    say()
    say("A proposal from reach, clearance and time alone. Cables, hoses, guards, light, the way of people's")
    say("hands to trays, and what the table bears are for the one who builds the cell (ISO 10218-2).")


def _tell_change(folder: str, change: str, left: tuple[Standing, ...], accept: bool) -> None:
    """The lines of cell.yaml that would change, and what cannot be written there."""
    for one in left:
        say(f"not written out in cell.yaml, write it yourself: {'.'.join(one.path)}: {one.text}")
    if change:
        say(change.rstrip("\n"))
        if not accept:
            say(f"to take this over: `handfast layout {folder}` once more the same way, with --accept")


def _cell_file(folder: str) -> Path:
    path = Path(folder) / "cell.yaml"
    if not path.exists():
        raise UnusableError(f"{path}: expected the cell of the project, there is no such file")
    return path


def _row(name: str, columns: list[str]) -> str:
    return f"  {name:32}" + "".join(f"{c:>15}" for c in columns)


def _share(candidate: Candidate, hand: str, holder: str) -> str:
    return next(f"{100 * s:.0f} %" for a, h, s in candidate.measures.shares if (a, h) == (hand, holder))


def _lines(candidate: Candidate) -> dict[str, str]:
    m = candidate.measures
    return {
        "mates that no hand can do": str(len(m.undone)),
        "grasps reached, best arm": f"{100 * m.share:.0f} %",
        "links' least clearance": f"{1e3 * m.clearance:.0f} mm" if math.isfinite(m.clearance) else "none",
        "poses where arms meet": f"{100 * m.crowding:.0f} %",
        "cycle, one hand at a time": "no plan" if candidate.refusal else f"{seconds(candidate.cycle_s)} s",
        "compared by (less is better)": f"{seconds(candidate.cost)} s"
        if math.isfinite(candidate.cost)
        else "",
    }


def _as_json(
    project: Project, first: Candidate, best: Candidate, teams: list[Crew], work: int, seed: int
) -> dict[str, Any]:
    return {
        "work": work,
        "seed": seed,
        "as_it_is": _side(first),
        "moved": None if best is first else _side(best),
        "changes": [
            {"kind": kind, "name": name, "position": list(pose.position), "quaternion": list(pose.quaternion)}
            for kind, name, pose in differences(project, best.layout)
        ],
        "crews": [
            {"arms": list(c.arms), "cycle_s": _finite(c.found.cycle_s), "refusal": c.found.refusal}
            for c in teams
        ],
    }


def _side(candidate: Candidate) -> dict[str, Any]:
    fields = asdict(candidate.measures)
    fields["shares"] = [{"arm": a, "holder": h, "share": s} for a, h, s in candidate.measures.shares]
    fields["clearance"] = _finite(candidate.measures.clearance)
    return {
        **fields,
        "cycle_s": _finite(candidate.cycle_s),
        "cost_s": _finite(candidate.cost),
        "refusal": candidate.refusal,
    }


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
