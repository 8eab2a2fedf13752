"""handfast verify."""

from __future__ import annotations

import time
from dataclasses import asdict, dataclass
from typing import Any

from handfast.cli.exit_codes import NO, YES
from handfast.cli.open_project import open_project
from handfast.cli.saved_records import keep, need, record_path
from handfast.cli.screen import progress, say, say_json
from handfast.files.record_json import stored_sha256
from handfast.model.chart import Chart
from handfast.model.project import Project
from handfast.model.proof import Proof
from handfast.model.record import Record
from handfast.page.wording import seconds
from handfast.workflow.inputs import changed_files
from handfast.workflow.make_proof import verify

SHOWN = 12


@dataclass(frozen=True)
class Proven:
    """A proof that was made and kept. digest: its sha256; took [s]; wrote: the line that says where it is."""

    body: Proof
    digest: str
    took: float
    wrote: str

    @property
    def run_info(self) -> dict[str, Any]:
        """As it is kept beside the record."""
        return {"verifying_s": self.took}


def prove(folder: str, project: Project, chart: Record[Chart], digest: str | None = None) -> Proven:
    """Check every motion of a chart again and keep what was found. digest: of the chart, if it is known."""
    started = time.perf_counter()
    with progress("proving") as tell:
        proof = verify(
            project, chart, lambda share: tell("quarters of the chart", min(int(4 * share), 3), 4), digest
        )
    took = round(time.perf_counter() - started, 3)
    own, wrote = keep(folder, "proof", proof, {"verifying_s": took})
    return Proven(proof.body, own, took, wrote)


def do_verify(folder: str, as_json: bool) -> int:
    """Check every motion of the saved chart again. Yes: nothing is wrong; no: something is."""
    project = open_project(folder).project
    chart = need(folder, "chart", Chart)
    proof = prove(folder, project, chart, stored_sha256(record_path(folder, "chart")))
    changed = changed_files(project, chart)
    if as_json:
        answer = proof_json(proof.body, proof.digest)
        say_json("verify", {**answer, "changed_files": changed, "run_info": proof.run_info})
    else:
        _tell(proof.body, proof.took)
        if changed:
            say(f"note: changed since planning: {', '.join(changed)}; verified against the files of now")
        say(proof.wrote)
    return YES if proof.body.holds else NO


def proof_json(proof: Proof, digest: str) -> dict[str, Any]:
    """Counts, contacts with pair and duration, smallest clearance, and every violation."""
    kinds = [v.kind for v in proof.violations]
    return {
        "holds": proof.holds,
        "collisions": kinds.count("collision"),
        "limit_violations": kinds.count("limit") + kinds.count("speed"),
        "violations": [asdict(v) for v in proof.violations],
        "contacts": [
            {"pair": [c.a, c.b], "reason": c.reason, "duration_s": c.duration_s} for c in proof.contacts
        ],
        "smallest_clearance_m": proof.smallest_clearance,
        "closest": {"pair": list(proof.closest), "element": proof.closest_element},
        "configurations": proof.configurations,
        "assumptions": list(proof.assumptions),
        "chart_sha256": proof.chart_sha256,
        "proof_sha256": digest,
    }


def tell_outcome(proof: Proof, took: float) -> None:
    """Whether the chart holds, what is wrong if not, and the smallest clearance."""
    if proof.holds:
        say(f"The chart holds: {proof.configurations} configurations checked in {took:.1f} s, nothing wrong.")
    else:
        say(f"The chart does not hold: {len(proof.violations)} things are wrong.")
        for v in proof.violations[:SHOWN]:
            say(f"  element {v.element} at {seconds(v.time_s)} s: {v.kind}: {v.text}")
        if len(proof.violations) > SHOWN:
            say(f"  and {len(proof.violations) - SHOWN} more; `handfast verify --json` lists all")
    a, b = proof.closest
    clear = f"{1e3 * proof.smallest_clearance:.2f} mm"
    hits = sum(v.kind == "collision" for v in proof.violations)
    found = f"{hits} collision{'' if hits == 1 else 's'}; smallest clearance {clear}"
    say(f"{found}: {a} and {b}, element {proof.closest_element}")


def _tell(proof: Proof, took: float) -> None:
    tell_outcome(proof, took)
    for assumption in proof.assumptions:
        say(f"  assumed: {assumption}")
    held = [c for c in proof.contacts if c.reason in ("grasp", "place")]
    others = [c for c in proof.contacts if c not in held]
    for c in others[:SHOWN]:
        say(f"  may touch by reason of the {c.reason}: {c.a} and {c.b}, {seconds(c.duration_s)} s")
    more = f"{len(others) - SHOWN} more and " if len(others) > SHOWN else ""
    say(f"  and {more}{len(held)} pairs by a grasp or a place; `handfast verify --json` lists them")
