"""Every rule there is."""

from __future__ import annotations

from handfast.checking.case import Rule
from handfast.checking.rules import (
    arms,
    artefacts,
    drawn_sizes,
    error_sources,
    features,
    hands,
    holders,
    home,
    names,
    order,
    pairs,
    reading,
    screws,
    shapes,
    subassemblies,
)

RULES: tuple[Rule, ...] = (
    *reading.RULES,
    *names.RULES,
    *shapes.RULES,
    *features.RULES,
    *drawn_sizes.RULES,
    *holders.RULES,
    *pairs.RULES,
    *home.RULES,
    *screws.RULES,
    *order.RULES,
    *subassemblies.RULES,
    *arms.RULES,
    *artefacts.RULES,
    *hands.RULES,
    *error_sources.RULES,
)


def explain(name: str) -> str:
    """What a rule asks for and why. Raises KeyError with the names there are."""
    texts = {rule.name: rule.describe for rule in RULES}
    if name not in texts:
        raise KeyError(f"there is no rule {name!r}; there are: {', '.join(sorted(texts))}")
    return texts[name]
