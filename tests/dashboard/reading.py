"""Reads what a page would show out of its components."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from dash.development.base_component import Component

if TYPE_CHECKING:
    from collections.abc import Iterator


def parts(of: Any) -> Iterator[Any]:
    """Yield a component and everything inside it."""
    if isinstance(of, (list, tuple)):
        for one in of:
            yield from parts(one)
    elif isinstance(of, Component):
        yield of
        yield from parts(getattr(of, "children", None))


def properties(of: Any, kind: type[Component]) -> list[dict[str, Any]]:
    """Return what is set on every component of a kind."""
    found: list[Any] = [part for part in parts(of) if isinstance(part, kind)]
    return [part.to_plotly_json()["props"] for part in found]


def text(of: Any) -> str:
    """Return the text inside components, one space between the pieces."""
    if isinstance(of, Component):
        return text(getattr(of, "children", None))
    if isinstance(of, (list, tuple)):
        return " ".join(piece for piece in (text(one) for one in of) if piece)
    return "" if of is None else str(of)
