"""May a release be used: a verdict in one sentence, and every objection.

The scoreboard holds the numbers; this says what follows from them, in the same words for pages, terminal and
report.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Final, Literal, get_args

from correlate.campaign.comparison import leaves
from correlate.campaign.gate import Check, equal_gaps, gap_place
from correlate.display import common_reason, grouped, short_repr
from correlate.metrics.iso18571 import GRADE_FLOORS
from correlate.reference.finding import counted, equal_findings, places_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from correlate.campaign.aggregation import Score
    from correlate.campaign.comparison import Change
    from correlate.campaign.release_evidence import Gap
    from correlate.campaign.scoreboard import BoardLine, Scoreboard
    from correlate.evaluation.definition import Campaign
    from correlate.reference.finding import Finding

ObjectionKind = Literal["evidence", "data", "limit", "poor", "held out"]
"""Stale or missing ratings; findings in the tests; unmet limits; the lowest grade; independent evidence."""

KINDS: Final[tuple[ObjectionKind, ...]] = get_args(ObjectionKind)
"""In the order in which objections are listed."""

Place = tuple[str, ...]


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Objection:
    """One objection to a release, with every reason that concerns the same place.

    Attributes
    ----------
    kinds
        What is wrong, one or several.
    where
        What it concerns, in words.
    within
        Load case of a channel, in words; else empty.
    reasons
        One sentence each, without the place.
    place
        Load case and channel, as far as it has them; of a body region, ``regions`` and its name.
    rating
        Of what it concerns; None where there is no rating.
    held_out
        Whether tuning may not use the load case.
    """

    kinds: tuple[ObjectionKind, ...]
    where: str
    within: str = ""
    reasons: tuple[str, ...]
    place: Place = ()
    rating: float | None = None
    held_out: bool = False

    @property
    def load_case(self) -> str:
        """Name of the load case; empty where it concerns none or several."""
        return "" if self.is_region or not self.place else self.place[0]

    @property
    def channel(self) -> str:
        """Name of the channel; empty where it concerns none or several."""
        return self.place[1] if self.load_case and len(self.place) > 1 else ""

    @property
    def is_region(self) -> bool:
        """Whether it concerns a body region over all load cases."""
        return self.place[:1] == _REGIONS

    @property
    def words(self) -> str:
        """Place, rating and reasons in one line."""
        rated = "" if self.rating is None else f", {self.rating:.3f}"
        return f"{_joined(self.where, self.within)}{rated}: {'; '.join(self.reasons)}"

    def as_row(self) -> dict[str, object]:
        """Return the objection as the cells of one row."""
        return {
            "kinds": ", ".join(self.kinds),
            "where": _joined(self.where, self.within),
            "reasons": "; ".join(self.reasons),
            "load_case": self.load_case,
            "channel": self.channel,
            "rating": self.rating,
            "held_out": self.held_out,
        }


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class RatedPlace:
    """The rating of a load case or channel.

    Attributes
    ----------
    place
        Names of load case and channel.
    where, within
        The same in words; the second is empty for a load case.
    rating
        None where it is not rated.
    grade
        Word for the rating; empty where it has none.
    held_out
        Whether tuning may not use the load case.
    """

    place: Place
    where: str
    within: str
    rating: float | None
    grade: str
    held_out: bool


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """What a manager must know of a release.

    Attributes
    ----------
    release, against
        Names; the second is None for the first release.
    is_rated
        Whether it has an overall rating.
    limits, evidence
        Checks of the gate: of the ratings, and of the evidence behind them.
    change, held_out_change
        Over the load cases that tuning may use, and over the others; None where there is nothing to compare.
    objections
        In the order of their kinds; evidence first, then limits, then the lowest ratings.
    lowest
        Channel with the lowest rating; None where none is rated.
    """

    release: str
    against: str | None
    is_rated: bool
    limits: tuple[Check, ...]
    evidence: tuple[Check, ...]
    change: Change | None
    held_out_change: Change | None
    objections: tuple[Objection, ...]
    lowest: RatedPlace | None = None

    @property
    def unmet(self) -> tuple[Check, ...]:
        """Limits that are not met."""
        return tuple(check for check in self.limits if not check.is_passed)

    @property
    def is_proven(self) -> bool:
        """Whether its ratings are complete, of the present files, and of tests without open errors."""
        return all(check.is_passed for check in self.evidence)

    @property
    def poor(self) -> tuple[Objection, ...]:
        """Channels with the lowest grade."""
        return tuple(one for one in self.objections if "poor" in one.kinds)

    @property
    def verdict(self) -> str:
        """The answer in one sentence, such as ``A2 misses 5 of 54 limits; better than A1``."""
        if not self.is_rated:
            return f"{self.release} is not rated"
        as_rated = "" if self.is_proven or self.against is None else "as rated, "
        return f"{self.release} {self._judged}; {as_rated}{self.comparison}"

    @property
    def _judged(self) -> str:
        count, unmet = len(self.limits), len(self.unmet)
        if unmet:
            return f"misses {unmet} of {counted(count, 'limit')}" + (
                "" if self.is_proven else ", on incomplete evidence"
            )
        if not self.is_proven:
            return "cannot be judged yet, because its evidence is incomplete"
        if not count:
            return "is not judged, because no limits are set"
        met = f"meets all {count} limits" if count > 1 else "meets the only limit"
        if any("limit" in one.kinds for one in self.objections):
            met = f"meets the {counted(count, 'limit')} that can be checked"
        poor = len(self.poor)
        return f"{met}, but {counted(poor, 'channel')} {'is' if poor == 1 else 'are'} poor" if poor else met

    @property
    def comparison(self) -> str:
        """Comparison with the other release; the held-out load cases are named where they differ."""
        if self.against is None:
            return "no earlier release to compare with"
        tuned, held_out = _direction(self.change), _direction(self.held_out_change)
        said = {
            "": f"not comparable with {self.against}",
            _SAME: f"{_SAME} from {self.against}",
        }.get(tuned, f"{tuned} than {self.against}")
        if not held_out or held_out == tuned:
            return said
        return f"{said}, {'but ' if held_out == 'worse' else ''}{held_out} on held-out load cases"


_REGIONS: Final = ("regions",)
_SAME: Final = "not distinguishable"
_POOR: Final = f"poor, below {min(floor for _, floor in GRADE_FLOORS):g}"


def _direction(change: Change | None) -> str:
    """Return better, worse or not distinguishable; empty where two numbers cannot be compared."""
    if change is None or change.difference is None:
        return ""
    if not change.is_distinguishable:
        return _SAME
    return "better" if change.difference > 0 else "worse"


def decide(campaign: Campaign, board: Scoreboard) -> Decision:
    """Say what follows from a scoreboard.

    Parameters
    ----------
    campaign
        Names load cases and tests.
    board
        One release against another.

    Returns
    -------
    Decision
        Every check of the board that is not met is among its objections.
    """
    found = _Objections(campaign, board)
    return Decision(
        release=board.release,
        against=board.against,
        is_rated=board.total.score.overall is not None,
        limits=tuple(check for check in board.checks if check.kind == "limit"),
        evidence=_evidence_checks(board),
        change=board.total.change,
        held_out_change=None if board.held_out is None else board.held_out.change,
        objections=found.listed(),
        lowest=found.lowest(),
    )


@dataclass(slots=True)
class _Draft:
    """Reasons that concern one place, while they are collected."""

    where: str
    within: str
    place: Place
    rating: float | None
    held_out: bool
    reasons: dict[str, ObjectionKind] = field(default_factory=dict)

    def finished(self) -> Objection:
        kinds = set(self.reasons.values())
        return Objection(
            kinds=tuple(kind for kind in KINDS if kind in kinds),
            where=self.where,
            within=self.within,
            reasons=tuple(self.reasons),
            place=self.place,
            rating=self.rating,
            held_out=self.held_out,
        )


class _Objections:
    """Collects the objections to a release, one for all reasons of a place."""

    def __init__(self, campaign: Campaign, board: Scoreboard) -> None:
        self._campaign = campaign
        self._board = board
        self._scores = {one.place: one for one in _rated_places(board)}
        self._drafts: dict[tuple[Place, bool, str], _Draft] = {}

    def listed(self) -> tuple[Objection, ...]:
        """Return all of them, the gravest kind first and the lowest ratings first within a kind."""
        self._add_evidence()
        self._add_limits()
        self._add_poor()
        self._add_held_out()
        found = [draft.finished() for draft in self._drafts.values()]
        return tuple(sorted(found, key=_gravest_first))

    def lowest(self) -> RatedPlace | None:
        """Return the channel with the lowest rating."""
        rated = [one for one in self._scores.values() if len(one.place) > 1 and one.rating is not None]
        return min(rated, key=lambda one: one.rating or 0.0, default=None)

    def _add(self, kind: ObjectionKind, reason: str, place: Place, *, where: str, held_out: bool) -> None:
        """Add a reason to those of its place; what concerns several channels has no place to share."""
        key = (place, held_out, "" if place else where)
        draft = self._drafts.get(key)
        if draft is None:
            line = self._scores.get(place)
            draft = self._drafts[key] = _Draft(
                where=where if line is None else line.where,
                within="" if line is None else line.within,
                place=place,
                rating=None if line is None else line.rating,
                held_out=held_out,
            )
        draft.reasons.setdefault(reason, kind)

    def _add_evidence(self) -> None:
        board = self._board
        evidence = board.evidence
        gaps = () if evidence is None else evidence.gaps
        whole = [gap for gap in gaps if not (gap.channel or gap.repeat)]
        self._add_whole_cases(whole)
        for group in equal_gaps(gap for gap in gaps if gap.channel or gap.repeat):
            where, reason = gap_place(group), _gap_reason(group)
            self._add(_kind(group[0]), reason, _place_of(group), where=where, held_out=group[0].held_out)
        for check in _evidence_checks(board):
            # Gaps of this release are listed above, place by place; those of the other release are not.
            if not (check.is_passed or (gaps and check.where != board.against)):
                reason = f"{check.condition}: {check.reason}"
                self._add("evidence", reason, (), where=check.where, held_out=False)
        for findings in equal_findings(() if evidence is None else evidence.findings):
            self._add_findings(findings)

    def _add_whole_cases(self, gaps: Sequence[Gap]) -> None:
        """Add one line for all load cases of the same reason: one command rates all of them again."""
        for group in grouped(gaps, lambda gap: (gap.kind, gap.reason)):
            one = group[0]
            place: Place = (one.load_case,) if len(group) == 1 else ()
            where = f"{self._board.release}, {counted(len(group), 'load case')}"
            held_out = len(group) == 1 and one.held_out
            self._add(_kind(one), f"{one.kind}: {one.reason}", place, where=where, held_out=held_out)

    def _add_findings(self, findings: Sequence[Finding]) -> None:
        first = findings[0]
        case = self._cases_of_findings.get(_key_of(first), "")
        channel = first.channel if case and len(findings) == 1 else ""
        reason = f"{first.severity} of the data check, {first.kind}: {first.what}"
        place = tuple(name for name in (case, channel) if name)
        held_out = bool(case) and self._campaign.load_case(case).held_out
        if place not in self._scores:
            # Of a channel that is not rated, or of tests of several load cases.
            place = place[:1] if len(findings) == 1 else ()
        self._add("data", f"{places_of(findings)}: {reason}", place, where="tests", held_out=held_out)

    def _add_limits(self) -> None:
        board = self._board
        for check in board.open_checks:
            if check.kind == "limit":
                reason = f"{check.condition}: {check.reason}"
                where = check.where if check.place else f"{board.release}, {check.where}"
                self._add("limit", reason, _short(check.place), where=where, held_out=check.held_out)
        if not board.limits.are_set:
            self._add(
                "limit", "no limits are set in the campaign file", (), where=board.release, held_out=False
            )
        elif board.limits.largest_loss is not None and board.against is None:
            limit = f"no loss above {board.limits.largest_loss:g}"
            reason = f"{limit} cannot be checked without an earlier release"
            self._add("limit", reason, (), where=board.release, held_out=False)

    def _add_poor(self) -> None:
        for place, one in self._scores.items():
            # A load case is no poor channel, whatever its grade.
            if len(place) > 1 and one.grade == "poor":
                self._add("poor", _POOR, place, where=one.where, held_out=one.held_out)

    def _add_held_out(self) -> None:
        board = self._board
        for line in board.held_out_cases:
            words, place = line.score.words, (line.score.name,)
            self._add("held out", _against_hardware(line), place, where=words, held_out=True)
        if board.held_out is None:
            reason = "no load case is held out of tuning, so there is no independent evidence"
            self._add("held out", reason, (), where=board.release, held_out=False)

    @cached_property
    def _cases_of_findings(self) -> dict[tuple[str, ...], str]:
        """Load case of each set of findings in tests; the first one where several have the same findings."""
        evidence = self._board.evidence
        known = {} if evidence is None else evidence.findings_in
        found: dict[tuple[str, ...], str] = {}
        for case, findings in known.items():
            for one in findings:
                found.setdefault(_key_of(one), case)
        return found


def _key_of(finding: Finding) -> tuple[str, ...]:
    return finding.kind, finding.severity, finding.file, finding.channel, finding.what


def _rated_places(board: Scoreboard) -> Iterator[RatedPlace]:
    """Yield load cases and channels of the board."""
    cases = [(line.score, False) for line in board.load_cases]
    cases += [(line.score, True) for line in board.held_out_cases]
    for case, held_out in cases:
        yield _rated_place((case.name,), case, "", held_out=held_out)
        for place, channel in leaves(case, ()):
            yield _rated_place((case.name, place[-1]), channel, case.words, held_out=held_out)


def _rated_place(place: Place, score: Score, within: str, *, held_out: bool) -> RatedPlace:
    return RatedPlace(
        place=place,
        where=score.words,
        within=within,
        rating=score.overall,
        grade=score.grade or "",
        held_out=held_out,
    )


def _joined(where: str, within: str) -> str:
    return f"{where}, {within}" if within else where


def _evidence_checks(board: Scoreboard) -> tuple[Check, ...]:
    """Return the checks of the evidence; missing evidence is one more."""
    checks = tuple(check for check in board.checks if check.kind == "evidence")
    if board.evidence is not None:
        return checks
    reasons = ("nothing is recorded of it; rate the release again",)
    return (*checks, Check(where=board.release, condition="evidence of its ratings", reasons=reasons))


def _kind(gap: Gap) -> ObjectionKind:
    return "data" if gap.kind == "data error" else "evidence"


def _gap_reason(group: Sequence[Gap]) -> str:
    """Return kind and reason of gaps; what of the load case they are of, where its line does not say it."""
    first = group[0]
    within = gap_place(group).removeprefix(first.load_case).removeprefix(" / ")
    said = "" if within in {"", first.channel} else f" ({within})"
    return f"{first.kind}{said}: {common_reason(group)}"


def _short(place: Place) -> Place:
    """Return load case and channel of a place; regions and sensors between them are left out."""
    return place if len(place) < 2 or place[:1] == _REGIONS else (place[0], place[-1])


def _place_of(group: Sequence[Gap]) -> Place:
    """Return load case and channel of gaps, the load case alone where they are of several channels."""
    channels = {gap.channel for gap in group}
    channel = next(iter(channels)) if len(channels) == 1 else ""
    return (group[0].load_case, channel) if channel else (group[0].load_case,)


def _against_hardware(line: BoardLine) -> str:
    score = line.score
    grade = "not rated; " if score.overall is None else f"{score.grade}; " if score.grade else ""
    if line.ceiling is None:
        return f"{grade}the ceiling of the tests is not known"
    return f"{grade}the tests agree with each other to {line.ceiling.overall:.3f}"


def _gravest_first(one: Objection) -> tuple[int, bool, float]:
    return KINDS.index(one.kinds[0]), bool(one.place), 1.0 if one.rating is None else one.rating
