"""The hash of what a file says, whatever its layout."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from handfast.files.spec import Fields, Named, Repeated, Row, Spec
from handfast.files.yaml_tree import Entry, Listing, Mapping, Scalar


def content_sha256(entry: Entry, spec: Spec) -> str:
    """sha256 of the content of a file: comments, white space, quotes, anchors and key order do not matter.

    Order counts only where it has a meaning: the mates of an order that is given, the columns of the hands.
    """
    text = json.dumps(_content(entry, spec), ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def _content(entry: Entry, spec: Spec | None) -> Any:
    if isinstance(entry, Scalar):
        return " ".join(entry.text.split())
    if isinstance(entry, Listing):
        return [_content(item, _item_spec(spec, i)) for i, item in enumerate(entry.items)]
    pairs = [(key, _content(value, _value_spec(spec, key))) for key, value in _pairs(entry)]
    ordered = isinstance(spec, Named) and spec.ordered
    # A list of pairs keeps its order; an object is sorted.
    return [[k, v] for k, v in pairs] if ordered else dict(sorted(pairs))


def _pairs(entry: Mapping) -> list[tuple[str, Entry]]:
    return list(entry.entries.items())


def _item_spec(spec: Spec | None, index: int) -> Spec | None:
    if isinstance(spec, Repeated):
        return spec.item
    return spec.items[index] if isinstance(spec, Row) and index < len(spec.items) else None


def _value_spec(spec: Spec | None, key: str) -> Spec | None:
    if isinstance(spec, Named):
        return spec.item
    if isinstance(spec, Fields):
        return next((f.spec for f in spec.fields if f.name == key), None)
    return None
