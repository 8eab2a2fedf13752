"""Ways planned anew while a run goes on, each proven before it is given."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from handfast.execution.anew import Anew, NoWayAnewError, Stands
from handfast.model.chart import Chart
from handfast.model.project import Project
from handfast.planning.resumed import NoWayError, Resumed
from handfast.workflow.in_turn import in_turn
from handfast.workflow.not_proven import NotProvenError


@dataclass(frozen=True, slots=True)
class PlannedAnew:
    """Implements `execution.anew.Planner`."""

    project: Project
    seed: int = 0

    def rejected(
        self,
        chart: Chart,
        number: int,
        place: str,
        q: Stands,
        widths: Mapping[str, float],
    ) -> Anew:
        """As in the protocol."""
        from handfast.planning.reject import rejected

        try:
            return self._proven(rejected(self.project, chart, number, place, q, widths, self.seed))
        except NoWayError as error:
            raise NoWayAnewError(str(error)) from error

    def again(self, chart: Chart, number: int, q: Stands, widths: Mapping[str, float]) -> Anew:
        """As in the protocol."""
        from handfast.planning.way_back import way_back

        try:
            return self._proven(way_back(self.project, chart, number, q, widths, self.seed))
        except NoWayError as error:
            raise NoWayAnewError(str(error)) from error

    def _proven(self, resumed: Resumed) -> Anew:
        try:
            must_be_proven(self.project, resumed)
        except NotProvenError as error:
            raise NoWayAnewError(str(error)) from error
        return Anew(resumed.chart, resumed.first, resumed.q)


def must_be_proven(project: Project, resumed: Resumed) -> None:
    """Raises NotProvenError for a way that the verifier finds wrong."""
    from handfast.proof.entry import Entry
    from handfast.proof.verify import verify

    entry = Entry(resumed.time, resumed.q, resumed.widths, resumed.to_the_end)
    for chart in (resumed.chart, in_turn(resumed.chart, resumed.time)):
        if chart is None:
            continue  # one element after another already, which is how they are carried out
        proof = verify(project, chart, "", entry=entry)
        if not proof.holds:
            first = proof.violations[0]
            raise NotProvenError(
                f"the way that was planned does not hold: {first.kind}: {first.text}; begin with another "
                "element, or lead the arms clear by their own means"
            )
