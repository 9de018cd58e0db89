"""What changed between two releases, and whether it is more than chance between repeats."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from correlate.display import Results, short_repr
from correlate.reference.finding import counted
from correlate.statistics import paired_difference, weighted_sum

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

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
    """

    kind: str
    place: tuple[str, ...]
    words: str
    before: float | None
    after: float | None
    estimate: Estimate | None
    held_out: bool
    marks: tuple[str, ...] = ()

    @property
    def difference(self) -> float | None:
        """``after - before``; None when one of them is missing."""
        if self.before is None or self.after is None:
            return None
        return self.after - self.before

    @property
    def is_distinguishable(self) -> bool | None:
        """Whether the difference is more than chance between repeats; None when that is unknown."""
        if self.difference is None or self.estimate is None:
            return None
        return self.estimate.verdict() != "not distinguishable"

    @property
    def verdict(self) -> str:
        """The difference in words: better, worse, or not distinguishable with 95 % confidence."""
        if self.difference is None:
            return "not rated" if self.before is None and self.after is None else "rated in one release only"
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
    changes = [
        *pair.changes(before.training, after.training, held_out=False),
        *(
            pair.change(("regions", one.name), one, two, held_out=False)
            for one, two in _regions(before, after)
        ),
    ]
    if before.held_out and after.held_out:
        changes += pair.changes(before.held_out, after.held_out, held_out=True)
    order = ["release", "region", "load case", "channel"]
    listed = [change for change in changes if change.kind in order]
    return Results(
        sorted(listed, key=lambda change: (order.index(change.kind), -abs(change.difference or 0.0)))
    )


@dataclass(frozen=True, slots=True)
class _Pair:
    """Two releases that are compared, and what each stands on."""

    before: str
    after: str
    evidence: Mapping[str, ReleaseEvidence]

    def changes(self, before: Score, after: Score, *, held_out: bool) -> Iterator[Change]:
        """Yield the release, its load cases and its channels; regions are listed over all load cases."""
        yield self.change((), before, after, held_out=held_out)
        for one, two in zip(before.parts, after.parts, strict=True):
            yield self.change((one.name,), one, two, held_out=held_out)
            later = dict(_leaves(two, ()))
            for place, channel in _leaves(one, ()):
                yield self.change((one.name, *place), channel, later[place], held_out=held_out)

    def change(self, place: tuple[str, ...], before: Score, after: Score, *, held_out: bool) -> Change:
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
        )


def _regions(before: ReleaseScore, after: ReleaseScore) -> Iterator[tuple[Score, Score]]:
    later = {region.name: region for region in after.regions}
    return ((region, later[region.name]) for region in before.regions if region.name in later)


def _leaves(score: Score, place: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Score]]:
    for part in score.parts:
        if part.kind == "channel":
            yield (*place, part.name), part
        else:
            yield from _leaves(part, (*place, part.name))


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
