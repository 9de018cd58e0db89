"""The table of criteria, all that a recording allows, and test against model."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.conditioning import occipital_moment, resultant
from correlate.conditioning.derived import check_same_grid
from correlate.criteria.body import (
    chest_deflection,
    chest_deflection_rate,
    femur_force,
    nij,
    tibia_index,
    viscous_criterion,
)
from correlate.criteria.channels import AS_RECORDED, fits, fitting_channel, prepared
from correlate.criteria.curve_measures import contiguous_clip, cumulative_clip, peak
from correlate.criteria.head import bric, hic, severity_index
from correlate.display import FixedResults, short_repr
from correlate.errors import ChannelError, CorrelateError, SettingsError, SignalError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    from correlate.criteria.channels import Preparation
    from correlate.criteria.devices import Device
    from correlate.criteria.result import CriterionResult
    from correlate.formats import Recording
    from correlate.signal import Signal

    Curves = Mapping[str, NDArray[np.float64]]

    Computed = Callable[[Curves, float, Device], CriterionResult]


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Criterion:
    """One criterion as it is taken from a recording.

    Attributes
    ----------
    name
        Of the criterion, as in the table of limits.
    unit
        Of its value.
    place
        First 12 characters of the channel codes, ``?`` for any.
    channels
        Endings of the codes (dimension and direction) and the unit of each.
    combined
        ``resultant`` of three axes, the neck ``moment`` about the occipital condyle, or nothing.
    cfc
        Channel frequency class.
    compute
        From the curves by ending, the step in s, and the device.
    """

    name: str
    unit: str
    place: str
    channels: Mapping[str, str]
    cfc: int
    compute: Computed
    combined: str = ""


def _constants(found: Any, device: Device, word: str) -> Any:
    if found is None:
        raise SettingsError(f"there are no constants of the {word} for '{device.name}'")
    return found


def _deflection(curves: Curves) -> NDArray[np.float64]:
    # +x points forward: a sternum pushed in is negative there and positive as a deflection.
    return -curves["DSX"]


def _viscous(curves: Curves, step_s: float, device: Device) -> CriterionResult:
    constants = _constants(device.viscous, device, "viscous criterion")
    return viscous_criterion(
        _deflection(curves), step_s=step_s, scale=constants.scale, depth_m=constants.depth_m
    )


def _nij(curves: Curves, step_s: float, device: Device) -> CriterionResult:
    constants = _constants(device.neck, device, "neck criterion")
    return nij(curves["FOZ"], curves["MOY"], step_s=step_s, intercepts=constants)


def _tibia(curves: Curves, step_s: float, device: Device) -> CriterionResult:
    constants = _constants(device.tibia, device, "tibia index")
    return tibia_index(
        curves["MOX"],
        curves["MOY"],
        curves["FOZ"],
        step_s=step_s,
        critical_moment_Nm=constants.critical_moment_Nm,
        critical_force_N=constants.critical_force_N,
    )


_ACCELERATION: Final = {"ACX": "g", "ACY": "g", "ACZ": "g"}


def _of_resultant(
    name: str, unit: str, place: str, cfc: int, compute: Callable[..., CriterionResult]
) -> Criterion:
    return Criterion(
        name=name,
        unit=unit,
        place=place,
        channels=_ACCELERATION,
        combined="resultant",
        cfc=cfc,
        compute=lambda curves, step_s, _: compute(curves["ACR"], step_s=step_s),
    )


_HEAD: Final = "??HEAD??????"
_CHEST: Final = "??CHST??????"

CRITERIA: Final[tuple[Criterion, ...]] = FixedResults(
    (
        _of_resultant("HIC15", "1", _HEAD, 1000, lambda a, *, step_s: hic(a, step_s=step_s, window_s=0.015)),
        _of_resultant("HIC36", "1", _HEAD, 1000, lambda a, *, step_s: hic(a, step_s=step_s, window_s=0.036)),
        _of_resultant("severity index", "1", _HEAD, 1000, severity_index),
        _of_resultant("head 3 ms clip, cumulative", "g", _HEAD, 1000, cumulative_clip),
        _of_resultant("head 3 ms clip, contiguous", "g", _HEAD, 1000, contiguous_clip),
        _of_resultant("head peak acceleration", "g", _HEAD, 1000, peak),
        Criterion(
            name="BrIC",
            unit="1",
            place=_HEAD,
            channels={"AVX": "rad/s", "AVY": "rad/s", "AVZ": "rad/s"},
            cfc=60,
            compute=lambda c, step_s, _: bric(c["AVX"], c["AVY"], c["AVZ"], step_s=step_s),
        ),
        Criterion(
            name="Nij",
            unit="1",
            place="??NECKUP????",
            channels={"FOX": "N", "FOZ": "N", "MOY": "Nm"},
            combined="moment",
            cfc=600,
            compute=_nij,
        ),
        _of_resultant("chest 3 ms clip, cumulative", "g", _CHEST, 180, cumulative_clip),
        _of_resultant("chest 3 ms clip, contiguous", "g", _CHEST, 180, contiguous_clip),
        Criterion(
            name="chest deflection",
            unit="mm",
            place=_CHEST,
            channels={"DSX": "mm"},
            cfc=600,
            compute=lambda c, step_s, _: chest_deflection(_deflection(c), step_s=step_s),
        ),
        Criterion(
            name="chest deflection rate",
            unit="m/s",
            place=_CHEST,
            channels={"DSX": "mm"},
            cfc=180,
            compute=lambda c, step_s, _: chest_deflection_rate(_deflection(c), step_s=step_s),
        ),
        Criterion(
            name="viscous criterion",
            unit="m/s",
            place=_CHEST,
            channels={"DSX": "mm"},
            cfc=180,
            compute=_viscous,
        ),
        Criterion(
            name="femur force",
            unit="N",
            place="??FEMR??????",
            channels={"FOZ": "N"},
            cfc=600,
            compute=lambda c, step_s, _: femur_force(c["FOZ"], step_s=step_s),
        ),
        Criterion(
            name="tibia index",
            unit="1",
            place="??TIBI??????",
            channels={"MOX": "Nm", "MOY": "Nm", "FOZ": "N"},
            cfc=600,
            compute=_tibia,
        ),
    )
)
"""Every criterion. Filter classes: SAE J211-1 and 49 CFR 571.208, from memory."""


LEAST_REPEATS: Final = 3
"""Fewest repeats whose scatter is taken as a yardstick."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class CriterionComparison:
    """One criterion over the repeats of a test and in the model.

    Attributes
    ----------
    name, unit
        Of the criterion.
    repeats
        Value in each repeat.
    candidate
        Value in the model.
    reference
        Mean of the repeats: the value in the test.
    scatter
        Standard deviation of the repeats (n − 1 in the denominator); None with a single one.
    error
        Candidate less reference, in the unit.
    relative_error
        Error over the absolute value of the reference; None where that is 0.
    error_in_scatter
        Error in standard deviations of the repeats; None with fewer than three repeats or without scatter.
    note
        Why a number is missing; empty when none is.
    """

    name: str
    unit: str
    repeats: tuple[float, ...]
    candidate: float
    reference: float
    scatter: float | None
    error: float
    relative_error: float | None
    error_in_scatter: float | None
    note: str


def compare_criterion(
    *, name: str, unit: str, repeats: Sequence[float], candidate: float
) -> CriterionComparison:
    r"""Compare the value of a criterion in the model with the repeats of the test.

    .. math:: e = c - \bar r, \qquad e_\mathrm{rel} = e / |\bar r|, \qquad
              e_s = e / s, \quad s^2 = \frac{\sum (r_k - \bar r)^2}{n - 1}

    Parameters
    ----------
    name, unit
        Of the criterion.
    repeats
        Value :math:`r_k` in each repeat, at least one.
    candidate
        Value :math:`c` in the model.

    Returns
    -------
    CriterionComparison

    Raises
    ------
    SignalError
        No repeat, or a value that is not finite.

    References
    ----------
    .. [1] Sample mean and standard deviation; that fewer than three repeats give no yardstick is common
       practice, no source.

    Examples
    --------
    >>> found = compare_criterion(name="HIC15", unit="1", repeats=[690.0, 700.0, 710.0], candidate=735.0)
    >>> found.error, found.relative_error, found.error_in_scatter
    (35.0, 0.05, 3.5)
    """
    values = tuple(float(value) for value in repeats)
    if not values or not all(map(math.isfinite, (*values, candidate))):
        raise SignalError(
            f"the values of {name} are {list(values)} in the test and {candidate} in the model",
            remedy="give at least one repeat and finite numbers",
        )
    reference = float(np.mean(values))
    scatter = float(np.std(values, ddof=1)) if len(values) > 1 else None
    error = float(candidate) - reference
    enough = scatter is not None and len(values) >= LEAST_REPEATS
    return CriterionComparison(
        name=name,
        unit=unit,
        repeats=values,
        candidate=float(candidate),
        reference=reference,
        scatter=scatter,
        error=error,
        relative_error=error / abs(reference) if reference else None,
        error_in_scatter=error / scatter if enough and scatter else None,
        note=_note(len(values), scatter),
    )


def _note(count: int, scatter: float | None) -> str:
    if count < LEAST_REPEATS:
        return f"{count} of {LEAST_REPEATS} repeats needed for scatter"
    return "" if scatter else "the repeats do not scatter"


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
        found += [_at_place(criterion, place, signals, device, preparation) for place in places]
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


def _serves(channel: str, criterion: Criterion) -> bool:
    endings = [*criterion.channels, *(["ACR"] if criterion.combined == "resultant" else [])]
    return any(fits(channel, f"{criterion.place}{ending}") for ending in endings)


def _at_place(
    criterion: Criterion,
    place: str,
    signals: Sequence[Signal],
    device: Device,
    preparation: Preparation,
) -> RecordedCriterion:
    try:
        used = _curves(criterion, place, signals, preparation)
        curves = {ending: signal.samples for ending, signal in used.items()}
        first = next(iter(used.values()))
        result = criterion.compute(curves, first.step_s, device)
    except CorrelateError as error:
        return _without(criterion, place, str(error))
    return RecordedCriterion(
        criterion=criterion,
        place=place,
        result=result,
        start_s=first.start_s + result.start_s,
        end_s=first.start_s + result.end_s,
        reason="",
        signals=tuple(used.values()),
    )


def _curves(
    criterion: Criterion, place: str, signals: Sequence[Signal], preparation: Preparation
) -> dict[str, Signal]:
    """Return the prepared channels by ending, the combined one under the ending it stands for."""
    ready: dict[str, Signal] = {}
    missing = []
    for ending, unit in criterion.channels.items():
        found = fitting_channel(signals, f"{place}{ending}")
        if found is None:
            missing.append(f"{place}{ending}?")
        else:
            ready[ending] = prepared(found, unit=unit, cfc=criterion.cfc, preparation=preparation)
    if missing and criterion.combined == "resultant":
        whole = fitting_channel(signals, f"{place}ACR")
        if whole is not None:
            return {"ACR": prepared(whole, unit="g", cfc=criterion.cfc, preparation=preparation)}
    if missing:
        raise ChannelError(f"no channel {', '.join(missing)}")
    if criterion.combined == "resultant":
        return {"ACR": resultant(*ready.values())}
    if criterion.combined == "moment":
        return {"FOZ": ready["FOZ"], "MOY": occipital_moment(ready["MOY"], ready["FOX"])}
    for other in ready.values():
        check_same_grid(next(iter(ready.values())), other)
    return ready


def _without(criterion: Criterion, place: str, reason: str) -> RecordedCriterion:
    return RecordedCriterion(
        criterion=criterion, place=place, result=None, start_s=None, end_s=None, reason=reason, signals=()
    )
