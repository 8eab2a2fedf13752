"""Looking up a record by name, with an answer that helps when it is not there."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol, TypeVar


class Named(Protocol):
    """Anything with a name."""

    @property
    def name(self) -> str:
        """The name."""
        ...


N = TypeVar("N", bound=Named)


def find(items: Iterable[N], name: str, what: str) -> N:
    """The item of that name. Raises KeyError with the names that there are."""
    listed = tuple(items)
    for item in listed:
        if item.name == name:
            return item
    raise KeyError(f"{what} {name!r} is not there; there are: {', '.join(i.name for i in listed) or 'none'}")
