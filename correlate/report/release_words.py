"""The sentences of the report of a release."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from correlate.campaign import decide
from correlate.plots.decision_words import OBJECTION_WORDS
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
from correlate.plots.wording import as_sentence, share
from correlate.reference.finding import counted
from correlate.reference.repeatability import loss_ratio_words
from correlate.store import compared_sign_offs

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from correlate.campaign import Change
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


def windows_words(windows: CaseWindows) -> str:
    """Say how many quantities of the windows tests and model are inside."""
    total = len(windows.model.verdicts)
    passed = sum(one.passed for one in windows.tests)
    measured = total - windows.model.count("not measurable")
    said = f"{passed} of {len(windows.tests)} tests are inside every window; "
    said += f"the model is inside {windows.model.count('inside')} of {measured} that it can be measured by"
    return said if measured == total else f"{said} ({total - measured} cannot be measured on it)"


def objections(contents: ReleaseContents) -> list[tuple[str, list[str]]]:
    """Return the objections to a release, by kind; the entries do not repeat their kind."""
    decision = decide(contents.campaign, contents.board)
    found = {
        words: [one.words for one in decision.objections if one.kinds[0] == kind]
        for kind, words in OBJECTION_WORDS.items()
    }
    found["Worse"] = [_moved(change) for change in contents.board.worse]
    found["Waived"] = list(_waived(contents))
    found["Sign-off"] = list(_unsigned(contents))
    return [(kind, _shortened(entries)) for kind, entries in found.items() if entries]


_MOST_OBJECTIONS: Final = 5
"""Of a kind, in the report; the appendix has all."""


def _shortened(entries: list[str]) -> list[str]:
    more = len(entries) - _MOST_OBJECTIONS
    if more <= 1:
        return entries
    return [*entries[:_MOST_OBJECTIONS], f"{more} more, in the appendix"]


def _moved(change: Change) -> str:
    difference = "" if change.difference is None else signed(change.difference)
    return f"{change.place[0]}, {change.words}: {difference}, {chance_words(change)}"


def _waived(contents: ReleaseContents) -> Iterator[str]:
    if contents.evidence.waived:
        yield f"{counted(len(contents.evidence.waived), 'finding')} in the tests waived"


def _unsigned(contents: ReleaseContents) -> Iterator[str]:
    signed = signed_today(contents)
    if not signed:
        yield "not signed off"
    yield from (sign_off_words(one) for one in signed if not one.is_current)


def standing(contents: ReleaseContents) -> list[tuple[str, str]]:
    """Return the basis of a rating, each point under a short heading."""
    return [
        ("Change", _change(contents)),
        ("Checks", as_sentence(limits_words(contents.board))),
        ("Held out", _held_out(contents)),
        ("Ceiling", _ceiling(contents)),
        ("Costs most", _costs(contents)),
        *_yardsticks(contents),
        ("Data", _data(contents)),
        ("Evidence", _evidence(contents)),
    ]


def unrated_words(contents: ReleaseContents) -> str:
    """Say whether every pair of the release is rated."""
    own = [one for one in contents.scores.unrated if one.release == contents.release.name]
    if not own:
        return "Every pair that the campaign names could be rated."
    return f"{_capital(counted(len(own), 'pair'))} could not be rated; the appendix gives the reasons."


def held_out_words(contents: ReleaseContents) -> str:
    """Say how much evidence there is that tuning could not use."""
    if contents.board.held_out is None:
        return "No load case is held out of tuning, so there is no independent evidence."
    return "The held-out evidence is based on few load cases."


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


def _held_out(contents: ReleaseContents) -> str:
    board = contents.board
    if board.held_out is None:
        return "No load case is held out of tuning, so there is no independent evidence."
    gap = held_out_gap(contents)
    if gap is None:
        return "No held-out load case is rated."
    names = joined([line.score.name for line in board.held_out_cases])
    rated = f"{board.held_out.score.overall:.3f} over {names}"
    return f"{rated}, {signed(gap)} against the load cases that tuning may use."


def _ceiling(contents: ReleaseContents) -> str:
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
    said = as_sentence(uncertainty_words(contents.score))
    lacking = f" Incomplete: {', '.join(marks)}." if marks else " Nothing that was planned is missing."
    waived = f" Waived: {counted(len(evidence.waived), 'finding')} in the tests." if evidence.waived else ""
    return f"{said}{lacking}{waived} The appendix lists everything."


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def joined(words: Sequence[str]) -> str:
    """Return words as a list in a sentence.

    Examples
    --------
    >>> joined(["a", "b", "c"]), joined(["a"])
    ('a, b and c', 'a')
    """
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)
