"""Every channel of every load case and release as one cell: rating, ceiling, change, state of its data."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final, Literal, get_args

from correlate.campaign.comparison import changes_of, compared_numbers
from correlate.campaign.release_evidence import NO_RECORD
from correlate.campaign.scoreboard import rated_names, rated_release, release_before
from correlate.display import frame, short_repr
from correlate.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence

    from pandas import DataFrame

    from correlate.campaign.aggregation import ReleaseScore, Score
    from correlate.campaign.comparison import Change, Key
    from correlate.campaign.release_evidence import GapKind, ReleaseEvidence
    from correlate.evaluation.definition import Campaign
    from correlate.metrics.iso18571 import Grade

CellState = Literal[
    "not rated", "data error", "stale", "repeats missing", "data finding", "waived finding", "rated"
]
CELL_STATES: Final[tuple[CellState, ...]] = get_args(CellState)
"""Worst first; ``rated`` is a rating that nothing speaks against."""

Sort = Literal["lost", "change", "rating", "name"]
SORTS: Final[tuple[Sort, ...]] = get_args(Sort)
"""Points lost beyond the scatter of the hardware, change (losses first), rating (lowest first), name."""

_STATES: Final[dict[GapKind, CellState]] = {
    "channel not rated": "not rated",
    "data error": "data error",
    "stale": "stale",
    "repeat missing": "repeats missing",
}
_OF_DATA: Final[tuple[CellState, ...]] = ("data error", "data finding", "waived finding")
"""States of the tests, which a resultant shares with its axes."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class MatrixCell:
    """One channel of one load case in one release.

    Attributes
    ----------
    release, load_case, channel
        Names.
    words
        The channel for people.
    region
        Body region it counts for.
    held_out
        Whether tuning may not use the load case.
    rating
        Mean over the repeats, as in :class:`Score`; None when it is not rated.
    grade
        Word for it; None without a rating, or where the campaign combines another measure.
    ceiling
        Rating of the repeats against each other; None where it is not known.
    change
        Against the baseline of the release; None where there is none.
    states
        What there is to say of its data with the reasons, worst first; never empty.
    """

    release: str
    load_case: str
    channel: str
    words: str
    region: str
    held_out: bool
    rating: float | None
    grade: Grade | None
    ceiling: float | None
    change: Change | None
    states: Mapping[CellState, tuple[str, ...]]

    @property
    def state(self) -> CellState:
        """The worst of its states."""
        return next(iter(self.states))

    @property
    def lost(self) -> float | None:
        r"""Points lost beyond the scatter of the hardware; None where that cannot be known.

        .. math:: \max(0, C - R)

        for rating :math:`R` and ceiling :math:`C` of the channel, in rating points of the channel: weights of
        load cases, regions and sensors do not enter, so that channels of load cases that are held out, which
        have no weight in the release, are on the same scale. It is not known without rating or ceiling, nor
        where the tests have errors or were not checked: a faulty repeat lowers the ceiling, so that a model
        would seem to lose nothing. Derived here.
        """
        return None if self.rating is None or self._sound_ceiling is None else self.most_lost

    @property
    def most_lost(self) -> float:
        """The most that `lost` can be: with a ceiling of 1 and a rating of 0 where they are not known."""
        ceiling = 1.0 if self._sound_ceiling is None else self._sound_ceiling
        return max(0.0, ceiling - (self.rating or 0.0))

    @property
    def _sound_ceiling(self) -> float | None:
        return None if "data error" in self.states else self.ceiling

    @property
    def moved(self) -> Literal["better", "worse", ""]:
        """Whether it changed beyond chance between repeats, or chance is not known; as `Scoreboard.moved`."""
        if self.change is None or not self.change.has_moved:
            return ""
        return "better" if (self.change.difference or 0.0) > 0 else "worse"

    def as_row(self) -> dict[str, object]:
        """Return the cell as the cells of one row of a table."""
        change = self.change
        return {
            "release": self.release,
            "load_case": self.load_case,
            "channel": self.channel,
            "words": self.words,
            "region": self.region,
            "held_out": self.held_out,
            "rating": self.rating,
            "grade": self.grade,
            "ceiling": self.ceiling,
            "lost": self.lost,
            "difference": None if change is None else change.difference,
            "verdict": "" if change is None else change.verdict,
            "states": "; ".join(self.states),
        }


@short_repr
@dataclass(frozen=True, kw_only=True)
class ReleaseMatrix:
    """Cells of one or more releases.

    Attributes
    ----------
    releases
        Names, in the order of the campaign file.
    against
        Baseline of each release; None for the first rated one, and for a baseline itself.
    cells
        Release by release; load cases in the order of the file, those that are held out last.
    """

    releases: tuple[str, ...]
    against: Mapping[str, str | None]
    cells: tuple[MatrixCell, ...]

    @cached_property
    def by_place(self) -> dict[tuple[str, str, str], MatrixCell]:
        """Cells by release, load case and channel."""
        return {(one.release, one.load_case, one.channel): one for one in self.cells}

    @property
    def regions(self) -> tuple[str, ...]:
        """Body regions, in the order in which they occur."""
        return tuple(dict.fromkeys(one.region for one in self.cells))

    @property
    def load_cases(self) -> tuple[str, ...]:
        """Load cases, in the order in which they occur."""
        return tuple(dict.fromkeys(one.load_case for one in self.cells))

    def of_release(self, release: str) -> tuple[MatrixCell, ...]:
        """Return the cells of one release."""
        return tuple(one for one in self.cells if one.release == release)

    def worst(self, release: str) -> MatrixCell | None:
        """Return the cell of a release that lost most beyond scatter; None where none is known to."""
        known = [one for one in self.of_release(release) if one.lost]
        return max(known, key=lambda one: one.most_lost, default=None)

    def select(
        self, release: str, *, sort: str = "lost", region: str = "", load_case: str = "", state: str = ""
    ) -> tuple[MatrixCell, ...]:
        """Filter the cells of a release and put them in order.

        Parameters
        ----------
        release
            Its name.
        sort
            One of ``lost``, ``change``, ``rating``, ``name``. What is not rated comes first where numbers are
            sorted, and a ceiling that is not known, or is of faulty tests, counts as 1: nothing that is not
            known is sorted to the good end.
        region, load_case
            Names; all when empty.
        state
            Of which a cell must have one; any when empty.

        Returns
        -------
        tuple of MatrixCell
            Equal ones in the order of the campaign.

        Raises
        ------
        SettingsError
            There is no such order, region, load case or state.
        """
        _known("order", sort, SORTS)
        _known("region", region, ("", *self.regions))
        _known("load case", load_case, ("", *self.load_cases))
        _known("state", state, ("", *CELL_STATES))
        found = [
            one
            for one in self.of_release(release)
            if region in {"", one.region}
            and load_case in {"", one.load_case}
            and (not state or state in one.states)
        ]
        return tuple(sorted(found, key=_ORDERS[sort]))

    def to_frame(self) -> DataFrame:
        """Return a data frame, one row per cell.

        Returns
        -------
        pandas.DataFrame

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        return frame(one.as_row() for one in self.cells)


def release_matrix(
    campaign: Campaign,
    scores: Mapping[str, ReleaseScore],
    *,
    evidence: Mapping[str, ReleaseEvidence],
    ceilings: ReleaseScore | None = None,
    releases: Sequence[str] = (),
    against: str = "",
    places: Collection[tuple[str, str]] | None = None,
) -> ReleaseMatrix:
    """Return the channels of some releases with their ceiling, their change and the state of their data.

    Parameters
    ----------
    campaign
        It names the channels and the axes of resultants.
    scores
        From :func:`release_scores`.
    evidence
        The evidence behind each release, by name; ratings without evidence are stale.
    ceilings
        From :func:`correlate.campaign.ceilings.ceiling_scores`.
    releases
        Names; all that are rated when empty.
    against
        Name of the baseline, which has none itself; for each release the rated one before it when empty.
    places
        Load case and channel of the cells; all when left out.

    Returns
    -------
    ReleaseMatrix
        Its numbers are those of `scores` and `ceilings`, not computed again.

    Raises
    ------
    SettingsError
        A release is unknown or has no ratings, or none has any.
    """
    rated = rated_names(campaign, scores)
    wanted = [rated_release(campaign, scores, name) for name in releases or rated]
    named = {one.release: against or release_before(rated, one.release) for one in wanted}
    baselines = {name: baseline if baseline not in {"", name} else None for name, baseline in named.items()}
    hardware = {key: score.overall for key, score in _channels(ceilings)}
    axes = {(case.name, plan.name): plan.axes for case in campaign.load_cases for plan in case.resultant}
    cells: list[MatrixCell] = []
    for score in wanted:
        baseline = baselines[score.release]
        before = None if baseline is None else rated_release(campaign, scores, baseline)
        channels = {
            key: channel
            for key, channel in _channels(score)
            if places is None or (key[1][0], channel.name) in places
        }
        changes = {} if before is None else changes_of(channels, before, score, evidence)
        states = _States(evidence.get(score.release))
        cells += [
            _cell(
                score.release,
                key,
                channel,
                ceiling=hardware.get(key),
                change=changes.get(key),
                states=states.of(key[1][0], channel, axes.get((key[1][0], channel.name), ())),
            )
            for key, channel in channels.items()
        ]
    return ReleaseMatrix(releases=tuple(one.release for one in wanted), against=baselines, cells=tuple(cells))


def _cell(
    release: str,
    key: Key,
    channel: Score,
    *,
    ceiling: float | None,
    change: Change | None,
    states: Mapping[CellState, tuple[str, ...]],
) -> MatrixCell:
    held_out, place = key
    return MatrixCell(
        release=release,
        load_case=place[0],
        channel=channel.name,
        words=channel.words,
        region=place[1],
        held_out=held_out,
        rating=channel.overall,
        grade=channel.grade,
        ceiling=ceiling,
        change=change,
        states=states,
    )


class _States:
    """What the evidence of a release says of each channel; of findings, notes are left out."""

    def __init__(self, evidence: ReleaseEvidence | None) -> None:
        self._found: dict[tuple[str, str], list[tuple[CellState, str]]] = {}
        if evidence is None:
            self._common: list[tuple[CellState, str]] = [("stale", NO_RECORD)]
            return
        self._common = []
        for gap in evidence.gaps:
            words = f"{gap.repeat}: {gap.reason}" if gap.repeat else gap.reason
            self._note(gap.load_case, gap.channel, _STATES[gap.kind], words)
        for case, findings in evidence.findings_in.items():
            for finding in findings:
                if finding.severity != "note":
                    self._note(case, finding.channel, "data finding", f"{finding.kind}: {finding.what}")
        for case, waived in evidence.waived_in.items():
            for one in waived:
                words = f"{one.finding.kind}: {one.waiver.words}"
                self._note(case, one.finding.channel, "waived finding", words)

    def _note(self, load_case: str, channel: str, state: CellState, words: str) -> None:
        self._found.setdefault((load_case, channel), []).append((state, words))

    def of(self, load_case: str, channel: Score, axes: Iterable[str]) -> dict[CellState, tuple[str, ...]]:
        """Return the states of a channel; findings in its axes are findings in a resultant."""
        found = self._found
        said = [*self._common, *found.get((load_case, ""), []), *found.get((load_case, channel.name), [])]
        for axis in axes:
            said += [one for one in found.get((load_case, axis), []) if one[0] in _OF_DATA]
        if channel.overall is None and all(state != "not rated" for state, _ in said):
            said.append(("not rated", "no rating is saved"))
        return {
            state: reasons
            for state in CELL_STATES
            if (reasons := tuple(dict.fromkeys(words for found, words in said if found == state)))
        } or {"rated": ()}


def _channels(release: ReleaseScore | None) -> Iterator[tuple[Key, Score]]:
    for key, score in () if release is None else compared_numbers(release):
        if score.kind == "channel":
            yield key, score


def _known(what: str, name: str, names: Sequence[str]) -> None:
    if name not in names:
        raise SettingsError(
            f"there is no {what} '{name}'", remedy=f"choose {', '.join(one for one in names if one)}"
        )


def _by_change(cell: MatrixCell) -> tuple[int, float]:
    """Put what was rated before and is not any more first, and what has no difference last."""
    change = cell.change
    if change is None or change.before is None:
        return 2, 0.0
    return (0, 0.0) if change.difference is None else (1, change.difference)


_ORDERS: Final[dict[str, Callable[[MatrixCell], tuple[object, ...]]]] = {
    "lost": lambda cell: (-cell.most_lost,),
    "change": _by_change,
    "rating": lambda cell: (-1.0 if cell.rating is None else cell.rating,),
    "name": lambda cell: (cell.region, cell.words.casefold(), cell.channel),
}
