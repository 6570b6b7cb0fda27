"""Mappings that cannot be changed, for records by id and for tables inside a record."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any


class Frozen(Mapping[str, Any]):
    """Values by name that cannot be changed; `Case.vary` makes a changed copy."""

    def __init__(self, items: Mapping[str, Any] | None = None) -> None:
        self._items = dict(items or {})

    def __getitem__(self, key: str) -> Any:
        return self._items[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._items)

    def __len__(self) -> int:
        return len(self._items)

    def __repr__(self) -> str:
        return f"Frozen({self._items!r})"


def freeze(value: Any) -> Any:
    """The same value with every mapping in it frozen and every list a tuple."""
    if isinstance(value, Mapping):
        return Frozen({str(k): freeze(v) for k, v in value.items()})
    return tuple(freeze(v) for v in value) if isinstance(value, list | tuple) else value
