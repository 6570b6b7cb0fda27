"""Several tables or pictures shown under each other, one for each build."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any


class Pages:
    """Tables or pictures in order; as text, their texts in order."""

    def __init__(self, parts: Sequence[Any]) -> None:
        self.parts = tuple(parts)

    def __repr__(self) -> str:
        return "\n\n".join(repr(part) for part in self.parts)

    def _repr_html_(self) -> str:
        return "".join(f'<div style="margin-bottom:18px">{_html(p)}</div>' for p in self.parts)


def of_each(builds: Iterable[str], make: Callable[..., Any], *given: Any, after: Any = ()) -> Pages:
    """What `make(*given, build, *after)` gives for every build."""
    return Pages([make(*given, build, *after) for build in builds])


def _html(part: Any) -> str:
    if hasattr(part, "_repr_html_"):
        return part._repr_html_()
    return part._repr_svg_()
