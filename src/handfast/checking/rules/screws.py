"""Screws: the thread of the hole, a tool that fits, a torque that the tool has."""

from __future__ import annotations

from collections.abc import Iterator

from handfast.checking.case import Case, Rule
from handfast.checking.rules.features import unknown_thread
from handfast.files.nearest import listed
from handfast.model.finding import Finding
from handfast.model.mate import Mate
from handfast.model.tool import Tool
from handfast.standards.clearance_holes import clearance_hole
from handfast.standards.property_classes import proof_load, property_class
from handfast.standards.socket_head_screws import socket_head
from handfast.standards.tabled_value_error import TabledValueError
from handfast.standards.threads import coarse_thread
from handfast.standards.tightening import bearing_mean_diameter, preload_from_torque

# Least friction to expect, as a share of the part's own (the range that the ledger takes; a choice).
_LEAST_FRICTION = 2 / 3
# Of a screw whose class nobody wrote: stainless socket screws are sold so (common practice, no source).
_ASSUMED_CLASS = "A2-70"


def screw_threads(case: Case) -> Iterator[Finding]:
    """Screws and holes whose threads differ, or that are both inside or both outside."""
    for mate in case.project.product.mates:
        for path, pair, moving, fixed in case.pairs(mate):
            if mate.kind != "screw" or (moving.kind, fixed.kind) != ("thread", "thread"):
                continue
            if moving.thread != fixed.thread:
                found = f"{moving.thread} and {fixed.thread}"
                yield case.finding("thread-mismatch", path, "two equal threads", found)
            if moving.internal is fixed.internal:
                found = "two internal threads" if moving.internal else "two external threads"
                fix = "write `external: true` on the screw's"
                yield case.finding("thread-mismatch", path, "one external and one internal", found, fix)
            if fixed.length is not None and fixed.internal and pair.depth > fixed.length:
                found = f"{1e3 * pair.depth:.4g} mm deep"
                expected = f"at most the thread's {1e3 * fixed.length:.4g} mm"
                yield case.finding("screw-bottoms", (*path, "depth"), expected, found)


def screw_tools(case: Case) -> Iterator[Finding]:
    """Screw mates without tool or torque, or with a tool that does not fit."""
    for mate in case.project.product.mates:
        if mate.kind != "screw":
            continue
        path = ("product", "mates", mate.name)
        for key, value, fix in (("tool", mate.tool, "driver"), ("torque", mate.torque, "1.8 N m")):
            if value is None:
                yield case.finding(
                    "screw-tool", path, f"a screw mate with its {key}", "none", f"add `{key}: {fix}`"
                )
        for tool in case.project.cell.tools:
            if tool.name == mate.tool:
                yield from _fits(case, mate, tool)


def _fits(case: Case, mate: Mate, tool: Tool) -> Iterator[Finding]:
    path = ("product", "mates", mate.name)
    if mate.torque is not None and mate.torque > tool.spindle.torque:
        expected = f"at most the {tool.spindle.torque:.3g} N m of {tool.name}"
        yield case.finding("screw-tool", (*path, "torque"), expected, f"{mate.torque:.3g} N m")
    wanted = {m.thread for _, _, m, _ in case.pairs(mate) if m.kind == "thread"} - {None}
    for thread in sorted(t for t in wanted if t is not None and t not in tool.threads):
        expected = f"a tool for {thread}"
        found = f"{tool.name}, for: {listed(tool.threads)}"
        yield case.finding("screw-tool", (*path, "tool"), expected, found)


def overload(case: Case) -> Iterator[Finding]:
    """Torques that may stretch the screw beyond its proof load, at the least friction to expect."""
    for mate in case.project.product.mates:
        for _, _, moving, _ in case.pairs(mate):
            if mate.kind != "screw" or mate.torque is None or moving.thread is None:
                continue
            screw = case.part(mate.part)
            friction = _LEAST_FRICTION * (screw.friction if screw is not None else 0.15)
            found = _preload(moving.thread, mate.torque, friction)
            if found is None:
                continue
            name = moving.property_class or _ASSUMED_CLASS
            allowed = proof_load(coarse_thread(moving.thread), property_class(name))
            if found <= allowed:
                continue
            assumed = "" if moving.property_class else " (assumed)"
            torque = mate.torque * allowed / found
            yield case.finding(
                "screw-overload", ("product", "mates", mate.name, "torque"),
                f"at most the proof load of {moving.thread} {name}{assumed}, {allowed:.0f} N",
                f"up to {found:.0f} N from {mate.torque:.3g} N m",
                f"{torque:.2g} N m, or a stronger screw", "error" if moving.property_class else "warning",
            )  # fmt: skip


def _preload(thread: str, torque: float, friction: float) -> float | None:
    """Force that a torque gives at one friction under head and in thread [N]; None for an untabled screw."""
    try:
        bearing = bearing_mean_diameter(socket_head(thread).bearing_diameter, clearance_hole(thread))
        return preload_from_torque(torque, coarse_thread(thread), friction, friction, bearing)
    except TabledValueError:
        return None  # the thread has its own finding


def tool_threads(case: Case) -> Iterator[Finding]:
    """Tools for threads that no table has."""
    for tool in case.project.cell.tools:
        for i, thread in enumerate(tool.threads):
            yield from unknown_thread(case, ("cell", "tools", tool.name, "threads", str(i)), thread)


RULES = (
    Rule(
        "thread-mismatch",
        "A screw and its hole have the same thread, one outside and one inside.",
        screw_threads,
    ),
    Rule("screw-bottoms", "A screw must be tight before it reaches the end of its thread."),
    Rule("screw-tool", "A screw mate names a tool that fits the thread and has the torque.", screw_tools),
    Rule(
        "screw-overload",
        "A tightening torque must not stretch the screw beyond its proof load (VDI 2230, ISO 898-1) at the "
        "least friction to expect. Without `property_class` A2-70 is assumed, and it is said as a warning.",
        overload,
    ),
    Rule(
        "tool-threads",
        "The threads of a tool are in the table too (reported as unknown-thread).",
        tool_threads,
    ),
)
