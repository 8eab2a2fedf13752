"""The chart run through from its start: what happens at each instant, and what is certified in between."""

from __future__ import annotations

import numpy as np

from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.project import Project
from handfast.model.proof import Violation
from handfast.proof.allowances import Allowance, Allowed, by_pair, gripped, touching
from handfast.proof.bodies import CellBodies
from handfast.proof.doing import done
from handfast.proof.element_checks import begins, closed
from handfast.proof.enclosed import check_enclosed
from handfast.proof.entry import Entry, entered
from handfast.proof.in_parts import Job
from handfast.proof.letting_go import let_go
from handfast.proof.mate_checks import check_all_done
from handfast.proof.motion_checks import line_of
from handfast.proof.pieces_table import PieceTable
from handfast.proof.replay_state import Replay, made
from handfast.proof.standing import Standing
from handfast.proof.start_checks import start_parents
from handfast.proof.stretch import Stretch
from handfast.proof.timeline import RANK, Event, Move, Stroke, Timeline, lay_out
from handfast.proof.tolerances import CONTINUITY, START, TIME
from handfast.proof.touch_checks import check_touch


def run(
    project: Project,
    cell: CellBodies,
    chart: Chart,
    timeline: Timeline,
    table: PieceTable,
    entry: Entry | None = None,
) -> tuple[list[Violation], list[Job]]:
    """Everything that is wrong in the replay but collisions, and the stretches that are to be certified for
    those. entry: where arms really stand at some time; what the chart has before it is taken as done."""
    replay = Replay(project, cell)
    jobs: list[Job] = []
    standing = starting(project, cell, chart)
    found = check_enclosed(cell, table, _stretch(replay, standing, (), (), 0.0, 0.0))
    instants = timeline.instants() or [0.0]
    number = 0
    for index, now in enumerate(instants):
        done_before = entry is not None and now < entry.time - TIME
        if entry is not None and abs(now - entry.time) <= TIME:
            standing = entered(standing, entry)
        for event in _at(timeline, instants, index):
            number = event.element.number
            if event.stroke is not None and done_before:
                standing = standing.opened(event.element.hand, event.stroke.width)
            elif event.stroke is not None:
                jobs += _at_once(replay, standing, event.stroke, now)
                standing = standing.opened(event.element.hand, event.stroke.width)
            standing, wrong = _happens(replay, standing, event)
            found += wrong
        moves = timeline.moving(now)
        strokes = tuple(s for s in timeline.strokes if _covers(s, now))
        for move in moves:
            if abs(move.start - now) <= TIME:
                found += _sets_off(standing, move)
        later = instants[index + 1] if index + 1 < len(instants) else now
        stretch = _stretch(replay, standing, moves, strokes, now, later)
        if not done_before:
            allowed = _allowed(replay, standing, moves, strokes)
            jobs.append(Job(stretch, allowed, number))
        standing = _arrived(standing, stretch)
    if entry is None or entry.to_the_end:
        found += check_all_done(project, chart.mates, standing, instants[-1])
    return found, jobs


def standings(project: Project, cell: CellBodies, chart: Chart) -> dict[int, Standing]:
    """How everything stands as each element sets off, by its number; nothing is certified."""
    replay, timeline = Replay(project, cell), lay_out(chart)
    standing, out = starting(project, cell, chart), dict[int, Standing]()
    instants = timeline.instants() or [0.0]
    for index, now in enumerate(instants):
        begun = []
        for event in _at(timeline, instants, index):
            if event.stroke is not None:
                standing = standing.opened(event.element.hand, event.stroke.width)
            standing, _ = _happens(replay, standing, event)
            begun += [event.element.number] if event.kind == "begin" else []
        out |= dict.fromkeys(begun, standing)
        moves = timeline.moving(now)
        strokes = tuple(s for s in timeline.strokes if _covers(s, now))
        later = instants[index + 1] if index + 1 < len(instants) else now
        standing = _arrived(standing, _stretch(replay, standing, moves, strokes, now, later))
    return out


def starting(project: Project, cell: CellBodies, chart: Chart) -> Standing:
    """How things stand before the first element: as the project says, whatever the chart says."""
    stated = dict(chart.start.openings)
    widths = {g.arm: stated.get(g.arm, g.opening[1]) for g in project.cell.grippers}
    return Standing(
        parents=start_parents(project),
        q={arm.name: np.array(arm.home) for arm in project.cell.arms},
        widths={name: widths.get(name, 0.0) for name in cell.arms},
        holds={},
    )


def _at(timeline: Timeline, instants: list[float], index: int) -> list[Event]:
    """The events of one instant in the order of their rank, whatever the last digits of their times."""
    now = instants[index]
    own = (event for event in timeline.at(now) if _first(event, instants, index))
    return sorted(own, key=lambda e: (RANK[e.kind], e.element.number))


def _first(event: Event, instants: list[float], index: int) -> bool:
    """True if no earlier instant has taken the event."""
    return index == 0 or abs(event.time - instants[index - 1]) > TIME


def _covers(span: Stroke, now: float) -> bool:
    return span.start <= now + TIME and span.end > now + TIME


def _happens(replay: Replay, standing: Standing, event: Event) -> tuple[Standing, list[Violation]]:
    element = event.element
    if event.kind == "closed":
        return closed(replay, standing, element)
    if event.kind == "done":
        return done(replay, standing, element)
    if event.kind == "let go":
        return let_go(replay, standing, element)
    if event.kind == "stroke":
        return standing, []
    standing, found = begins(replay, standing, element)
    found += _opening(replay.project, standing, element)
    if element.kind == "locate":
        found += check_touch(replay, standing, element)
    return standing, found


def _opening(project: Project, standing: Standing, element: Element) -> list[Violation]:
    """The width an element asks for: within the jaws' range, and no other than the grasp's while something is
    held."""
    width = element.opening
    if width is None:
        return []
    found = []
    for gripper in project.cell.grippers:
        low, high = gripper.opening
        if gripper.arm == element.hand and not low - START <= width <= high + START:
            text = (
                f"{line_of(element)}: opens to {1e3 * width:.2f} mm; the jaws go from {1e3 * low:.2f} to "
                f"{1e3 * high:.2f} mm"
            )
            found.append(made("limit", element, element.start_s, max(low - width, width - high), text))
    hold = standing.holds.get(element.hand)
    change = abs(width - standing.widths[element.hand])
    if hold is not None and element.kind != "release" and change > START:
        stand = f"to stand {1e3 * width:.2f} mm open"
        text = f"{line_of(element)}: the jaws leave {hold.item!r}, which they hold, {stand}"
        found.append(made("wrong grasp", element, element.start_s, change, text))
    return found


def _sets_off(standing: Standing, move: Move) -> list[Violation]:
    """A motion begins: from where the arm stands, and with nothing in the hand that is held elsewhere too."""
    element, arm = move.element, move.motion.arm
    found = []
    step = float(np.abs(np.array(move.motion.q[0]) - standing.q[arm]).max())
    if step > CONTINUITY:
        text = f"{line_of(element)}: a motion starts {step:.4f} rad away from where the {arm} arm stands"
        found.append(made("jump", element, move.start, step, text))
    hold = standing.holds.get(arm)
    if hold is not None:
        others = [f"hand.{other}" for other in standing.holders_of(hold.item) if other != arm]
        parent = standing.parents[hold.item][0]
        held_by = sorted({*others, parent} - {f"hand.{arm}"})
        if held_by:
            text = f"{line_of(element)}: moves {hold.item!r} while it is also held by {', '.join(held_by)}"
            found.append(made("wrong grasp", element, move.start, 0.0, text))
    return found


def _at_once(replay: Replay, standing: Standing, stroke: Stroke, now: float) -> list[Job]:
    """Jaws that take another width before their element's motions: to be certified all the way."""
    if stroke.width == standing.widths[stroke.element.hand]:
        return []
    stretch = _stretch(replay, standing, (), (stroke,), now, now)
    return [Job(stretch, _allowed(replay, standing, (), (stroke,)), stroke.element.number)]


def _stretch(
    replay: Replay,
    standing: Standing,
    moves: tuple[Move, ...],
    strokes: tuple[Stroke, ...],
    now: float,
    later: float,
) -> Stretch:
    jaws = {arm: (width, width) for arm, width in standing.widths.items()}
    for stroke in strokes:
        width, whole = standing.widths[stroke.element.hand], stroke.end - now
        share = min((later - now) / whole, 1.0) if whole > TIME else 1.0
        jaws[stroke.element.hand] = (width, width + (stroke.width - width) * share)
    working = (*(stroke.element for stroke in strokes), *(move.element for move in moves))
    return Stretch(
        start=now,
        end=later,
        paths={move.motion.arm: (move.start, move.path) for move in moves},
        q=standing.q,
        jaws=jaws,
        carriers=replay.carriers(standing),
        elements={element.hand: element.number for element in working},
    )


def _allowed(
    replay: Replay,
    standing: Standing,
    moves: tuple[Move, ...],
    strokes: tuple[Stroke, ...],
) -> Allowed:
    now: list[Allowance] = []
    for arm, hold in standing.holds.items():
        now += gripped(arm, hold.item)
    for stroke in strokes:
        if stroke.element.kind in ("grasp", "release") and stroke.element.object in standing.parents:
            now += gripped(stroke.element.hand, stroke.element.object)
    for move in moves:
        now += touching(replay.project.product, move.element)
    return by_pair(now, replay.lasting)


def _arrived(standing: Standing, stretch: Stretch) -> Standing:
    for arm, (began, path) in stretch.paths.items():
        q, _, _ = path.at(np.array([stretch.end - began]))
        if stretch.end - began >= path.t[-1] - 2 * TIME:
            q = path.q[-1:]
        standing = standing.at(arm, q[0])
    for arm, (_, width) in stretch.jaws.items():
        standing = standing.opened(arm, width)
    return standing
