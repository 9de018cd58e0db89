"""Rating results of unfinished runs: up to their last time, and never saved."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from correlate.campaign.aggregation import aggregate
from correlate.campaign.block import score_block
from correlate.display import short_repr
from correlate.errors import CorrelateError
from correlate.evaluation.case import CampaignReader, CaseEvaluation
from correlate.evaluation.channels import model_channel
from correlate.evaluation.definition import read_so_far
from correlate.evaluation.record import PairRecord
from correlate.files import files_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from correlate.campaign.aggregation import Score
    from correlate.conditioning import Recipe
    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.evidence import Unrated
    from correlate.evaluation.tables import LoadCase, Release
    from correlate.formats import Recording

    State = tuple[int, int] | None

_SAME_MS: Final = 1e-6


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class CaseSoFar:
    """One load case of one release, rated as far as the run has come.

    Attributes
    ----------
    release, load_case
        Names.
    end_ms
        End of the interval of the load case.
    until_ms
        End of the interval that was rated; None when there is nothing to rate yet.
    reason
        Why the result is not whole; empty when it is.
    may_grow
        Whether the run may still add what is missing.
    score
        Of the load case up to `until_ms`; None when nothing is rated.
    records
        Rated pairs.
    unrated
        Pairs that could not be rated, with the reason.
    """

    release: str
    load_case: str
    end_ms: float
    until_ms: float | None = None
    reason: str = ""
    may_grow: bool = True
    score: Score | None = None
    records: tuple[PairRecord, ...] = ()
    unrated: tuple[Unrated, ...] = ()


def score_so_far(campaign: Campaign, releases: Sequence[str] = ()) -> list[CaseSoFar]:
    """Rate every load case up to the last time for which all of its model channels have data.

    Parameters
    ----------
    campaign
        The campaign.
    releases
        Names; all when empty.

    Returns
    -------
    list of CaseSoFar
        By release and load case, in the order of the file. Nothing is written to a results store: a rating
        of a part of the interval is no rating of the release.

    Raises
    ------
    SettingsError
        A release is unknown.
    FormatError
        A load case names tests that are not there.

    Notes
    -----
    Both curves are filtered before they are cut. The filter sees what follows the end in the test and not in
    the model, so the last milliseconds of an unfinished run are less sure than the rest.
    """
    chosen = [campaign.release(name) for name in releases] or campaign.releases
    return [_case_so_far(campaign, release, case) for release in chosen for case in campaign.load_cases]


def _case_so_far(campaign: Campaign, release: Release, case: LoadCase) -> CaseSoFar:
    reader = CampaignReader(read=read_so_far)
    path, layout = campaign.model_path(release, case), campaign.model_layout(release, case)
    nothing = CaseSoFar(release=release.name, load_case=case.name, end_ms=case.interval_ms[1])
    try:
        recording = reader.recording(path, layout)
    except CorrelateError as error:
        return replace(nothing, reason=str(error))
    last_ms = 1e3 * _last_common_time(case, recording)
    is_short = last_ms < nothing.end_ms - _SAME_MS
    has_mark = layout is not None and layout.normal_end is not None
    may_grow = recording.unfinished is not None or (is_short and not has_mark)
    so_far = replace(nothing, may_grow=may_grow, reason=_reason(recording, last_ms, nothing))
    if last_ms <= case.interval_ms[0]:
        return so_far
    until_ms = last_ms if is_short else nothing.end_ms
    evaluation = CaseEvaluation(campaign, case, reader=reader, change=_cut_at(until_ms / 1e3))
    block = score_block(evaluation, release, ())
    records = tuple(pair for pair in block.pairs if isinstance(pair, PairRecord))
    return replace(
        so_far,
        until_ms=until_ms,
        score=_score_of(campaign, release, case, records),
        records=records,
        unrated=tuple(block.unrated),
    )


def _reason(recording: Recording, last_ms: float, case: CaseSoFar) -> str:
    if recording.unfinished is not None:
        return str(recording.unfinished)
    if last_ms < case.end_ms - _SAME_MS:
        end = f"before the end of the interval at {case.end_ms:.6g} ms"
        return f"{recording.path}: the results end at {last_ms:.6g} ms, {end}"
    return ""


def _last_common_time(case: LoadCase, recording: Recording) -> float:
    """Return the last time in s that all mapped channels of a model have, shifted as planned."""
    ends = []
    for plan in case.channel:
        try:
            ends.append(model_channel(plan, recording).end_s + plan.model_shift_ms / 1e3)
        except CorrelateError:
            continue  # reported with the pair
    return min(ends, default=float("-inf"))


def _cut_at(end_s: float) -> Callable[[Recipe], Recipe]:
    return lambda recipe: replace(recipe, end_s=end_s)


def _score_of(
    campaign: Campaign, release: Release, case: LoadCase, records: Sequence[PairRecord]
) -> Score | None:
    whole = aggregate(campaign, records, release.name)
    parts = (*whole.training.parts, *(whole.held_out.parts if whole.held_out else ()))
    return next((part for part in parts if part.name == case.name and part.overall is not None), None)


def watched(
    campaign: Campaign, releases: Sequence[str], wait: Callable[[], object]
) -> Iterator[list[CaseSoFar]]:
    """Yield the ratings so far whenever a result has changed, until every run is finished.

    Parameters
    ----------
    campaign, releases
        As for `score_so_far`.
    wait
        Called between two looks at the files.
    """
    chosen = [campaign.release(name) for name in releases] or campaign.releases
    seen: dict[tuple[str, str], State] = {}
    latest: dict[tuple[str, str], CaseSoFar] = {}
    while True:
        changed = False
        campaign.objects.look_again()
        for release in chosen:
            for case in campaign.load_cases:
                key = release.name, case.name
                state = _state_of(campaign, release, case)
                if key in latest and seen[key] == state:
                    continue
                seen[key], changed = state, True
                latest[key] = _case_so_far(campaign, release, case)
        if changed:
            yield list(latest.values())
        if not any(one.may_grow for one in latest.values()):
            return
        wait()


def _state_of(campaign: Campaign, release: Release, case: LoadCase) -> State:
    """Return what changes when a result grows: size and time of its files; None while there is none."""
    path = campaign.model_path(release, case)
    layout = campaign.model_layout(release, case)
    end = layout.normal_end if layout else None
    mark = path if end is None else end.file_of(path)
    try:
        seen = [file.stat() for file in {*files_of(path), *([mark] if mark.exists() else [])}]
    except OSError:
        return None
    return sum(one.st_size for one in seen), max(one.st_mtime_ns for one in seen)
