"""The sentences of the scoreboard: what a release is worth, what changed, and which limits are open."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from correlate.campaign import Change, ReleaseScore, Score, Scoreboard


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


def chance_words(change: Change) -> str:
    """Say whether a change is more than chance between repeats, with its interval.

    Parameters
    ----------
    change
        Of one number.

    Returns
    -------
    str
        For instance ``better (95 % interval +0.020 to +0.041)``.
    """
    if change.difference is None or change.estimate is None:
        return chance_brief(change)
    return f"{change.verdict} (95 % interval {difference_interval(change)})"


def difference_interval(change: Change) -> str:
    """Return the 95 % interval of a difference; a dash where it is not known.

    Parameters
    ----------
    change
        Of one number.

    Returns
    -------
    str
    """
    if change.estimate is None:
        return "–"
    return f"{signed(change.estimate.lower())} to {signed(change.estimate.upper())}"


def chance_brief(change: Change) -> str:
    """Say the same in a few words, for a table.

    Parameters
    ----------
    change
        Of one number.

    Returns
    -------
    str
        ``better``, ``worse``, ``not distinguishable``, or that too few repeats are there to tell.
    """
    if change.difference is None:
        return change.verdict
    return "one repeat, chance unknown" if change.estimate is None else change.verdict


def scatter_sentence(score: Score) -> str:
    """Say how far the scatter of the repeats leaves a rating open.

    Parameters
    ----------
    score
        Any number of a release.

    Returns
    -------
    str
    """
    estimate = score.estimate
    if estimate is None:
        return "the scatter of the repeats is not known (one repeat)"
    return f"±{estimate.half_width():.3f} from the scatter of the repeats (95 %)"


def uncertainty_words(release: ReleaseScore) -> str:
    """Say how well a release's rating is known: scatter of the repeats, and what is not rated.

    Parameters
    ----------
    release
        Its numbers.

    Returns
    -------
    str
        One sentence.
    """
    score = release.training
    if score.overall is None:
        return f"Release {release.release} is not rated."
    missing = score.expected - score.rated
    lacking = (
        f"; {channel_count(missing)} not rated: {score.worst:.3f} if rated 0, {score.best:.3f} if rated 1"
        if missing
        else "; every channel is rated"
    )
    return f"Release {release.release}: {score.overall:.3f}, {scatter_sentence(score)}{lacking}."


def board_title(board: Scoreboard) -> str:
    """Return the answer in one line: grade, and better or worse than the release before.

    Parameters
    ----------
    board
        Of a release.

    Returns
    -------
    str
        For instance ``Release A3 is good, and better than A2``, with ``on incomplete evidence`` where its
        rating stands on less than it should.
    """
    score, change = board.total.score, board.total.change
    name = f"Release {board.release}"
    worth = f"{name} is {score.grade}" if score.grade else f"{name} is rated {_number(score.overall)}"
    if score.overall is None:
        return f"{name} is not rated"
    said = f"{worth}{_against(board, change)}"
    lines = [board.total, *([board.held_out] if board.held_out is not None else [])]
    return f"{said}, on incomplete evidence" if any(line.marks for line in lines) else said


def _against(board: Scoreboard, change: Change | None) -> str:
    """Return how the release stands against the other, to follow what it is worth."""
    if change is None or change.difference is None:
        return ""
    if change.is_distinguishable is False or signed(change.difference).startswith("±"):
        return f", not distinguishable from {board.against}"
    way = "better" if change.difference > 0 else "worse"
    joined = "and" if (change.difference > 0) == (board.total.score.grade != "poor") else "but"
    return f", {joined} {way} than {board.against}"


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
        return "the only check is met" if count == 1 else f"all {count} checks are met"
    return f"{broken} of {count} checks {'is' if broken == 1 else 'are'} not met"


def moved_words(board: Scoreboard) -> str:
    """Say how many channels became better and worse beyond chance between repeats.

    Parameters
    ----------
    board
        Of a release.

    Returns
    -------
    str
    """
    if not board.moved:
        return "no channel changed beyond chance between repeats"
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
