"""A cell of a matrix that is written down."""

from __future__ import annotations

from correlate import MatrixCell

PLAIN = MatrixCell(
    release="A2",
    load_case="drop",
    channel="x",
    words="head x",
    region="head",
    held_out=False,
    rating=0.8,
    grade="good",
    ceiling=0.95,
    change=None,
    states={"rated": ()},
)
"""Rated, with a ceiling and no change."""
