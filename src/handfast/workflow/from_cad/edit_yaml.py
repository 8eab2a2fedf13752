"""Changes to a YAML file that leave everything else as it was written, comments included."""

from __future__ import annotations

from typing import Any

import yaml

from handfast.workflow.from_cad.merge import Change, Path

Node = yaml.nodes.Node


class CannotEditError(ValueError):
    """A place that cannot be edited without touching more: it is written by reference (an alias or a
    merge)."""


def edited(text: str, changes: list[Change]) -> tuple[str, list[Change]]:
    """The text with the changes, and those that could not be made because their place is written by
    reference."""
    refused = []
    # From the end, so that what stands before keeps its place.
    for change in changes:
        try:
            text = _one(text, change)
        except CannotEditError:
            refused.append(change)
    return text, refused


def _one(text: str, change: Change) -> str:
    root = yaml.compose(text, Loader=yaml.SafeLoader)
    if change.what == "add":
        return _added(text, root, _with_parent(root, change))
    if change.what == "remove":
        change = _with_empty_parent(root, change)
    key, value = _find(root, change.path, text)
    if change.what == "set" and _inline(value):
        return text[: value.start_mark.index] + flow(change.value) + text[value.end_mark.index :]
    if change.what == "set":
        return _reset(text, key, value, change)
    return _removed(text, root, change.path, key, value)


def _has(root: Node | None, path: Path) -> int:
    """How many entries stand at a path; -1: there is none."""
    node = root
    for step in path:
        pairs = node.value if isinstance(node, yaml.MappingNode) else []
        node = next((v for k, v in pairs if k.value == step), None)
    return len(node.value) if isinstance(node, yaml.MappingNode) else -1


def _with_parent(root: Node | None, change: Change) -> Change:
    """The first entry of a section brings the section with it."""
    while len(change.path) > 1 and _has(root, change.path[:-1]) < 0:
        change = Change("add", change.path[:-1], {change.path[-1]: change.value})
    return change


def _with_empty_parent(root: Node | None, change: Change) -> Change:
    """The last entry of a section takes the section with it."""
    while len(change.path) > 1 and _has(root, change.path[:-1]) == 1:
        change = Change("remove", change.path[:-1])
    return change


def _inline(node: Node) -> bool:
    return isinstance(node, yaml.ScalarNode) or bool(getattr(node, "flow_style", False))


def _reset(text: str, key: Node, value: Node, change: Change) -> str:
    """A block value is written anew below its key."""
    start, end = _line_start(text, key.start_mark.index), _block_end(text, value)
    indent = " " * key.start_mark.column
    return text[:start] + block(change.path[-1], change.value, indent) + text[end:]


def _find(root: Node | None, path: Path, text: str) -> tuple[Node, Node]:
    """Key and value nodes at a path. Raises CannotEditError."""
    node, key = root, root
    for step in path:
        if not isinstance(node, yaml.MappingNode):
            raise CannotEditError
        pair = next(((k, v) for k, v in node.value if k.value == step), None)
        if pair is None:
            raise CannotEditError
        start = pair[0].end_mark.index
        # An aliased value is one node in two places: it does not stand behind its key.
        if pair[1].start_mark.index < start or "*" in text[start : pair[1].start_mark.index]:
            raise CannotEditError
        if text[start:].lstrip(": \t").startswith("*"):
            raise CannotEditError
        key, node = pair
    if key is None or node is None:
        raise CannotEditError
    return key, node


def _added(text: str, root: Node | None, change: Change) -> str:
    _, parent = _find(root, change.path[:-1], text) if len(change.path) > 1 else (None, root)
    name = change.path[-1]
    if not isinstance(parent, yaml.MappingNode):
        raise CannotEditError
    if parent.flow_style:
        at = parent.end_mark.index - 1
        comma = ", " if parent.value else ""
        return text[:at] + f"{comma}{name}: {flow(change.value)}" + text[at:]
    column = parent.value[0][0].start_mark.column if parent.value else 2 * (len(change.path) - 1)
    at = _block_end(text, parent)
    piece = block(name, change.value, " " * column)
    before = text[:at] if text[:at].endswith("\n") else text[:at] + "\n"
    return before + piece + text[at:]


def _removed(text: str, root: Node | None, path: Path, key: Node, value: Node) -> str:
    _, parent = _find(root, path[:-1], text) if len(path) > 1 else (None, root)
    if isinstance(parent, yaml.MappingNode) and parent.flow_style:
        start, end = key.start_mark.index, value.end_mark.index
        rest = text[end:]
        if rest.lstrip().startswith(","):
            end += len(rest) - len(rest.lstrip()) + 1
            end += len(text[end:]) - len(text[end:].lstrip(" "))
        elif text[:start].rstrip().endswith(","):
            start = text[:start].rstrip().rindex(",")
        return text[:start] + text[end:]
    start = _with_remarks(text, _line_start(text, key.start_mark.index))
    return text[:start] + text[_block_end(text, value) :]


def _line_start(text: str, index: int) -> int:
    return text.rfind("\n", 0, index) + 1


def _with_remarks(text: str, start: int) -> int:
    """Back over the remarks that were generated for an entry."""
    while start > 0:
        before = _line_start(text, start - 1)
        if not text[before:start].strip().startswith(("# sure ", "# ? ")):
            return start
        start = before
    return start


def _block_end(text: str, value: Node) -> int:
    """Behind the last line of a value, its trailing remark included, blank lines and comments after it
    not."""
    end = value.end_mark.index
    piece = text[:end].rstrip()
    while True:  # comments that follow a block belong to what comes next
        line = piece[_line_start(piece, len(piece)) :]
        if not line.strip().startswith("#"):
            break
        piece = piece[: _line_start(piece, len(piece))].rstrip()
    newline = text.find("\n", len(piece))
    return len(text) if newline < 0 else newline + 1


def flow(value: Any) -> str:
    """On one line."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k}: {flow(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(flow(v) for v in value) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value)


def block(name: str, value: Any, indent: str) -> str:
    """Over several lines where it holds entries of its own; features and pairs on one line each."""
    if isinstance(value, dict) and "kind" in value and "at" in value:
        return f"{indent}{name}: {flow(value)}\n"
    if isinstance(value, dict):
        return f"{indent}{name}:\n" + "".join(block(k, v, indent + "  ") for k, v in value.items())
    if isinstance(value, list) and value and isinstance(value[0], dict) and name == "pairs":
        return f"{indent}{name}:\n" + "".join(f"{indent}  - {flow(v)}\n" for v in value)
    return f"{indent}{name}: {flow(value)}\n"
