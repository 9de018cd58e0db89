"""What changed between two releases, and whether it is more than chance between repeats."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from correlate.display import Results, frame, short_repr
from correlate.errors import SettingsError
from correlate.reference.finding import counted
from correlate.statistics import paired_difference, weighted_sum

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from pandas import DataFrame

    from correlate.campaign.aggregation import ReleaseScore, Score
    from correlate.campaign.release_evidence import ReleaseEvidence
    from correlate.statistics import Estimate


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One number in two releases.

    Attributes
    ----------
    kind
        ``release``, ``load case``, ``region`` or ``channel``.
    place
        Names from the load case down; of a region over all load cases, its name.
    words
        For people.
    before, after
        Ratings; None when it was not rated.
    estimate
        Of the difference, from the repeats that both releases were rated against; None where fewer than two
        are shared, so that nothing is known of chance.
    held_out
        Whether it belongs to the load cases that tuning may not use.
    marks
        What the two numbers do not share, such as ``A1 stale``; empty for a fair comparison.
    same_channels
        Whether both numbers are made of the same rated channels.
    """

    kind: str
    place: tuple[str, ...]
    words: str
    before: float | None
    after: float | None
    estimate: Estimate | None
    held_out: bool
    marks: tuple[str, ...] = ()
    same_channels: bool = True

    @property
    def difference(self) -> float | None:
        """``after - before``; None when one is missing, or when they are made of different channels."""
        if self.before is None or self.after is None or not self.same_channels:
            return None
        return self.after - self.before

    @property
    def is_distinguishable(self) -> bool | None:
        """Whether the difference is more than chance between repeats; None when that is unknown."""
        if self.difference is None or self.estimate is None:
            return None
        return self.estimate.verdict() != "not distinguishable"

    @property
    def has_moved(self) -> bool:
        """Whether there is a difference, and it is not known to be chance between repeats."""
        return bool(self.difference) and self.is_distinguishable is not False

    @property
    def verdict(self) -> str:
        """The difference in words: better, worse, or not distinguishable with 95 % confidence."""
        if self.before is None or self.after is None:
            return "not rated" if self.before is None and self.after is None else "rated in one release only"
        if not self.same_channels:
            return "not comparable: different channels are rated"
        if self.estimate is None:
            return "not distinguishable: one repeat"
        return self.estimate.verdict()

    def as_row(self) -> dict[str, object]:
        """Return the change as the cells of one row; the interval covers 95 %."""
        known = self.estimate
        return {
            "kind": self.kind,
            "place": " / ".join(self.place),
            "words": self.words,
            "held_out": self.held_out,
            "before": self.before,
            "after": self.after,
            "difference": self.difference,
            "lower": None if known is None else known.lower(),
            "upper": None if known is None else known.upper(),
            "verdict": self.verdict,
            "marks": "; ".join(self.marks),
        }


def compare(
    before: ReleaseScore, after: ReleaseScore, evidence: Mapping[str, ReleaseEvidence] | None = None
) -> Results[Change]:
    """List what changed, the biggest difference first within each kind.

    Parameters
    ----------
    before, after
        Two releases of one campaign.
    evidence
        What each stands on, by name of the release; it marks numbers that are no fair comparison.

    Returns
    -------
    Results
        Of `Change`, a list that becomes a data frame with ``to_frame()``.
        Releases first (training, then held-out), then body regions, load cases, channels.
    """
    pair = _Pair(before.release, after.release, evidence or {})
    later = dict(compared_numbers(after))
    changes = [pair.change(key, one, later[key]) for key, one in compared_numbers(before) if key in later]
    order = ["release", "region", "load case", "channel"]
    return Results(
        sorted(changes, key=lambda change: (order.index(change.kind), -abs(change.difference or 0.0)))
    )


def changes_of(
    numbers: Mapping[Key, Score],
    before: ReleaseScore,
    after: ReleaseScore,
    evidence: Mapping[str, ReleaseEvidence] | None = None,
) -> dict[Key, Change]:
    """Return the changes of some numbers of a release, as `compare` lists them, by their place."""
    pair = _Pair(before.release, after.release, evidence or {})
    earlier = ((key, one) for key, one in compared_numbers(before) if key in numbers)
    return {key: pair.change(key, one, numbers[key]) for key, one in earlier}


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseLine:
    """One number in several releases.

    Attributes
    ----------
    kind, place, words, held_out
        As of a `Change`.
    ratings
        One per release; None where it was not rated.
    marks
        Marks of each rating, such as ``stale``.
    best
        Release with the highest rating, the first of equal ones; empty where none was rated.
    last
        Change from the last release but one to the last.
    """

    kind: str
    place: tuple[str, ...]
    words: str
    held_out: bool
    ratings: tuple[float | None, ...]
    marks: tuple[tuple[str, ...], ...]
    best: str
    last: Change


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseTable:
    """The numbers of several releases side by side.

    Attributes
    ----------
    releases
        Names, in the order in which they were given.
    lines
        The release, its body regions, each load case with its channels; then the same held out.
    """

    releases: tuple[str, ...]
    lines: tuple[ReleaseLine, ...]

    def rows(self) -> Iterator[dict[str, object]]:
        """Yield one row per number; the rating of each release is in the column of its name."""
        for line in self.lines:
            last = line.last.as_row()
            marked = [
                f"{name}: {', '.join(words)}"
                for name, words in zip(self.releases, line.marks, strict=True)
                if words
            ]
            yield {
                **{name: last[name] for name in ("kind", "place", "words", "held_out")},
                **dict(zip(self.releases, line.ratings, strict=True)),
                "best": line.best,
                "last_change": last["difference"],
                **{name: last[name] for name in ("lower", "upper", "verdict")},
                "marks": "; ".join(marked),
            }

    def to_frame(self) -> DataFrame:
        """Return a data frame, one row per number and one column per release.

        Returns
        -------
        pandas.DataFrame
            ``last_change``, its 95 % interval ``lower`` to ``upper`` and ``verdict`` compare the last release
            with the one before.

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        return frame(self.rows())


def compare_releases(
    releases: Iterable[ReleaseScore], evidence: Mapping[str, ReleaseEvidence] | None = None
) -> ReleaseTable:
    """Compare the ratings of several releases side by side.

    Parameters
    ----------
    releases
        Two or more of one campaign, in their order, each once.
    evidence
        Evidence by name of the release; stale and incomplete ratings are marked by it.

    Returns
    -------
    ReleaseTable
        With ``to_frame()``.

    Raises
    ------
    SettingsError
        There are fewer than two, or one is named twice.
    """
    scores = list(releases)
    names = [one.release for one in scores]
    if len(scores) < 2 or len(set(names)) < len(names):
        raise SettingsError(
            f"releases to compare: {', '.join(names) or 'none'}",
            where="compare",
            remedy="name at least two, each once",
        )
    found = _Several(scores, evidence or {})
    shared = [key for key, _ in compared_numbers(scores[-1]) if all(key in one for one in found.numbers)]
    return ReleaseTable(releases=tuple(names), lines=tuple(found.line(key) for key in shared))


class _Several:
    """The numbers of several releases by their place, and what each release stands on."""

    def __init__(self, releases: Sequence[ReleaseScore], evidence: Mapping[str, ReleaseEvidence]) -> None:
        self.names = [one.release for one in releases]
        self.numbers = [dict(compared_numbers(one)) for one in releases]
        self._evidence = evidence
        self._last = _Pair(self.names[-2], self.names[-1], evidence)

    def line(self, key: Key) -> ReleaseLine:
        """Return what all releases say of one place."""
        held_out, place = key
        scores = [one[key] for one in self.numbers]
        rated = [one.overall for one in scores if one.overall is not None]
        return ReleaseLine(
            kind=scores[-1].kind,
            place=place,
            words=scores[-1].words,
            held_out=held_out,
            ratings=tuple(one.overall for one in scores),
            marks=tuple(
                marks_of(one, self._evidence.get(name), place)
                for one, name in zip(scores, self.names, strict=True)
            ),
            best=self.names[[one.overall for one in scores].index(max(rated))] if rated else "",
            last=self._last.change(key, scores[-2], scores[-1]),
        )


Key = tuple[bool, tuple[str, ...]]
"""Whether a number is held out, and its place."""


@dataclass(frozen=True, slots=True)
class _Pair:
    """Two releases that are compared, and what each stands on."""

    before: str
    after: str
    evidence: Mapping[str, ReleaseEvidence]

    def change(self, key: Key, before: Score, after: Score) -> Change:
        held_out, place = key
        marks = [
            f"{name}: {', '.join(words)}"
            for name, score in ((self.before, before), (self.after, after))
            if (words := marks_of(score, self.evidence.get(name), place))
        ]
        return Change(
            kind=before.kind,
            place=place,
            words=before.words,
            before=before.overall,
            after=after.overall,
            estimate=difference_of(before, after),
            held_out=held_out,
            marks=tuple(marks),
            same_channels=(
                before.kind == "channel"
                or None in {before.overall, after.overall}
                or _rated(before) == _rated(after)
            ),
        )


def compared_numbers(release: ReleaseScore) -> Iterator[tuple[Key, Score]]:
    """Yield every number that can be compared: release, regions over all load cases, load cases, channels."""
    yield (False, ()), release.training
    for region in release.regions:
        yield (False, ("regions", region.name)), region
    yield from _cases(release.training, held_out=False)
    if release.held_out is not None:
        yield (True, ()), release.held_out
        yield from _cases(release.held_out, held_out=True)


def _cases(score: Score, *, held_out: bool) -> Iterator[tuple[Key, Score]]:
    for case in score.parts:
        yield (held_out, (case.name,)), case
        for place, channel in leaves(case, ()):
            yield (held_out, (case.name, *place)), channel


def _rated(score: Score) -> set[tuple[str, ...]]:
    """Return the places of the rated channels under a number."""
    return {place for place, channel in leaves(score, ()) if channel.overall is not None}


def leaves(score: Score, place: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Score]]:
    """Yield the channels under a number, each with its place below it."""
    for part in score.parts:
        if part.kind == "channel":
            yield (*place, part.name), part
        else:
            yield from leaves(part, (*place, part.name))


def marks_of(score: Score, evidence: ReleaseEvidence | None, place: tuple[str, ...]) -> tuple[str, ...]:
    """Return what must stand beside a number of the tree."""
    if evidence is None:
        return ()
    if score.kind == "channel":
        return evidence.marks([place[0]], score.name)
    if score.kind == "load case":
        return evidence.marks([score.name])
    cases = [part.name for part in score.parts]
    if score.kind == "release":
        return evidence.marks(cases)
    lacking = score.expected - score.rated
    stale = ["stale"] if evidence.of("stale", cases) else []
    return (*stale, *([f"{counted(lacking, 'channel')} not rated"] if lacking else []))


def difference_of(before: Score, after: Score) -> Estimate | None:
    """Estimate ``after - before``, paired by repeat up to the load case and added up above.

    Notes
    -----
    Repeats of one load case are the same tests for both releases and for all channels, so their differences
    are paired; tests of different load cases are independent. Coverage: ``docs/statistics.md``.
    """
    if before.by_repeat or after.by_repeat or before.kind == "channel":
        return paired_difference(before.by_repeat, after.by_repeat)
    later = {part.name: part for part in after.parts}
    parts = [(part, later[part.name]) for part in before.parts if part.name in later]
    return weighted_sum(
        ((one.weight + two.weight) / 2, difference_of(one, two))
        for one, two in parts
        if one.weight or two.weight
    )
