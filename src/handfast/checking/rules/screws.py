"""Screws: the thread of the hole, a tool that fits, a torque that the tool has."""

from __future__ import annotations

from collections.abc import Iterator

from handfast.checking.case import Case, Rule
from handfast.checking.rules.features import unknown_thread
from handfast.files.nearest import listed
from handfast.model.finding import Finding
from handfast.model.mate import Mate
from handfast.model.tool import Tool


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
        "tool-threads",
        "The threads of a tool are in the table too (reported as unknown-thread).",
        tool_threads,
    ),
)
