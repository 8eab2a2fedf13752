"""What the live page shows: the saved records as they are, and what is needed to draw the cell."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.model.chart import Chart
from handfast.model.finding import Finding
from handfast.model.ledger import Ledger
from handfast.model.no_plan import NoPlan
from handfast.model.project import Project
from handfast.model.proof import Proof
from handfast.model.reliability import Reliability
from handfast.model.run_log import RunLog
from handfast.model.trial import TrialReport
from handfast.page.page_input import Saved
from handfast.spatial.pose import Vec3

Matrix = tuple[tuple[float, ...], ...]
"""(4, 4), row by row."""


@dataclass(frozen=True, slots=True)
class JointDrawn:
    """placement: parent link -> joint frame at q = 0 (4, 4) [m]; axis: unit, in the joint frame."""

    placement: Matrix
    axis: Vec3


@dataclass(frozen=True, slots=True)
class ArmDrawn:
    """An arm as the page moves it. base: T_world_root; tip: last link -> tip; mount: T_tip_grip; home: at
    rest [rad]; finger: thickness along the closing direction [m]; opening: least and most jaw width [m].
    Its bodies in the geometry are "arm:NAME:link:I" (I from -1, the root, to n, the tip), "arm:NAME:palm" in
    the grip frame, and "arm:NAME:finger", with its pad at the origin of the grip frame, at y = -thickness/2
    to +thickness/2 around its own origin."""

    name: str
    base: Matrix
    joints: tuple[JointDrawn, ...]
    tip: Matrix
    mount: Matrix
    home: tuple[float, ...]
    finger: float
    opening: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Written:
    """Where something was written. what: "mate pin-in-bore", "part pin", "holder tray", "source NAME"."""

    what: str
    file: str
    line: int


@dataclass(frozen=True, slots=True)
class Window:
    """What a reading of a run should lie within. element: id; event, value: of the run log (docs/run-log.md);
    low, high: in `unit`, "m", "N" or "rad"; usual: of which 95 % of the simulated builds that went in stayed
    within, where there were any."""

    element: str
    event: str
    value: str
    low: float
    high: float
    unit: str
    usual: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Sheet:
    """project: with folder "" (it is nobody's business); chart with its sha256, seed and version where there
    is one; made: names of the verbs' records with their sha256; geometry: sha256 of the bodies, "" where they
    cannot be drawn, then with what stands in the way; critical: numbers of the elements on the critical path;
    windows: what a run should measure; changed: what is not of the files as they are now."""

    version: str
    project: Project | None
    chart: Chart | None
    chart_sha256: str
    seed: int
    no_plan: NoPlan | None
    proof: Proof | None
    ledger: Ledger | None
    trials: tuple[TrialReport, ...]
    reliability: tuple[Reliability, ...]
    run_log: RunLog | None
    findings: tuple[Finding, ...]
    arms: tuple[ArmDrawn, ...]
    geometry: str
    geometry_problem: str
    written: tuple[Written, ...]
    cautions: tuple[str, ...]
    made: tuple[Saved, ...]
    changed: tuple[str, ...]
    critical: tuple[int, ...] = ()
    windows: tuple[Window, ...] = ()
