"""Which channels of a load case may give hints about a material, and why the others do not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.campaign.pair_explanation import sensors_of
from correlate.display import short_repr

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Mapping, Sequence

    from numpy.typing import NDArray

    from correlate.evaluation.tables import ChannelPlan

    Floats = NDArray[np.float64]


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class HintChannels:
    """The channels of a load case by what they may say about a material.

    Attributes
    ----------
    speaking
        Those whose differences ask for an explanation.
    waiting
        A data-handling error is suspected that would feign a material, or the model is zero throughout.
    within_scatter
        The rating of the model is within the scatter of the hardware: not to be explained, but evidence,
        because what does not differ excludes causes.
    shifted
        A shift in time alone restores most of the lost rating.
    minor
        Axes whose peak is below a tenth of the resultant of their sensor.
    """

    speaking: tuple[str, ...]
    waiting: tuple[str, ...] = ()
    within_scatter: tuple[str, ...] = ()
    shifted: tuple[str, ...] = ()
    minor: tuple[str, ...] = ()

    @property
    def evidence(self) -> tuple[str, ...]:
        """The channels that hints are made from; none where nothing asks for an explanation."""
        return (*self.speaking, *self.within_scatter) if self.speaking else ()

    @property
    def silence(self) -> str:
        """Why no channel may give hints, in words; empty where one may, or where there is none at all."""
        groups = [(len(getattr(self, name)), *words) for name, words in _SILENCE.items()]
        there = [(count, alone, among) for count, alone, among in groups if count]
        if self.speaking or not (there or self.minor):
            return ""
        if not there:
            return "all channels are minor axes"
        aside = "; minor axes are not counted" if self.minor else ""
        if len(there) == 1:
            return there[0][1] + aside
        return (
            "no channel can give hints: " + ", ".join(f"{count} {among}" for count, _, among in there) + aside
        )


_SILENCE: Final = {
    "waiting": (
        "a data-handling error is suspected in every channel; resolve it first",
        "with a suspected data-handling error",
    ),
    "within_scatter": ("the model is within hardware scatter in every channel", "within hardware scatter"),
    "shifted": (
        "a shift in time alone recovers most of the loss in every channel; check the triggers first",
        "with a loss that a shift in time alone mostly recovers",
    ),
}
"""For each reason: what is said where it holds for every channel, and where it holds for some."""


def sort_channels(
    names: Iterable[str],
    *,
    waiting: Collection[str],
    minor: Collection[str],
    within_scatter: Callable[[str], bool],
    shifted: Callable[[str], bool],
) -> HintChannels:
    """Put each channel where the first reason that holds puts it.

    Parameters
    ----------
    names
        Channels of the load case that are paired.
    waiting, minor
        Of them, by :class:`HintChannels`.
    within_scatter, shifted
        Asked only for channels without an earlier reason.
    """
    found: dict[str, list[str]] = {
        name: [] for name in ("speaking", "waiting", "within_scatter", "shifted", "minor")
    }
    for name in names:
        if name in waiting:
            found["waiting"].append(name)
        elif name in minor:
            found["minor"].append(name)
        elif within_scatter(name):
            found["within_scatter"].append(name)
        elif shifted(name):
            found["shifted"].append(name)
        else:
            found["speaking"].append(name)
    return HintChannels(**{name: tuple(listed) for name, listed in found.items()})


MINOR_SHARE: Final = 0.1
"""An axis with a smaller peak, as a share of the largest resultant of its sensor, is minor (chosen here)."""


def minor_axes(
    plans: Sequence[ChannelPlan], tests: Mapping[str, Floats], units: Mapping[str, str]
) -> tuple[str, ...]:
    """Return the channels whose peak is below a tenth of the largest resultant of their sensor.

    Parameters
    ----------
    plans
        Channels of a load case. Axes of one sensor are those of one sensor name, or of one channel code but
        for the direction, in one unit.
    tests
        One test of each channel, cut to the interval of the load case, by name; a channel that is not there
        is passed over.
    units
        Of the channels in `tests`.
    """
    sensors = {plan.test: sensors_of(plan) for plan in plans if plan.test in tests}
    found = []
    for name, own in sensors.items():
        axes = [
            tests[other]
            for other, its in sensors.items()
            if other == name or (units[name] == units[other] and not own.isdisjoint(its))
        ]
        resultant = np.sqrt(np.sum(np.square(axes), axis=0))
        if np.abs(tests[name]).max() < MINOR_SHARE * resultant.max():
            found.append(name)
    return tuple(found)
