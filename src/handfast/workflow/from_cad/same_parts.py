"""Which part, feature and mate of one state of a product is which of another, whatever they are called."""

from __future__ import annotations

from typing import Any

from handfast.workflow.from_cad.identity import Match, matches
from handfast.workflow.from_cad.renamed import Names
from handfast.workflow.from_cad.written_feature import WrittenFeature, written_feature

Tree = dict[str, Any]
_ALIKE = 0.7  # share of features that make a part of another name the same part


def names_between(old: Tree, new: Tree, names_tell: bool = False) -> tuple[Names, dict[str, list[Match]]]:
    """Names by which what is in `new` is called in `old`; and by old part what became of its features.

    names_tell: whether equal names mean the same feature, as between two states of one file; names that were
    made for a drawing are numbered anew for each.
    """
    parts = _parts(old["parts"], new["parts"])
    features: dict[tuple[str, str], str] = {}
    told: dict[str, list[Match]] = {}
    for now, before in parts.items():
        a, b = _features(old["parts"][before]), _features(new["parts"][now])
        if names_tell:
            common = set(old["parts"][before].get("features") or {}) & set(
                new["parts"][now].get("features") or {}
            )
            a, b = [f for f in a if f.name not in common], [f for f in b if f.name not in common]
        found = matches(a, b)
        told[before] = found
        taken = {m.old for m in found if m.how != "doubtful"}
        for m in found:
            if m.how != "doubtful":
                features[now, m.new] = m.old
        for f in b:
            if (now, f.name) not in features and f.name in {x.name for x in a} | taken:
                features[now, f.name] = _free(f.name, {x.name for x in a} | {x.name for x in b})
    mates = _mates(old, new, parts)
    renamed = {now: before for now, before in parts.items() if now != before}
    return Names(renamed, features, mates, _patterns(old, new, mates), _groups(old, new, parts)), told


def _parts(old: Tree, new: Tree) -> dict[str, str]:
    """Old name by new one: equal names, then parts whose features are nearly all the same."""
    found = {name: name for name in new if name in old}
    for now in [n for n in new if n not in found]:
        for before in [o for o in old if o not in found.values()]:
            a, b = _features(old[before]), _features(new[now])
            same = sum(m.how == "same" for m in matches(a, b))
            if a and same >= _ALIKE * max(len(a), len(b)):
                found[now] = before
                break
    return found


def _mates(old: Tree, new: Tree, parts: dict[str, str]) -> dict[str, str]:
    """A mate is known by the part that it brings home."""
    by_part = {str(m.get("part")): name for name, m in (old.get("mates") or {}).items()}
    found = {}
    for name, mate in (new.get("mates") or {}).items():
        before = by_part.get(parts.get(str(mate.get("part")), ""))
        if before is not None and before != name:
            found[name] = before
    return found


def _patterns(old: Tree, new: Tree, mates: dict[str, str]) -> dict[str, str]:
    """A tightening pattern is known by its screws: the one that has most of them."""
    found: dict[str, str] = {}
    for name, pattern in (new.get("tightenings") or {}).items():
        screws = {mates.get(s, s) for s in pattern.get("screws", [])}
        common = {
            o: len(screws & set(p.get("screws", []))) for o, p in (old.get("tightenings") or {}).items()
        }
        best = max(common, key=lambda o: common[o], default=None)
        if best is not None and common[best] and best != name and best not in found.values():
            found[name] = best
    return found


def _groups(old: Tree, new: Tree, parts: dict[str, str]) -> dict[str, str]:
    """A sub-assembly is known by the part that it is built on."""
    by_base = {str(g.get("base")): name for name, g in (old.get("subassemblies") or {}).items()}
    found = {}
    for name, group in (new.get("subassemblies") or {}).items():
        before = by_base.get(parts.get(str(group.get("base")), ""))
        if before is not None and before != name:
            found[name] = before
    return found


def _features(part: Tree) -> list[WrittenFeature]:
    out = []
    for name, values in (part.get("features") or {}).items():
        try:
            out.append(written_feature(str(name), values))
        except (ValueError, KeyError, TypeError):
            continue  # not one that was read from a drawing
    return out


def _free(name: str, taken: set[str]) -> str:
    k = 2
    while f"{name}_new{k}" in taken:
        k += 1
    return f"{name}_new{k}" if f"{name}_new" in taken else f"{name}_new"
