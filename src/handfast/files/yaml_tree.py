"""A YAML file as a plain tree whose every node knows where it was written.

Only the grammar of YAML is used: scalars stay text, no tag is obeyed and nothing is constructed, so a file
cannot run anything. Anchors, aliases and `<<` are followed, up to a limit.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import yaml

from handfast.files.position import Position
from handfast.files.report import Report

LARGEST_FILE = 4_000_000
DEEPEST = 40
_MERGE = "tag:yaml.org,2002:merge"
MOST_NODES = 100_000

# The compiled parser, where PyYAML was built with it: ten times faster, same grammar.
_LOADER: type[yaml.SafeLoader] = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@dataclass(frozen=True, slots=True)
class Scalar:
    """A single value, as its text."""

    text: str
    place: Position


@dataclass(frozen=True, slots=True)
class Listing:
    """A list of values."""

    items: tuple[Entry, ...]
    place: Position


@dataclass(frozen=True, slots=True)
class Mapping:
    """Keys and values in the order of the file; keys: where each key stands."""

    entries: dict[str, Entry]
    keys: dict[str, Position]
    place: Position


Entry = Scalar | Listing | Mapping


class _Mark(Protocol):
    """Where the parser is: both parsers have it, without a common class."""

    @property
    def line(self) -> int: ...
    @property
    def column(self) -> int: ...


class _UnusableError(Exception):
    """The file has been reported as unusable."""


def read_tree(path: Path, shown: str, report: Report) -> Entry | None:
    """The tree of one file, or None with findings. shown: the name of the file in findings."""
    text = _read_text(path, shown, report)
    return read_text(text, shown, report) if text is not None else None


def read_text(text: str, shown: str, report: Report) -> Entry | None:
    """The tree of a text, or None with findings."""
    try:
        _refuse_depth_and_tags(text, shown, report)
        node = yaml.compose(text, Loader=_LOADER)
        if node is None:
            report.error("yaml", Position(shown, 1, 1), (), "keys with values", "an empty file")
            return None
        return _Expansion(shown, report).entry(node, ())
    except yaml.YAMLError as error:
        _report_grammar(error, text, shown, report)
    except _UnusableError:
        pass  # has been reported
    return None


def _read_text(path: Path, shown: str, report: Report) -> str | None:
    try:
        data = path.read_bytes() if path.stat().st_size <= LARGEST_FILE else None
    except OSError as error:
        expected = "a file that can be read"
        report.error(
            "file-missing", Position(shown), (), expected, error.strerror or "none", f"create {shown}"
        )
        return None
    if data is None:
        found = f"more than {LARGEST_FILE} bytes"
        report.error("file-too-large", Position(shown), (), f"at most {LARGEST_FILE} bytes", found)
        return None
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        before = data[: error.start]
        line, column = before.count(b"\n") + 1, error.start - (before.rfind(b"\n") + 1) + 1
        found = f"the byte 0x{data[error.start]:02x}"
        report.error(
            "not-utf-8", Position(shown, line, column), (), "text in UTF-8", found, "save it as UTF-8"
        )
        return None


def _refuse_depth_and_tags(text: str, shown: str, report: Report) -> None:
    """Composing recurses, so depth is looked at first, where the parser does not."""
    depth = 0
    for event in yaml.parse(text, Loader=_LOADER):
        place = _place(event.start_mark, shown)
        if isinstance(event, (yaml.MappingStartEvent, yaml.SequenceStartEvent)):
            depth += 1
            if depth > DEEPEST:
                report.error("too-deep", place, (), f"at most {DEEPEST} levels", "more")
                raise _UnusableError
        elif isinstance(event, (yaml.MappingEndEvent, yaml.SequenceEndEvent)):
            depth -= 1
        tag = getattr(event, "tag", None)
        if tag is not None:
            report.error(
                "tag", place, (), "plain values without tags", f"the tag {tag!r}", "leave the tag out"
            )
            raise _UnusableError


def _report_grammar(error: yaml.YAMLError, text: str, shown: str, report: Report) -> None:
    place, problem = Position(shown), "something else"
    if isinstance(error, yaml.MarkedYAMLError):
        place = _place(error.problem_mark or error.context_mark, shown)
        problem = " ".join(p for p in (error.context, error.problem) if p)
    elif isinstance(error, yaml.reader.ReaderError):
        # The compiled reader counts bytes, the other one characters.
        before = text.encode()[: error.position].decode("utf-8", "replace")
        place = Position(shown, before.count("\n") + 1, len(before) - (before.rfind("\n") + 1) + 1)
        problem = f"a character that YAML does not allow: {error.reason}"
    report.error("yaml", place, (), "YAML that can be read", problem)


def _place(mark: _Mark | None, shown: str) -> Position:
    return Position(shown, mark.line + 1, mark.column + 1) if mark is not None else Position(shown)


class _Expansion:
    """Turns composed nodes into a tree; aliases and merges become copies, which is why they are counted."""

    def __init__(self, shown: str, report: Report) -> None:
        self.shown = shown
        self.report = report
        self.count = 0

    def entry(self, node: yaml.Node, above: tuple[yaml.Node, ...]) -> Entry:
        place = _place(node.start_mark, self.shown)
        self.count += 1
        if self.count > MOST_NODES or any(node is a for a in above):
            found = "an anchor that contains itself" if node in above else f"more than {MOST_NODES}"
            self.report.error("exploding-anchors", place, (), f"at most {MOST_NODES} values in all", found)
            raise _UnusableError
        if isinstance(node, yaml.MappingNode):
            return self._mapping(node, (*above, node), place)
        if isinstance(node, yaml.SequenceNode):
            return Listing(tuple(self.entry(n, (*above, node)) for n in node.value), place)
        return Scalar(node.value.strip(), place)

    def _mapping(self, node: yaml.MappingNode, above: tuple[yaml.Node, ...], place: Position) -> Mapping:
        own, merged = Mapping({}, {}, place), Mapping({}, {}, place)
        for key, value in node.value:
            key_place = _place(key.start_mark, self.shown)
            if not isinstance(key, yaml.ScalarNode):
                self.report.error("key", key_place, (), "a name as the key", "a list or mapping as the key")
            elif key.tag == _MERGE:
                self._merge(self.entry(value, above), merged, key_place)
            elif key.value in own.entries:
                first = own.keys[key.value]
                found = f"{key.value!r} a second time (first in line {first.line})"
                self.report.error(
                    "duplicate-key", key_place, (), "each key once", found, "leave one of them out"
                )
            else:
                own.entries[key.value], own.keys[key.value] = self.entry(value, above), key_place
        return Mapping({**merged.entries, **own.entries}, {**merged.keys, **own.keys}, place)

    def _merge(self, given: Entry, into: Mapping, place: Position) -> None:
        for one in given.items if isinstance(given, Listing) else (given,):
            if not isinstance(one, Mapping):
                self.report.error("merge", place, (), "`<<` with the alias of a mapping", "something else")
                continue
            for name, entry in one.entries.items():  # of several merged mappings the first wins
                if name not in into.entries:
                    into.entries[name], into.keys[name] = entry, one.keys[name]
