"""The sentences of the document of a release."""

from __future__ import annotations

from typing import TYPE_CHECKING

from correlate.plots.explanation_words import place_words, points
from correlate.plots.scoreboard_words import (
    chance_words,
    channel_count,
    limits_words,
    moved_words,
    signed,
    uncertainty_words,
)
from correlate.plots.sign_off_words import sign_off_words
from correlate.plots.wording import share
from correlate.reference.finding import counted
from correlate.reference.repeatability import loss_ratio_words
from correlate.store import compared_sign_offs

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from correlate.report.release_contents import ReleaseContents
    from correlate.report.release_parts import CaseWindows
    from correlate.store import SignOffToday

_MOST_COSTS = 3


def signed_today(contents: ReleaseContents) -> list[SignOffToday]:
    """Return the sign-offs of the release, each with what has changed since."""
    kept = contents.kept
    return compared_sign_offs(
        list(kept.sign_offs),
        contents.campaign,
        ratings_sha256=kept.ratings_sha256,
        evidence=contents.evidence,
    )


def sign_offs_words(signed: Sequence[SignOffToday]) -> str:
    """Say in one line who signed the release."""
    if not signed:
        return "Not signed off."
    return f"Signed off by {'; '.join(map(sign_off_words, signed))}."


def windows_words(windows: CaseWindows) -> str:
    """Say how many quantities of the windows tests and model are inside."""
    total = len(windows.model.verdicts)
    passed = sum(one.passed for one in windows.tests)
    measured = total - windows.model.count("not measurable")
    said = f"{passed} of {len(windows.tests)} tests are inside every window; "
    said += f"the model is inside {windows.model.count('inside')} of {measured} that it can be measured by"
    return said if measured == total else f"{said} ({total - measured} cannot be measured on it)"


def summary_points(contents: ReleaseContents) -> list[tuple[str, str]]:
    """Return what a manager must know, each point under a few words."""
    return [
        ("Change", _change(contents)),
        ("Limits", _limits(contents)),
        ("Held out", _held_out(contents)),
        ("Hardware", _hardware(contents)),
        ("Costs most", _costs(contents)),
        *_yardsticks(contents),
        ("Data", _data(contents)),
        ("Evidence", _evidence(contents)),
        ("Signed", sign_offs_words(signed_today(contents))),
    ]


def held_out_gap(contents: ReleaseContents) -> float | None:
    """Return how far the held-out load cases lie above the others; None where either is not rated."""
    board = contents.board
    if board.held_out is None or board.held_out.score.overall is None or board.total.score.overall is None:
        return None
    return board.held_out.score.overall - board.total.score.overall


def _change(contents: ReleaseContents) -> str:
    board, change = contents.board, contents.board.total.change
    if board.against is None or change is None:
        return "There is no earlier release to compare with."
    if change.difference is None:
        return f"Against {board.against}: {change.verdict}."
    said = f"{signed(change.difference)} against {board.against}, {chance_words(change)}"
    if not board.moved:
        return f"{said}; {moved_words(board)}."
    unknown = sum(one.estimate is None for one in board.moved)
    if unknown:
        counted = channel_count(unknown)
        return f"{said}. {_capital(moved_words(board))}; of {counted} chance is not known: one repeat."
    return f"{said}. Beyond chance between repeats: {moved_words(board)}."


def _limits(contents: ReleaseContents) -> str:
    board = contents.board
    words = _sentence(limits_words(board))
    broken = [f"{_capital(one.name)}: {one.reason}." for one in board.open_checks[:_MOST_COSTS]]
    return " ".join([words, *broken])


def _held_out(contents: ReleaseContents) -> str:
    board = contents.board
    if board.held_out is None:
        return "No load case is held out of tuning: there is no independent evidence."
    gap = held_out_gap(contents)
    if gap is None:
        return "No held-out load case is rated."
    names = joined([line.score.name for line in board.held_out_cases])
    rated = f"{board.held_out.score.overall:.3f} over {names}"
    return f"{rated}, {signed(gap)} against the load cases that tuning may use."


def _hardware(contents: ReleaseContents) -> str:
    ceiling = contents.board.total.ceiling
    if ceiling is None or ceiling.overall is None:
        return f"The repeatability of the tests is not known: {contents.no_ceilings}."
    return (
        f"The tests agree with each other to {ceiling.overall:.3f}; a model as good as the hardware "
        "cannot expect a higher rating. The model has "
        f"{loss_ratio_words(contents.board.total.loss_ratio)} loss."
    )


def _costs(contents: ReleaseContents) -> str:
    found = contents.explanation
    lost = sum(one.cost for one in found.costs)
    listed = [one for one in found.costs[:_MOST_COSTS] if one.cost > 0]
    if not listed:
        return "Nothing is lost."
    words = "; ".join(f"{place_words(one)} ({points(one.cost)})" for one in listed)
    part = share(round(sum(one.cost for one in listed) / lost, 2))
    return f"{part} of the lost points: {words}."


def _yardsticks(contents: ReleaseContents) -> Iterator[tuple[str, str]]:
    windows = [case.windows for case in contents.cases if case.windows is not None]
    if not windows:
        return
    inside = sum(one.model.count("inside") for one in windows)
    measured = sum(len(one.model.verdicts) - one.model.count("not measurable") for one in windows)
    passed = sum(test.passed for one in windows for test in one.tests)
    tests = sum(len(one.tests) for one in windows)
    yield (
        "Windows",
        (
            f"{passed} of {tests} tests are inside every qualification window; of the quantities that can be "
            f"measured on the model, {inside} of {measured} are."
        ),
    )


def _data(contents: ReleaseContents) -> str:
    score, records = contents.score, contents.scores.records
    own = sum(record.release == score.release for record in records)
    held = score.held_out
    rated = score.training.rated + (0 if held is None else held.rated)
    expected = score.training.expected + (0 if held is None else held.expected)
    return f"{rated} of {expected} channels are rated, from {own} pairs of test and model."


def _evidence(contents: ReleaseContents) -> str:
    evidence = contents.evidence
    marks = evidence.marks()
    said = _sentence(uncertainty_words(contents.score))
    lacking = f" Incomplete: {', '.join(marks)}." if marks else " Nothing that was planned is missing."
    waived = f" Waived: {counted(len(evidence.waived), 'finding')} in the tests." if evidence.waived else ""
    return f"{said}{lacking}{waived} Appendix A lists them."


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _sentence(words: str) -> str:
    return _capital(words).rstrip(".") + "."


def joined(words: Sequence[str]) -> str:
    """Return words as a list in a sentence.

    Examples
    --------
    >>> joined(["a", "b", "c"]), joined(["a"])
    ('a, b and c', 'a')
    """
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)
