"""A product's tree with parts, features and mates called otherwise, wherever they are referred to."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

Tree = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Names:
    """parts: new name by old one; features: by (part as it was called, feature); mates; patterns: of
    tightening; groups: sub-assemblies."""

    parts: dict[str, str] = field(default_factory=dict)
    features: dict[tuple[str, str], str] = field(default_factory=dict)
    mates: dict[str, str] = field(default_factory=dict)
    patterns: dict[str, str] = field(default_factory=dict)
    groups: dict[str, str] = field(default_factory=dict)

    def part(self, name: str) -> str:
        """Of a part."""
        return self.parts.get(name, name)

    def feature(self, part: str, name: str) -> str:
        """Of a feature of a part, by the part's old name."""
        return self.features.get((part, name), name)

    def mate(self, name: str) -> str:
        """Of a mate."""
        return self.mates.get(name, name)


def renamed(tree: Tree, names: Names) -> Tree:
    """The same product under other names."""
    out = dict(tree)
    out["base"] = names.part(str(tree.get("base", "")))
    out["parts"] = {
        names.part(part): _part(part, values, names) for part, values in (tree.get("parts") or {}).items()
    }
    out["mates"] = {
        names.mate(mate): _mate(values, names) for mate, values in (tree.get("mates") or {}).items()
    }
    if "tightenings" in tree:
        out["tightenings"] = {
            names.patterns.get(key, key): {
                **pattern,
                "screws": [names.mate(s) for s in pattern.get("screws", [])],
            }
            for key, pattern in tree["tightenings"].items()
        }
    if "subassemblies" in tree:
        out["subassemblies"] = {
            names.groups.get(key, key): {
                **group,
                "base": names.part(str(group.get("base", ""))),
                "mates": [names.mate(str(m)) for m in group.get("mates", [])],
            }
            for key, group in tree["subassemblies"].items()
        }
    return out


def _part(part: str, values: Tree, names: Names) -> Tree:
    out = dict(values)
    if isinstance(values.get("features"), dict):
        out["features"] = {names.feature(part, f): v for f, v in values["features"].items()}
    return out


def _mate(values: Tree, names: Names) -> Tree:
    out = dict(values)
    part = str(values.get("part", ""))
    out["part"] = names.part(part)
    if "into" in values:
        out["into"] = names.part(str(values["into"]))
    out["pairs"] = [_pair(part, pair, names) for pair in values.get("pairs", [])]
    if "clamps" in values:
        out["clamps"] = [names.part(c) for c in values["clamps"]]
    if "held_until" in values:
        out["held_until"] = names.mate(str(values["held_until"]))
    if "needs" in values:
        out["needs"] = [names.mate(str(n)) for n in values["needs"]]
    return out


def _pair(part: str, pair: Tree, names: Names) -> Tree:
    other, _, feature = str(pair["fixed"]).partition(".")
    fixed = f"{names.part(other)}.{names.feature(other, feature)}"
    return {**pair, "moving": names.feature(part, str(pair["moving"])), "fixed": fixed}
