"""Lines of the scoreboard as rows of a page: numbers with the words beside them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from correlate.plots.scoreboard_words import chance_brief, signed

if TYPE_CHECKING:
    from correlate.campaign import BoardLine, Change


def board_row(line: BoardLine, *, held_out: bool = False) -> dict[str, Any]:
    """Return a line of the scoreboard with its words."""
    change = line.change
    known = change is not None and change.difference is not None
    return {
        "score": line.score,
        "ceiling": line.ceiling_rating,
        "change_value": None if change is None else change.difference,
        "difference": difference_words(change),
        "scatter": chance_brief(change) if change is not None and known else "",
        "held_out": held_out,
        "marks": line.marks,
    }


def difference_words(change: Change | None) -> str:
    """Return a change with its sign; nothing where it is not known."""
    return "" if change is None or change.difference is None else signed(change.difference)
