"""Samples that are missing although the time axis does not show it."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.reference.check.departures import SHORTEST, Allowance, fitted_at
from correlate.reference.finding import Finding, counted

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from correlate.reference.check.repeats import RepeatCurve
    from correlate.reference.check.statistics import ChannelStatistics
    from correlate.reference.check.trials import Trials

    Floats = NDArray[np.float64]


FEWEST_SIBLINGS: Final = 3
"""Channels of one test that must have one length for another length to be odd."""
LONGEST_S: Final = 0.03
"""Longest gap looked for, s …"""
LONGEST_SHARE: Final = 0.15
"""… and as a share of the record."""
LEAST_STEPS: Final = 3
"""Shortest gap that is found without a shorter record, samples."""
CLOSED_GAP: Final = 0.5
"""The gap must leave no more than this share of the misfit that size, shift and stretch leave."""
MISSING_GAP: Final = 0.8
"""The same, where the record is shorter by just so many samples."""
JITTER_S: Final = 0.0015
"""Largest shift before the gap, s."""
JUMP_OVER_SURROUNDINGS: Final = 4.0
"""The step at the closed gap is so many times those around it …"""
AROUND: Final = 15
"""… for so many samples on either side …"""
JUMP_NOISES: Final = 10.0
"""… so many times the noise …"""
JUMP_SHARE: Final = 0.01
"""… and at least this share of the peak."""
AGREEING: Final = 0.25
"""The gaps found against two repeats differ by no more than this share."""


@dataclass(frozen=True, slots=True)
class _Gap:
    """A gap as one other repeat shows it."""

    at_s: float
    length_s: float
    left: float


@dataclass(frozen=True, slots=True)
class _Clue:
    """How long a gap must be, 0 where that is not known, and where it must be."""

    length_s: float
    at_s: float | None


def shorter_than_siblings(facts: Mapping[str, ChannelStatistics]) -> dict[str, int]:
    """Return by how many samples a channel is shorter than all others of one start and step."""
    groups: dict[tuple[int, int], list[ChannelStatistics]] = {}
    for item in facts.values():
        step_s = item.signal.step_s
        groups.setdefault((round(item.signal.start_s / step_s), round(step_s * 1e10)), []).append(item)
    found = {}
    for group in groups.values():
        (usual, times), *rest = Counter(len(item.signal) for item in group).most_common()
        if times >= FEWEST_SIBLINGS and sum(count for _, count in rest) == 1 and rest[0][0] < usual:
            short = next(item for item in group if len(item.signal) < usual)
            found[short.signal.channel] = usual - len(short.signal)
    return found


def examine_lost_samples(
    trials: Trials, index: int, names: Sequence[str], damaged: Collection[str]
) -> Iterator[Finding]:
    """Look for a channel whose later part comes earlier than in the other repeats.

    A channel that is damaged in another way is looked at only when its record is too short.

    References
    ----------
    .. [1] Criterion derived here.
    """
    trial = trials.trials[index]
    short = shorter_than_siblings(trial.facts)
    elsewhere = [shorter_than_siblings(other.facts) for i, other in enumerate(trials.trials) if i != index]
    for name in names:
        facts = trial.facts[name]
        missing = 0 if any(name in other for other in elsewhere) else short.get(name, 0)
        if name in damaged and not missing:
            continue
        gap = _gap(trials, index, name, missing or _shorter_than_repeats(trials, index, name))
        if gap is not None:
            yield _lost(facts, gap, missing, len(trials.others(index, name)))
        elif missing:
            yield _short(facts, missing)


def _shorter_than_repeats(trials: Trials, index: int, name: str) -> int:
    """Return by how many samples a channel is shorter than in all other repeats, which have one length."""
    signal = trials.trials[index].facts[name].signal
    sizes = {
        len(other.signal)
        for number, trial in enumerate(trials.trials)
        if number != index
        and (other := trial.facts.get(name)) is not None
        and math.isclose(other.signal.step_s, signal.step_s, rel_tol=1e-6)
    }
    return max(0, sizes.pop() - len(signal)) if len(sizes) == 1 else 0


def _gap(trials: Trials, index: int, name: str, missing: int) -> _Gap | None:
    """Return the gap on which most other repeats agree."""
    others = trials.others(index, name)
    facts = trials.trials[index].facts[name]
    jump = None if trials.trials[index].facts[name].is_minor else _jump(facts)
    if not others or (jump is None and not missing):
        return None
    step_s = facts.signal.step_s
    clue = _Clue(missing * step_s, jump)
    found = [_gap_beside(trials, index, other, name, clue) for other in others]
    most = MISSING_GAP if missing else CLOSED_GAP
    sure = [gap for gap in found if gap is not None and gap.left <= most]
    if 2 * len(sure) <= len(others):
        return None
    length_s = float(np.median([gap.length_s for gap in sure]))
    agreeing = [gap for gap in sure if abs(gap.length_s - length_s) <= max(AGREEING * length_s, 2 * step_s)]
    if 2 * len(agreeing) <= len(others) or length_s < LEAST_STEPS * step_s:
        return None
    at_s, left = (
        float(np.median(values)) for values in zip(*((one.at_s, one.left) for one in agreeing), strict=True)
    )
    return _Gap(at_s, length_s, left)


def _jump(facts: ChannelStatistics) -> float | None:
    """Return the time of the one step that is far larger than those around it; None where there is none."""
    steps = np.diff(facts.calm)
    size = np.abs(steps[2:-2] - (steps[:-4] + steps[4:]) / 2)
    if size.size < 4 * AROUND:
        return None
    top = int(size.argmax())
    beside = np.concatenate((size[max(0, top - AROUND) : max(0, top - 2)], size[top + 3 : top + AROUND + 1]))
    least = max(
        JUMP_NOISES * facts.grain,
        JUMP_SHARE * abs(facts.peak),
        JUMP_OVER_SURROUNDINGS * float(beside.max(initial=0.0)),
    )
    return facts.time_s(top + 3) if size[top] > least else None


def _gap_beside(trials: Trials, index: int, other: int, name: str, clue: _Clue) -> _Gap | None:
    """Return the best gap of a channel beside one other repeat."""
    one, two = trials.trials[index].curves[name], trials.trials[other].curves[name]
    plain = trials.departure(index, other, name)
    time_s = one.time_s
    if plain is None or time_s.size <= 2 * SHORTEST:
        return None
    best = _best_cut(one.values, two, time_s, clue)
    if best is None:
        return None
    cut, before_s, after_s = best
    later = np.where(np.arange(time_s.size) < cut, 0.0, 1.0)
    places_s = time_s - np.where(later > 0, after_s, before_s)
    inside = (places_s >= two.start_s) & (places_s <= two.end_s)
    allowed = Allowance(start_s=trials.trials[index].facts[name].onset_s)
    fit = fitted_at(
        one.values[inside],
        two,
        allowed,
        time_s=time_s[inside],
        places_s=places_s[inside],
        later=later[inside],
    )
    lead = fit.places_s - fit.time_s
    edge = int(np.searchsorted(fit.time_s, time_s[cut]))
    if not 0 < edge < lead.size:
        return None
    length_s = float(lead[edge] - lead[edge - 1])
    return _Gap(float(time_s[cut]), length_s, fit.energy / max(plain.energy, 1e-300))


def _best_cut(
    own: Floats, other: RepeatCurve, time_s: Floats, clue: _Clue
) -> tuple[int, float, float] | None:
    """Return where to cut, and the shifts before and after, with the least squared difference.

    With the running sum of squared differences at every shift, each pair of shifts costs one addition.
    """
    step_s = float(time_s[1] - time_s[0])
    near = round(JITTER_S / step_s)
    longest = round((clue.length_s or min(LONGEST_S, LONGEST_SHARE * float(np.ptp(time_s)))) / step_s)
    shifts = np.arange(-longest - near, near + 1)
    sums = np.cumsum([(own - other.at(time_s - shift * step_s)) ** 2 for shift in shifts], axis=1)
    first, last = SHORTEST, time_s.size - SHORTEST
    if clue.at_s is not None:
        at = int(np.clip(round((clue.at_s - time_s[0]) / step_s), first, last - 1))
        first, last = at, at + 1
    sums, to_come = sums[:, first:last], sums[:, -1:] - sums[:, first:last]
    early = sums[longest:]
    if clue.length_s:
        totals = early + to_come[: early.shape[0]]
        row, cut = np.unravel_index(int(totals.argmin()), totals.shape)
        return int(cut) + first + 1, float(shifts[row + longest]) * step_s, float(shifts[row]) * step_s
    place = int((early.min(axis=0) + to_come.min(axis=0)).argmin())
    before = int(early[:, place].argmin()) + longest
    after = int(to_come[:, place].argmin())
    if after >= before:
        return None
    return place + first + 1, float(shifts[before]) * step_s, float(shifts[after]) * step_s


def _lost(facts: ChannelStatistics, gap: _Gap, missing: int, others: int) -> Finding:
    step_s = facts.signal.step_s
    lost = missing or round(gap.length_s / step_s)
    words = (
        f"; the record is {counted(missing, 'sample')} shorter than those of the other channels"
        if missing
        else ""
    )
    return Finding(
        kind="lost samples",
        severity="error" if others > 1 else "warning",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"about {counted(lost, 'sample')} ({lost * step_s * 1e3:.3g} ms) are missing at "
        f"{gap.at_s * 1e3:.4g} ms: from there on the curve comes earlier than in the other repeats{words}",
        remedy="export the channel again from the recorder; the lost samples cannot be restored",
        evidence={
            "samples": lost,
            "gap_s": gap.length_s,
            "misfit_left": round(gap.left, 4),
        },
        start_s=gap.at_s,
        end_s=facts.signal.end_s,
    )


def _short(facts: ChannelStatistics, missing: int) -> Finding:
    return Finding(
        kind="lost samples",
        severity="warning",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the record is {counted(missing, 'sample')} shorter than those of all other channels",
        remedy="look for lost samples; export the channel again from the recorder",
        evidence={"samples": missing},
        start_s=facts.signal.start_s,
        end_s=facts.signal.end_s,
    )
