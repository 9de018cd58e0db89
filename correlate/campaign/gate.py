"""The gate: evidence, limits and the baseline decide if a release passes; every failed check has a reason."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from correlate.campaign.comparison import compare
from correlate.display import Results, common_reason, grouped, short_repr
from correlate.errors import SettingsError
from correlate.reference.finding import counted

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from correlate.campaign.aggregation import ReleaseScore, Score
    from correlate.campaign.comparison import Change
    from correlate.campaign.release_evidence import Gap, ReleaseEvidence

WAIVABLE = frozenset({"channel not rated", "repeat missing"})
"""Kinds of gaps that may be allowed by name; what is stale is rated again, a data error has its waiver."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One question of the gate and its answer.

    Attributes
    ----------
    where
        What was checked, in words: a release, a load case, the data.
    condition
        That it must meet.
    reasons
        Why it failed; empty when it passed.
    waived
        What was found and allowed by name; empty where nothing was.
    kind
        ``evidence``: what the ratings stand on; ``limit``: the ratings themselves.
    place
        Names from the load case down, as of a `Change`; empty for the release and for evidence.
    held_out
        Whether a limit is of the load cases that tuning may not use.
    """

    where: str
    condition: str
    reasons: tuple[str, ...]
    waived: str = ""
    kind: Literal["evidence", "limit"] = "evidence"
    place: tuple[str, ...] = ()
    held_out: bool = False

    @property
    def name(self) -> str:
        """Place and condition together."""
        return f"{self.where}: {self.condition}"

    @property
    def reason(self) -> str:
        """All reasons in one text; empty when it passed."""
        return "; ".join(self.reasons)

    @property
    def is_passed(self) -> bool:
        """Whether there is nothing against it."""
        return not self.reasons

    def as_row(self) -> dict[str, object]:
        """Return the check as the cells of one row."""
        return {"name": self.name, "passed": self.is_passed, "reason": self.reason, "waived": self.waived}


def gate(
    candidate: ReleaseScore,
    *,
    baseline: ReleaseScore | None = None,
    least: float | None = None,
    largest_loss: float | None = None,
    evidence: Sequence[ReleaseEvidence] = (),
    allowed: Sequence[str] = (),
) -> Results[Check]:
    """Check a release against its evidence, a bar and the release before it.

    Parameters
    ----------
    candidate
        Release to check.
    baseline
        Release to compare with.
    least
        Least rating of the release, and of its held-out load cases.
    largest_loss
        Most that the release, a load case, a body region or a channel may lose against the baseline. The
        check passes where a larger loss is ruled out with 95 % confidence, the repeats paired.
    evidence
        Of the release and of the baseline. Without it, only the number of rated channels is checked.
    allowed
        What may be missing all the same: ``LOAD-CASE``, ``LOAD-CASE/CHANNEL``, ``LOAD-CASE/REPEAT`` or
        ``LOAD-CASE/CHANNEL/REPEAT``.

    Returns
    -------
    Results
        Of `Check`, a list that becomes a data frame with ``to_frame()``.

    Raises
    ------
    SettingsError
        A limit outside [0, 1], or a loss without a baseline.

    Notes
    -----
    Every check must rule a loss out, so a release that loses more than the limit anywhere passes with at
    most 5 % probability, however many checks there are. With one repeat chance cannot be judged: the
    difference alone decides, and the name of the check says so. Figures: ``docs/statistics.md``.

    References
    ----------
    .. [1] Berger, Technometrics 24 (1982) 295-300: intersection-union tests need no correction.
    """
    _check_limits(baseline, least, largest_loss)
    checks = (
        [*_evidence_checks(evidence, allowed)]
        if evidence
        else [_complete(candidate), *([_complete(baseline)] if baseline is not None else [])]
    )
    totals = [("release", candidate.training, False)]
    if candidate.held_out is not None:
        totals.append(("held-out load cases", candidate.held_out, True))
    if least is not None:
        checks += [_at_least(words, score, least, held_out=held_out) for words, score, held_out in totals]
    if baseline is not None and largest_loss is not None:
        checks += _losses(baseline, candidate, largest_loss)
    return Results(checks)


def _check_limits(baseline: ReleaseScore | None, least: float | None, largest_loss: float | None) -> None:
    for name, value in (("the least rating", least), ("the largest loss", largest_loss)):
        if value is not None and not 0.0 <= value <= 1.0:
            raise SettingsError(f"{name} is {value}", where="gate", remedy="give a number from 0 to 1")
    if largest_loss is not None and baseline is None:
        raise SettingsError(
            "a largest loss needs a release to compare with", where="gate", remedy="name a baseline"
        )


def _complete(release: ReleaseScore) -> Check:
    """Fail when a channel of the campaign has no rating."""
    scores = [release.training, *([release.held_out] if release.held_out is not None else [])]
    short = [score.completeness for score in scores if score.rated < score.expected]
    return Check(
        where=release.release,
        condition="every channel is rated",
        reasons=(f"only {' and '.join(short)} rated",) if short else (),
    )


def _evidence_checks(evidence: Sequence[ReleaseEvidence], allowed: Sequence[str]) -> Iterator[Check]:
    """Check completeness, freshness and data of each release; the tests are those of all of them."""
    used: set[str] = set()
    for one in evidence:
        training = [gap for gap in one.gaps if not gap.held_out]
        held_out = [gap for gap in one.gaps if gap.held_out]
        for words, gaps in (
            ("every channel is rated", [gap for gap in training if gap.kind == "channel not rated"]),
            ("every repeat is rated", [gap for gap in training if gap.kind == "repeat missing"]),
            ("held-out load cases are complete", [gap for gap in held_out if gap.kind in WAIVABLE]),
        ):
            fits = [(gap, _allowance(gap, allowed)) for gap in gaps]
            used |= {name for _, name in fits if name}
            yield Check(
                where=one.release,
                condition=words,
                reasons=gap_lines(gap for gap, name in fits if not name),
                waived="; ".join(gap_lines(gap for gap, name in fits if name)),
            )
        yield Check(
            where=one.release,
            condition="ratings are of the present files",
            reasons=gap_lines(one.of("stale")),
        )
    yield Check(
        where="reference data",
        condition="no open error",
        reasons=gap_lines(evidence[0].of("data error")),
        waived="; ".join(
            [
                *(
                    f"{waived.finding.kind} in {waived.finding.short_place}, {waived.waiver.words}"
                    for waived in evidence[0].waived
                ),
                *(released.words for released in evidence[0].released),
            ]
        ),
    )
    for name in allowed:
        if name not in used:
            waived = "not needed, nothing is missing there"
            yield Check(where="allowed", condition=name, reasons=(), waived=waived)


def _allowance(gap: Gap, allowed: Sequence[str]) -> str:
    """Return the allowance that covers a gap; empty where none does."""
    names = {
        gap.load_case,
        f"{gap.load_case}/{gap.channel}",
        f"{gap.load_case}/{gap.repeat}",
        f"{gap.load_case}/{gap.channel}/{gap.repeat}",
    }
    return next((name for name in allowed if name in names), "")


def gap_lines(gaps: Iterable[Gap]) -> tuple[str, ...]:
    """Return gaps in words, those of one load case and reason together.

    Parameters
    ----------
    gaps
        Any.

    Returns
    -------
    tuple of str
    """
    return tuple(f"{where}: {reason}" for _, where, reason in gap_groups(gaps))


def gap_groups(gaps: Iterable[Gap]) -> list[tuple[str, str, str]]:
    """Return kind, place and reason of gaps, those of one kind, load case and cause together.

    Parameters
    ----------
    gaps
        Any.

    Returns
    -------
    list of tuple
    """
    return [(group[0].kind, gap_place(group), common_reason(group)) for group in equal_gaps(gaps)]


def equal_gaps(gaps: Iterable[Gap]) -> list[list[Gap]]:
    """Return gaps of one kind, load case and cause together."""
    return grouped(gaps, lambda gap: (gap.kind, gap.load_case, gap.cause or gap.reason))


def gap_place(group: Sequence[Gap]) -> str:
    """Name the place of gaps of one load case; channels and repeats are counted where there are several."""
    channels = list(dict.fromkeys(gap.channel for gap in group if gap.channel))
    repeats = list(dict.fromkeys(gap.repeat for gap in group if gap.repeat))
    parts = [group[0].load_case]
    if channels:
        parts.append(channels[0] if len(channels) == 1 else counted(len(channels), "channel"))
    if repeats:
        parts.append(repeats[0] if len(repeats) == 1 else counted(len(repeats), "repeat"))
    return " / ".join(parts)


def _at_least(words: str, score: Score, least: float, *, held_out: bool) -> Check:
    found = score.overall
    condition, reason = f"rating at least {least:g}", ""
    if found is None:
        condition, reason = "rating", "nothing is rated"
    elif found < least:
        reason = f"{found:.3f} is below {least:.3f}"
    reasons = (reason,) if reason else ()
    return Check(where=words, condition=condition, reasons=reasons, kind="limit", held_out=held_out)


def _losses(baseline: ReleaseScore, candidate: ReleaseScore, largest: float) -> Iterator[Check]:
    for change in compare(baseline, candidate):
        if change.difference is None and (change.before is None or change.after is not None):
            # Nothing to compare with is no limit that is met; what is missing fails the evidence.
            continue
        basis = " (one repeat, chance not judged)" if _is_point_alone(change) else ""
        yield Check(
            where=_place(change),
            condition=f"no loss above {largest:g} against {baseline.release}{basis}",
            reasons=_loss(change, largest),
            kind="limit",
            place=change.place,
            held_out=change.held_out,
        )


def _is_point_alone(change: Change) -> bool:
    return change.estimate is None and change.difference is not None


def _loss(change: Change, largest: float) -> tuple[str, ...]:
    if change.before is not None and change.after is None:
        return (f"no longer rated, {change.before:.3f} before",)
    difference = change.difference or 0.0
    numbers = f"{change.after:.3f} after {change.before:.3f}"
    if -difference > largest:
        return (f"{numbers}, a loss of {-difference:.3f}{_interval(change)}",)
    if change.estimate is not None and not change.estimate.is_no_worse_than(largest):
        possible = f"a loss of up to {-change.estimate.least():.3f}"
        return (f"{numbers}: {possible} is not ruled out with {change.estimate.count} repeats",)
    return ()


def _interval(change: Change) -> str:
    if change.estimate is None:
        return ""
    low, high = -change.estimate.upper(), -change.estimate.lower()
    return f" (95 % interval {low:.3f} to {high:.3f})"


def _place(change: Change) -> str:
    where = " / ".join(change.place) if change.place else "release"
    return f"{where} (held out)" if change.held_out else where
