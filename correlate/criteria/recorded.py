"""All criteria that can be computed from a recording, and test against model."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from correlate.channel import fits
from correlate.conditioning import derivative, occipital_moment, resultant
from correlate.conditioning.derived import check_same_grid
from correlate.criteria.channels import AS_RECORDED, fitting_channel, prepared
from correlate.criteria.comparison import compare_criterion
from correlate.criteria.table import CRITERIA
from correlate.display import short_repr
from correlate.errors import ChannelError, CorrelateError, SettingsError

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from correlate.criteria.channels import Preparation
    from correlate.criteria.comparison import CriterionComparison
    from correlate.criteria.devices import Device
    from correlate.criteria.result import CriterionResult
    from correlate.criteria.table import Criterion
    from correlate.formats import Recording
    from correlate.signal import Signal


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RecordedCriterion:
    """One criterion at one place of a recording.

    Attributes
    ----------
    criterion
        Entry of the table.
    place
        First 12 characters of the channel codes; the pattern where no channel fits.
    result
        Times count from the begin of the interval; None when it could not be computed.
    start_s, end_s
        The stretch behind the value on the time axis of the data, s; None without a result.
    reason
        Why there is no result; empty when there is one.
    signals
        The channels as they were used, with every step.
    """

    criterion: Criterion
    place: str
    result: CriterionResult | None
    start_s: float | None
    end_s: float | None
    reason: str
    signals: tuple[Signal, ...]

    @property
    def value(self) -> float | None:
        """In the unit of the criterion; None when it could not be computed."""
        return None if self.result is None else self.result.value


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RecordedCriteria:
    """All criteria of one recording.

    Attributes
    ----------
    path
        Of the recording.
    device
        Whose constants were used.
    entries
        In the order of the table, one per place.
    """

    path: str
    device: Device
    entries: tuple[RecordedCriterion, ...]


def recorded_criteria(
    recording: Recording, device: Device, *, preparation: Preparation = AS_RECORDED
) -> RecordedCriteria:
    """Compute every criterion of the table that has its channels.

    Parameters
    ----------
    recording
        A test, or the output of a model, its channels under channel codes.
    device
        Whose constants are used.
    preparation
        Time zero, offset, interval.

    Returns
    -------
    RecordedCriteria
        A criterion without channels has one entry that says which are missing.
    """
    signals = recording.signals
    found: list[RecordedCriterion] = []
    for criterion in CRITERIA:
        places = dict.fromkeys(s.channel[:12] for s in signals if _serves(s.channel, criterion))
        if not places:
            wanted = ", ".join(f"{criterion.place}{ending}?" for ending in criterion.channels)
            found.append(_without(criterion, criterion.place, f"no channel {wanted}"))
        found += [
            _AtPlace(
                criterion=criterion, place=place, signals=signals, device=device, preparation=preparation
            ).computed()
            for place in places
        ]
    return RecordedCriteria(path=str(recording.path), device=device, entries=tuple(found))


def compare_recorded(
    repeats: Sequence[RecordedCriteria], candidate: RecordedCriteria
) -> tuple[CriterionComparison, ...]:
    """Compare the criteria of a model with those of the repeats of a test.

    Parameters
    ----------
    repeats
        From :func:`recorded_criteria`, one entry per repeat.
    candidate
        The same of the model.

    Returns
    -------
    tuple of CriterionComparison
        Of the criteria that the model and every repeat have, in the order of the table; where a device has
        several places of one kind, the name is followed by the place.
    """
    tables = [_by_place(one) for one in repeats]
    ours = _by_place(candidate)
    names = [name for name, _ in ours]
    found = []
    for (name, place), entry in ours.items():
        others = [table[name, place] for table in tables if (name, place) in table]
        if others and len(others) == len(tables):
            found.append(
                compare_criterion(
                    name=f"{name}, {place}" if names.count(name) > 1 else name,
                    unit=entry.criterion.unit,
                    repeats=[_value(other) for other in others],
                    candidate=_value(entry),
                )
            )
    return tuple(found)


def _by_place(one: RecordedCriteria) -> dict[tuple[str, str], RecordedCriterion]:
    return {(entry.criterion.name, entry.place): entry for entry in one.entries if entry.result is not None}


def _value(entry: RecordedCriterion) -> float:
    return float("nan") if entry.value is None else entry.value


_STAND_INS: Final = {"resultant": ("ACR",), "acceleration": ("AVX", "AVY", "AVZ")}
"""Endings of the channels that a combined curve can be made of instead."""


def _serves(channel: str, criterion: Criterion) -> bool:
    endings = [*criterion.channels, *_STAND_INS.get(criterion.combined, ())]
    return any(fits(channel, f"{criterion.place}{ending}") for ending in endings)


@dataclass(frozen=True, slots=True, kw_only=True)
class _AtPlace:
    """A criterion at one place of a recording."""

    criterion: Criterion
    place: str
    signals: Sequence[Signal]
    device: Device
    preparation: Preparation

    def computed(self) -> RecordedCriterion:
        """Return the criterion, or why there is none."""
        try:
            used = self._curves()
            curves = {name: signal.samples for name, signal in used.items()}
            first = next(iter(used.values()))
            result = self.criterion.compute(curves, first.step_s, self.device)
        except CorrelateError as error:
            return _without(self.criterion, self.place, str(error))
        return RecordedCriterion(
            criterion=self.criterion,
            place=self.place,
            result=result,
            start_s=first.start_s + result.start_s,
            end_s=first.start_s + result.end_s,
            reason="",
            signals=tuple(used.values()),
        )

    def _curves(self) -> dict[str, Signal]:
        """Return the curves by ending or name, a combined one under the ending it stands for."""
        criterion = self.criterion
        wanted = {ending: (f"{self.place}{ending}?", unit) for ending, unit in criterion.channels.items()}
        instead = {ending: f"{self.place}{ending}?" for ending in _STAND_INS.get(criterion.combined, ())}
        if (
            instead
            and not self._there(wanted[ending][0] for ending in wanted)
            and self._there(instead.values())
        ):
            return self._stood_in_for(instead)
        elsewhere = {
            name: (_filled(code, self.place), unit) for name, (code, unit) in criterion.elsewhere.items()
        }
        ready = self._prepared(wanted | elsewhere)
        if criterion.combined == "resultant":
            return {"ACR": resultant(*ready.values())}
        if criterion.combined == "moment":
            return {"FOZ": ready["FOZ"], "MOY": self._moment(ready)}
        return ready

    def _there(self, codes: Iterable[str]) -> bool:
        return all(fitting_channel(self.signals, code) is not None for code in codes)

    def _stood_in_for(self, instead: Mapping[str, str]) -> dict[str, Signal]:
        """Return a resultant as recorded, or angular accelerations from angular velocities."""
        if self.criterion.combined == "resultant":
            return self._prepared({ending: (code, "g") for ending, code in instead.items()})
        rates = self._prepared({ending: (code, "rad/s") for ending, code in instead.items()})
        return {f"AA{ending[2]}": derivative(rate) for ending, rate in rates.items()}

    def _prepared(self, wanted: Mapping[str, tuple[str, str]]) -> dict[str, Signal]:
        """Return the channels of codes, each in its unit, all on one grid."""
        found = {name: fitting_channel(self.signals, code) for name, (code, _) in wanted.items()}
        missing = [wanted[name][0] for name, signal in found.items() if signal is None]
        if missing:
            raise ChannelError(f"no channel {', '.join(missing)}")
        cfc = self.device.classes.get(self.criterion.name, self.criterion.cfc)
        ready = {
            name: prepared(signal, unit=wanted[name][1], cfc=cfc, preparation=self.preparation)
            for name, signal in found.items()
            if signal is not None
        }
        for other in ready.values():
            check_same_grid(next(iter(ready.values())), other)
        return ready

    def _moment(self, ready: Mapping[str, Signal]) -> Signal:
        lever_m = self.device.occipital_lever_m
        if lever_m is None:
            raise SettingsError(f"there is no lever of the occipital condyle for '{self.device.name}'")
        return occipital_moment(ready["MOY"], ready["FOX"], distance_m=lever_m)


def _filled(code: str, place: str) -> str:
    """Return a code with the characters of a place where it has ``=``."""
    return "".join(place[at] if mark == "=" else mark for at, mark in enumerate(code))


def _without(criterion: Criterion, place: str, reason: str) -> RecordedCriterion:
    return RecordedCriterion(
        criterion=criterion, place=place, result=None, start_s=None, end_s=None, reason=reason, signals=()
    )
