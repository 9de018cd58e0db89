"""One release against the last, as a manager reads it: numbers, ceilings, changes, limits and the trend."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from correlate.campaign.aggregation import ReleaseScore, aggregate
from correlate.campaign.comparison import compare, marks_of
from correlate.campaign.gate import gate
from correlate.display import frame, short_repr
from correlate.errors import SettingsError
from correlate.reference.repeatability import loss_ratio

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from pandas import DataFrame

    from correlate.campaign.aggregation import Score
    from correlate.campaign.comparison import Change
    from correlate.campaign.gate import Check
    from correlate.campaign.release_evidence import ReleaseEvidence
    from correlate.campaign.scoring import Rated
    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.tables import Limits


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class BoardLine:
    """One number of the board with what it is compared with.

    Attributes
    ----------
    score
        Of the release.
    ceiling
        Of the hardware, over the same channels as far as they have one; None where none is known.
    change
        Against the other release; None where there is none.
    marks
        What the number stands on less than it should, such as ``stale`` or ``2 channels not rated``.
    """

    score: Score
    ceiling: Score | None
    change: Change | None
    marks: tuple[str, ...] = ()

    @property
    def ceiling_rating(self) -> float | None:
        """Rating of the hardware; None where none is known."""
        return None if self.ceiling is None else self.ceiling.overall

    @property
    def loss_ratio(self) -> float | None:
        """How many times the hardware's own loss the model loses; None where that is not known."""
        return loss_ratio(self.score.overall, self.ceiling_rating)

    def as_row(self) -> dict[str, object]:
        """Return the line as the cells of one row."""
        change = self.change
        return {
            "kind": self.score.kind,
            "name": self.score.name,
            "overall": self.score.overall,
            "grade": self.score.grade,
            "ceiling": self.ceiling_rating,
            "loss_ratio": self.loss_ratio,
            "difference": None if change is None else change.difference,
            "verdict": "" if change is None else change.verdict,
            "marks": "; ".join(self.marks),
        }


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class TrendPoint:
    """The numbers of one release in the course of all.

    Attributes
    ----------
    release
        Its name.
    training, held_out
        Overall ratings; None where nothing is rated or nothing held out.
    marks
        As of a line of the board.
    """

    release: str
    training: float | None
    held_out: float | None
    marks: tuple[str, ...] = ()


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Scoreboard:
    """One release against another.

    Attributes
    ----------
    release
        In question.
    against
        The one it is compared with; None for the first.
    total, held_out
        Over the load cases that tuning may use, and over the others; None where there are none.
    load_cases, held_out_cases, regions
        Parts, in the order of the file.
    moved
        Channels that became better or worse beyond chance between repeats, or of which chance is not known;
        the biggest first.
    limits
        In the campaign file.
    checks
        Of these limits, and that no fewer channels are rated than before.
    trend
        Of all releases that it was made from, in the order of the file.
    evidence
        What the release stands on; None where it was not asked for.
    """

    release: str
    against: str | None
    total: BoardLine
    held_out: BoardLine | None
    load_cases: tuple[BoardLine, ...]
    held_out_cases: tuple[BoardLine, ...]
    regions: tuple[BoardLine, ...]
    moved: tuple[Change, ...]
    limits: Limits
    checks: tuple[Check, ...]
    trend: tuple[TrendPoint, ...]
    evidence: ReleaseEvidence | None = None

    def to_frame(self) -> DataFrame:
        """Return a data frame, one row per line of the board.

        Returns
        -------
        pandas.DataFrame

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        groups: list[tuple[bool, Sequence[BoardLine]]] = [
            (False, (self.total, *self.load_cases, *self.regions)),
            (True, (*((self.held_out,) if self.held_out else ()), *self.held_out_cases)),
        ]
        return frame({"held_out": held, **line.as_row()} for held, lines in groups for line in lines)

    @property
    def better(self) -> tuple[Change, ...]:
        """Those of `moved` that gained."""
        return tuple(change for change in self.moved if (change.difference or 0.0) > 0)

    @property
    def worse(self) -> tuple[Change, ...]:
        """Those of `moved` that lost."""
        return tuple(change for change in self.moved if (change.difference or 0.0) < 0)

    @property
    def open_checks(self) -> tuple[Check, ...]:
        """Limits that are not kept."""
        return tuple(check for check in self.checks if not check.is_passed)


def release_scores(campaign: Campaign, records: Iterable[Rated]) -> dict[str, ReleaseScore]:
    """Combine the ratings of every release that has some.

    Parameters
    ----------
    campaign
        Its releases and weights; ratings of releases that it does not have are passed over.
    records
        Rated pairs of any number of releases.

    Returns
    -------
    dict
        By name, in the order of the file.
    """
    by_release: dict[str, list[Rated]] = {}
    for record in records:
        by_release.setdefault(record.release, []).append(record)
    names = [release.name for release in campaign.releases if release.name in by_release]
    return {name: aggregate(campaign, by_release[name], name) for name in names}


def scoreboard(
    campaign: Campaign,
    scores: Mapping[str, ReleaseScore],
    *,
    release: str = "",
    against: str = "",
    ceilings: ReleaseScore | None = None,
    evidence: Mapping[str, ReleaseEvidence] | None = None,
    limits: Limits | None = None,
    allowed: Sequence[str] = (),
) -> Scoreboard:
    """Put one release beside another.

    Parameters
    ----------
    campaign
        Its limits.
    scores
        From :func:`release_scores`.
    release
        Its name; the last rated one when empty.
    against
        Name of the other; the rated one before it when empty.
    ceilings
        From :func:`correlate.campaign.ceilings.ceiling_scores`.
    evidence
        What each release stands on, by name; the checks are of it too.
    limits
        In the place of those of the campaign file.
    allowed
        What may be missing, as for :func:`correlate.campaign.gate.gate`.

    Returns
    -------
    Scoreboard

    Raises
    ------
    SettingsError
        A release has no ratings, or is compared with itself.
    """
    rated = rated_names(campaign, scores)
    name = release or rated[-1]
    after = rated_release(campaign, scores, name)
    earlier = against or release_before(rated, name)
    if earlier == name:
        raise SettingsError(
            f"release '{name}' cannot be compared with itself", remedy="name another baseline"
        )
    before = rated_release(campaign, scores, earlier) if earlier else None
    known = evidence or {}
    changes = compare(before, after, known) if before is not None else []
    lines = _Lines(changes, ceilings, known.get(after.release))
    held = after.held_out
    return Scoreboard(
        release=after.release,
        against=None if before is None else before.release,
        total=lines.line(after.training, (), held_out=False),
        held_out=None if held is None else lines.line(held, (), held_out=True),
        load_cases=lines.load_cases(after.training, held_out=False),
        held_out_cases=() if held is None else lines.load_cases(held, held_out=True),
        regions=lines.regions(after),
        moved=tuple(change for change in changes if change.kind == "channel" and change.has_moved),
        limits=limits or campaign.limits,
        checks=tuple(_checks(limits or _limits(campaign, before), after, before, known, allowed)),
        trend=tuple(_point(score, known.get(name)) for name, score in scores.items()),
        evidence=known.get(after.release),
    )


class _Lines:
    """Puts change and ceiling beside each number, by its place."""

    def __init__(
        self, changes: Iterable[Change], ceilings: ReleaseScore | None, evidence: ReleaseEvidence | None
    ) -> None:
        self._evidence = evidence
        self._changes = {(change.kind, change.place, change.held_out): change for change in changes}
        self._ceilings = _ceilings_by_place(ceilings)

    def line(self, score: Score, place: tuple[str, ...], *, held_out: bool) -> BoardLine:
        key = (score.kind, place, held_out)
        return BoardLine(
            score=score,
            ceiling=self._ceilings.get(key),
            change=self._changes.get(key),
            marks=marks_of(score, self._evidence, place),
        )

    def load_cases(self, score: Score, *, held_out: bool) -> tuple[BoardLine, ...]:
        return tuple(self.line(part, (part.name,), held_out=held_out) for part in score.parts)

    def regions(self, release: ReleaseScore) -> tuple[BoardLine, ...]:
        return tuple(
            self.line(region, ("regions", region.name), held_out=False) for region in release.regions
        )


def rated_names(campaign: Campaign, scores: Mapping[str, ReleaseScore]) -> list[str]:
    """Return the rated releases in the order of the file; refuse where there is none."""
    if not scores:
        raise SettingsError(
            f"no release of '{campaign.title}' is rated yet", remedy=f"run: correlate score {campaign.folder}"
        )
    return list(scores)


def rated_release(campaign: Campaign, scores: Mapping[str, ReleaseScore], name: str) -> ReleaseScore:
    """Return the numbers of a release; refuse one that is unknown or has none."""
    if name not in scores:
        campaign.release(name)
        raise SettingsError(
            f"release '{name}' is not rated yet",
            remedy=f"run: correlate score {campaign.folder} --release {name}",
        )
    return scores[name]


def release_before(rated: Sequence[str], name: str) -> str:
    """Return the rated release before another; empty for the first."""
    place = rated.index(name)
    return rated[place - 1] if place else ""


def _limits(campaign: Campaign, before: ReleaseScore | None) -> Limits:
    """Return the limits of the campaign file that can be checked; a loss needs a release before."""
    return (
        campaign.limits if before is not None else campaign.limits.model_copy(update={"largest_loss": None})
    )


def _checks(
    limits: Limits,
    after: ReleaseScore,
    before: ReleaseScore | None,
    evidence: Mapping[str, ReleaseEvidence],
    allowed: Sequence[str],
) -> list[Check]:
    names = [one.release for one in (after, before) if one is not None]
    return gate(
        after,
        baseline=before,
        least=limits.least,
        largest_loss=limits.largest_loss,
        evidence=[evidence[name] for name in names if name in evidence],
        allowed=allowed,
    )


def _ceilings_by_place(ceilings: ReleaseScore | None) -> dict[tuple[str, tuple[str, ...], bool], Score]:
    if ceilings is None:
        return {}
    found: dict[tuple[str, tuple[str, ...], bool], Score] = {}
    for score, held_out in ((ceilings.training, False), (ceilings.held_out, True)):
        if score is not None:
            found["release", (), held_out] = score
            found |= {("load case", (part.name,), held_out): part for part in score.parts}
    found |= {("region", ("regions", region.name), False): region for region in ceilings.regions}
    return {place: score for place, score in found.items() if score.overall is not None}


def _point(score: ReleaseScore, evidence: ReleaseEvidence | None) -> TrendPoint:
    return TrendPoint(
        marks=() if evidence is None else evidence.marks(),
        release=score.release,
        training=score.training.overall,
        held_out=None if score.held_out is None else score.held_out.overall,
    )
