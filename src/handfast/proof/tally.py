"""What a whole chart comes to: meetings, contacts, the smallest clearance."""

from __future__ import annotations

from dataclasses import dataclass, field

from handfast.proof.coherence import Gaps
from handfast.proof.pieces_table import PieceTable
from handfast.proof.tolerances import CLEARANCE_CAP, CLEARANCE_SHARE, RESOLUTION


@dataclass(frozen=True)
class Meeting:
    """Two bodies that are not shown apart: in which element, when [s], how far apart [m] (negative: into each
    other)."""

    a: str
    b: str
    element: int
    time: float
    distance: float
    reason: str = ""


@dataclass
class Tally:
    """What a whole chart comes to. meetings: the worst of each pair and element; touching: (a, b, reason) ->
    [s]."""

    smallest: float = float("inf")
    closest: tuple[str, str] = ("", "")
    closest_element: int = 0
    configurations: int = 0
    meetings: dict[tuple[str, str, int], Meeting] = field(default_factory=dict)
    touching: dict[tuple[str, str, str], float] = field(default_factory=dict)
    known: dict[tuple[object, ...], tuple[bool, str]] = field(default_factory=dict)
    gaps: tuple[PieceTable, Gaps] | None = None

    def floor(self) -> float:
        """Clearance that has to be shown [m], so that the smallest clearance stated is one."""
        return max(CLEARANCE_SHARE * min(self.smallest, CLEARANCE_CAP) - RESOLUTION, 0.0)

    def shown(self) -> float:
        """The smallest clearance [m], or what was shown of every pair where none was near enough."""
        return self.smallest if self.closest[0] else CLEARANCE_SHARE * CLEARANCE_CAP - RESOLUTION

    def gaps_of(self, table: PieceTable) -> Gaps:
        """What was measured of the pairs of a table."""
        if self.gaps is None or self.gaps[0] is not table:
            self.gaps = table, Gaps(len(table.first))
        return self.gaps[1]

    def near(self, gap: float, a: str, b: str, element: int) -> None:
        """A pair that may not touch was found this close."""
        if gap < self.smallest:
            self.smallest, self.closest, self.closest_element = gap, (a, b), element

    def met(self, meeting: Meeting) -> None:
        """A pair that is not shown apart."""
        key = (meeting.a, meeting.b, meeting.element)
        if key not in self.meetings or meeting.distance < self.meetings[key].distance:
            self.meetings[key] = meeting

    def touched(self, a: str, b: str, reason: str, seconds: float) -> None:
        """An allowed pair was in contact."""
        key = (a, b, reason)
        self.touching[key] = self.touching.get(key, 0.0) + seconds


def joined(first: Tally, second: Tally) -> Tally:
    """What two parts of a chart come to, one after the other."""
    nearer = second if second.smallest < first.smallest else first
    whole = Tally(
        nearer.smallest, nearer.closest, nearer.closest_element, first.configurations + second.configurations
    )
    for part in (first, second):
        for meeting in part.meetings.values():
            whole.met(meeting)
        for (a, b, reason), seconds in part.touching.items():
            whole.touched(a, b, reason, seconds)
    return whole
