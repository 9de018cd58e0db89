"""The sentences of the scoreboard: what a release is worth, what changed, and which limits are open."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from correlate.campaign import Change, Scoreboard


def signed(difference: float) -> str:
    """Return a difference of ratings with its sign.

    Parameters
    ----------
    difference
        In [-1, 1].

    Returns
    -------
    str

    Examples
    --------
    >>> signed(0.0614), signed(-0.2), signed(0.0001)
    ('+0.061', '−0.200', '±0.000')
    """
    text = f"{difference:+.3f}"
    return "±0.000" if float(text) == 0 else text.replace("-", "−")


def scatter_words(change: Change) -> str:
    """Say whether a change is more than the tests scatter.

    Parameters
    ----------
    change
        Of one number.

    Returns
    -------
    str
    """
    if change.difference is None:
        return change.verdict
    if change.is_within_scatter is None:
        return "scatter of the tests not known"
    return "within test scatter" if change.is_within_scatter else "more than test scatter"


def scatter_brief(change: Change) -> str:
    """Say the same in two words, for a table.

    Parameters
    ----------
    change
        Of one number.

    Returns
    -------
    str
    """
    if change.is_within_scatter is None:
        return "scatter unknown"
    return "within scatter" if change.is_within_scatter else "beyond scatter"


def board_title(board: Scoreboard) -> str:
    """Return the answer in one line: grade, and better or worse than the release before.

    Parameters
    ----------
    board
        Of a release.

    Returns
    -------
    str
        For instance ``Release A3 is good, and better than A2``.
    """
    score, change = board.total.score, board.total.change
    name = f"Release {board.release}"
    worth = f"{name} is {score.grade}" if score.grade else f"{name} is rated {_number(score.overall)}"
    if score.overall is None:
        return f"{name} is not rated"
    if change is None or change.difference is None:
        return worth
    if change.is_within_scatter or signed(change.difference).startswith("±"):
        return f"{worth}, no different from {board.against}"
    way = "better" if change.difference > 0 else "worse"
    joined = "and" if (change.difference > 0) == (score.grade != "poor") else "but"
    return f"{worth}, {joined} {way} than {board.against}"


def limits_words(board: Scoreboard) -> str:
    """Say how many limits are open.

    Parameters
    ----------
    board
        Of a release.

    Returns
    -------
    str
    """
    count, broken = len(board.checks), len(board.open_checks)
    if not broken and not board.limits.are_set:
        return "no limits are set"
    if not broken:
        return "the one check is met" if count == 1 else f"all {count} checks are met"
    return f"{broken} of {count} checks {'is' if broken == 1 else 'are'} not met"


def moved_words(board: Scoreboard) -> str:
    """Say how many channels got better and worse by more than the tests scatter.

    Parameters
    ----------
    board
        Of a release.

    Returns
    -------
    str
    """
    if not board.moved:
        return "no channel changed by more than test scatter"
    return f"{channel_count(len(board.better))} better, {channel_count(len(board.worse))} worse"


def channel_count(count: int) -> str:
    """Return a number of channels in words.

    Parameters
    ----------
    count
        How many.

    Returns
    -------
    str

    Examples
    --------
    >>> channel_count(0), channel_count(1), channel_count(6)
    ('no channel', '1 channel', '6 channels')
    """
    return f"{count or 'no'} channel{'' if count < 2 else 's'}"


def _number(value: float | None) -> str:
    return "–" if value is None else f"{value:.3f}"
