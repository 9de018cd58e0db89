"""May this release pass? Bars and the last release decide, every failed check has a reason."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from correlate.campaign.comparison import compare
from correlate.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from correlate.campaign.aggregation import ReleaseScore, Score
    from correlate.campaign.comparison import Change


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One question of the gate and its answer.

    Attributes
    ----------
    name
        What was checked, in words.
    reason
        Why it failed; empty when it passed.
    """

    name: str
    reason: str

    @property
    def is_passed(self) -> bool:
        """Whether there is nothing against it."""
        return not self.reason


def gate(
    candidate: ReleaseScore,
    *,
    baseline: ReleaseScore | None = None,
    least: float | None = None,
    largest_loss: float | None = None,
) -> list[Check]:
    """Check a release against a bar and against the release before it.

    Parameters
    ----------
    candidate
        The release in question.
    baseline
        The release it must not fall behind.
    least
        Least rating of the release, and of its held-out load cases.
    largest_loss
        Most that the release, a load case, a body region or a channel may lose against the baseline. A loss
        within the test scatter of a channel does not fail.

    Returns
    -------
    list of Check

    Raises
    ------
    SettingsError
        A limit outside [0, 1], or a loss without a baseline.
    """
    _check_limits(baseline, least, largest_loss)
    checks = [_complete(candidate.training, baseline.training if baseline else None)]
    totals = [("release", candidate.training)]
    if candidate.held_out is not None:
        totals.append(("held-out load cases", candidate.held_out))
    if least is not None:
        checks += [_at_least(words, score, least) for words, score in totals]
    if baseline is not None and largest_loss is not None:
        checks += _losses(baseline, candidate, largest_loss)
    return checks


def _check_limits(baseline: ReleaseScore | None, least: float | None, largest_loss: float | None) -> None:
    for name, value in (("the least rating", least), ("the largest loss", largest_loss)):
        if value is not None and not 0.0 <= value <= 1.0:
            raise SettingsError(f"{name} is {value}", where="gate", remedy="give a number from 0 to 1")
    if largest_loss is not None and baseline is None:
        raise SettingsError(
            "a largest loss needs a release to lose against", where="gate", remedy="name a baseline"
        )


def _complete(score: Score, baseline: Score | None) -> Check:
    """Fail when fewer channels are rated than in the baseline, or none at all."""
    wanted = baseline.rated if baseline else 1
    reason = "" if score.rated >= wanted else f"only {score.completeness} rated, {wanted} before"
    if not score.rated:
        reason = "no channel is rated"
    return Check(name="channels that are rated", reason=reason)


def _at_least(words: str, score: Score, least: float) -> Check:
    found = score.overall
    if found is None:
        return Check(name=f"{words}: rating", reason="nothing is rated")
    reason = f"{found:.3f} is under {least:.3f}" if found < least else ""
    return Check(name=f"{words}: rating at least {least:g}", reason=reason)


def _losses(baseline: ReleaseScore, candidate: ReleaseScore, largest: float) -> Iterator[Check]:
    for change in compare(baseline, candidate):
        name = f"{_place(change)}: no loss above {largest:g} against {baseline.release}"
        yield Check(name=name, reason=_loss(change, largest))


def _loss(change: Change, largest: float) -> str:
    if change.before is not None and change.after is None:
        return f"not rated any more, {change.before:.3f} before"
    if change.difference is None or -change.difference <= largest:
        return ""
    if change.kind == "channel" and change.is_within_scatter:
        return ""
    return f"{change.after:.3f} after {change.before:.3f}, a loss of {-change.difference:.3f}"


def _place(change: Change) -> str:
    where = " / ".join(change.place) if change.place else "release"
    return f"{where} (held out)" if change.held_out else where
