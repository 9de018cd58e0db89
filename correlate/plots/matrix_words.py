"""The sentences of the matrix: what became worse, where most is lost, and the words of one cell."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Final

from correlate.evaluation.tables import RATING
from correlate.plots.scoreboard_words import chance_brief, channel_count, signed
from correlate.plots.wording import channel_title

if TYPE_CHECKING:
    from correlate.campaign import Campaign, MatrixCell, ReleaseMatrix
    from correlate.campaign.matrix import CellState

STATE_MARKS: Final[dict[str, str]] = {
    "data error": "E",
    "stale": "S",
    "repeats missing": "M",
    "data finding": "F",
    "waived finding": "W",
}
"""Letter of each state of the data in a cell; a cell that is not rated says so in words."""

STATE_WORDS: Final[dict[CellState, str]] = {
    "not rated": "not rated",
    "data error": "with data errors",
    "stale": "stale",
    "repeats missing": "with missing repeats",
    "data finding": "with data findings",
    "waived finding": "with waived findings",
    "rated": "with sound data",
}
"""Each state behind a number of channels, or as the entry of a menu; worst first."""


def matrix_title(matrix: ReleaseMatrix, release: str) -> str:
    """Say in one line how many channels of a release became worse and better.

    Parameters
    ----------
    matrix
        With the cells of the release.
    release
        Its name.

    Returns
    -------
    str
        For instance ``Release A3: 2 channels worse than A2, 12 better``, with ``on incomplete evidence``
        where anything is not rated, stale, faulty or missing.
    """
    cells = matrix.of_release(release)
    against = matrix.against[release]
    if against is None:
        said = f"Release {release}: {channel_count(len(cells))}, nothing to compare with"
    else:
        moved = Counter(one.moved for one in cells)
        worse = f"{channel_count(moved['worse'])} worse than {against}"
        said = f"Release {release}: {worse}, {moved['better'] or 'none'} better"
    whole = all(one.state in {"rated", "data finding", "waived finding"} for one in cells)
    return said if whole else f"{said}, on incomplete evidence"


def states_sentence(matrix: ReleaseMatrix, release: str) -> str:
    """Count the channels of a release by the worst state of each.

    Parameters
    ----------
    matrix
        With the cells of the release.
    release
        Its name.

    Returns
    -------
    str
        For instance ``34 channels in 8 load cases: 1 not rated, 3 stale, 30 with sound data``.
    """
    cells = matrix.of_release(release)
    counts = Counter(one.state for one in cells)
    cases = len({one.load_case for one in cells})
    listed = ", ".join(f"{counts[state]} {words}" for state, words in STATE_WORDS.items() if counts[state])
    return f"{channel_count(len(cells))} in {cases} load case{'' if cases == 1 else 's'}: {listed}"


def ceilings_sentence(campaign: Campaign, matrix: ReleaseMatrix, release: str) -> str:
    """Say what is not known of the ceilings, what that means, and how to compute them.

    Parameters
    ----------
    campaign
        Whose project folder the command names.
    matrix
        With the cells of the release.
    release
        Its name.

    Returns
    -------
    str
        Empty where every channel has a ceiling.
    """
    cells = matrix.of_release(release)
    unknown = sum(one.ceiling is None for one in cells)
    if not unknown:
        return ""
    if campaign.scoring.main != RATING:
        main = campaign.scoring.main
        return f"Ceilings exist for the ISO/TS 18571 rating only; this campaign combines {main}."
    command = f"run correlate ceiling {campaign.folder}"
    if unknown == len(cells):
        return f"No ceiling is known, so points lost beyond scatter are not known either; {command}."
    return (
        f"{unknown} of {channel_count(len(cells))} without a ceiling, "
        f"sorted as if it were 1: fewer than three repeats, or not computed; {command}."
    )


def cell_sentence(cell: MatrixCell, *, case_title: str, against: str | None) -> str:
    """Say everything that a cell shows.

    Parameters
    ----------
    cell
        Of a matrix.
    case_title
        Load case in words.
    against
        Name of the baseline; None where there is none.

    Returns
    -------
    str
        Place, rating, ceiling, points lost, change and states with their reasons.
    """
    rated = "not rated" if cell.rating is None else " ".join([f"{cell.rating:.3f}", cell.grade or ""]).strip()
    parts = [f"{channel_title(cell.words)}, {case_title}, {cell.release}: {rated}", _ceiling_words(cell)]
    change = cell.change
    if against is not None and change is not None:
        number = "" if change.difference is None else f"{signed(change.difference)}, "
        marks = f" ({'; '.join(change.marks)})" if change.marks else ""
        parts.append(f"against {against}: {number}{chance_brief(change)}{marks}")
    for state, reasons in cell.states.items():
        parts += [f"{state}: {'; '.join(reasons)}"] if reasons else []
    return ". ".join(f"{part[:1].upper()}{part[1:]}" for part in parts) + "."


def _ceiling_words(cell: MatrixCell) -> str:
    if cell.ceiling is None:
        return "ceiling not known"
    if "data error" in cell.states:
        return f"ceiling {cell.ceiling:.3f}, of tests with errors or not checked"
    lost = "" if cell.lost is None else f", {cell.lost:.3f} lost beyond scatter"
    return f"ceiling {cell.ceiling:.3f}{lost}"
