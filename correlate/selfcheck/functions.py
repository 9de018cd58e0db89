"""What each function of the kit computes: the package's own code on the curves of one file."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.conditioning import FREQUENCY_CLASSES, Recipe, filter_cfc
from correlate.criteria import (
    DurationLimit,
    bric,
    chest_deflection,
    chest_deflection_rate,
    contiguous_clip,
    cumulative_clip,
    damage,
    exceedance,
    femur_force,
    find_device,
    hic,
    nic,
    nij,
    qualify,
    severity_index,
    tibia_index,
    viscous_criterion,
    window_book,
)
from correlate.errors import SettingsError
from correlate.metrics.iso18571 import rate, rate_many
from correlate.pair import AlignedPair
from correlate.reference.corridor import (
    inside_corridor,
    prediction_corridor,
    range_corridor,
    spread_corridor,
)
from correlate.reference.repeats import repeat_set

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

    from correlate.criteria import Device
    from correlate.formats import Recording
    from correlate.metrics.iso18571 import Rating
    from correlate.reference.repeats import RepeatSet
    from correlate.signal import Signal

    Floats = NDArray[np.float64]
    Settings = Mapping[str, Any]
    Found = Mapping[str, float | Floats | None]

MANY: Final = 5
"""Copies of a pair that are rated at once: more than are rated side by side."""


def _pair(recording: Recording) -> AlignedPair:
    test, model = recording.channel("test"), recording.channel("model")
    return AlignedPair(time=test.time_s, reference=test.samples, candidate=model.samples)


def _rating(recording: Recording, _: Settings) -> Found:
    return _scores(rate(_pair(recording)))


def _rating_of_many(recording: Recording, _: Settings) -> Found:
    return _scores(rate_many([_pair(recording)] * MANY)[-1])


def _scores(rating: Rating) -> Found:
    names = ("overall", "corridor", "phase", "magnitude", "slope")
    return {name: getattr(rating, name) for name in names} | {"delay of the model": 1e3 * rating.shift_s}


def _filter(recording: Recording, _: Settings) -> Found:
    raw = recording.channel("as recorded")
    return {f"CFC {cfc}": filter_cfc(raw, cfc).samples for cfc in FREQUENCY_CLASSES}


def _amplitude(recording: Recording, settings: Settings) -> Found:
    """Fit sine and cosine to the middle third of a filtered tone of height 1."""
    column = settings["column"]
    filtered = filter_cfc(recording.channel(column), settings["cfc"])
    middle = slice(len(filtered) // 3, 2 * len(filtered) // 3)
    angle = 2 * np.pi * settings["frequency_hz"] * filtered.time_s[middle]
    waves = np.column_stack([np.sin(angle), np.cos(angle)])
    parts, *_ = np.linalg.lstsq(waves, filtered.samples[middle], rcond=None)
    return {f"amplitude at the {column}": 20 * float(np.log10(np.hypot(*parts)))}


def _head(recording: Recording, _: Settings) -> Found:
    head = recording.channel("head resultant")
    return {
        f"HIC{window}": hic(head.samples, step_s=head.step_s, window_s=window / 1e3).value
        for window in (15, 36)
        if 1e3 * (head.end_s - head.start_s) >= window or window == 15
    }


def _severity(recording: Recording, _: Settings) -> Found:
    head = recording.channel("head resultant")
    return {"severity index": severity_index(head.samples, step_s=head.step_s).value}


def _clip(recording: Recording, _: Settings) -> Found:
    head = recording.channel("head resultant")
    return {
        "cumulative": cumulative_clip(head.samples, step_s=head.step_s).value,
        "contiguous": contiguous_clip(head.samples, step_s=head.step_s).value,
    }


def _chest(recording: Recording, settings: Settings) -> Found:
    chest, viscous = recording.channel("chest deflection"), _device(settings).viscous
    if viscous is None:
        raise SettingsError("the device has no constants of the viscous criterion")
    return {
        "deflection": chest_deflection(chest.samples, step_s=chest.step_s).value,
        "rate of deflection": chest_deflection_rate(chest.samples, step_s=chest.step_s).value,
        "viscous criterion": viscous_criterion(
            chest.samples, step_s=chest.step_s, scale=viscous.scale, depth_m=viscous.depth_m
        ).value,
    }


def _nij(recording: Recording, settings: Settings) -> Found:
    force, moment = recording.channel("axial force"), recording.channel("occipital moment")
    intercepts = _device(settings).neck
    if intercepts is None:
        raise SettingsError("the device has no constants of Nij")
    found = nij(force.samples, moment.samples, step_s=force.step_s, intercepts=intercepts)
    return {str(case): value for case, value in found.cases.items()}


def _duration_limit(recording: Recording, settings: Settings) -> Found:
    force = recording.channel("axial force")
    limit = DurationLimit(
        durations_s=tuple(duration / 1e3 for duration in settings["durations_ms"]),
        levels=tuple(settings["levels"]),
    )
    return {"largest ratio": exceedance(force.samples, step_s=force.step_s, limit=limit).value}


def _nic(recording: Recording, _: Settings) -> Found:
    lower, head = recording.channel("lower neck"), recording.channel("head")
    return {"NIC": nic(lower.samples, head.samples, step_s=head.step_s).value}


def _femur(recording: Recording, _: Settings) -> Found:
    force = recording.channel("femur force")
    return {"compression": femur_force(force.samples, step_s=force.step_s).value}


def _tibia(recording: Recording, settings: Settings) -> Found:
    x, y, force = (recording.channel(f"tibia {name}") for name in ("moment x", "moment y", "force"))
    tibia = _device(settings).tibia
    if tibia is None:
        raise SettingsError("the device has no constants of the tibia index")
    found = tibia_index(
        x.samples,
        y.samples,
        force.samples,
        step_s=x.step_s,
        critical_moment_Nm=tibia.critical_moment_Nm,
        critical_force_N=tibia.critical_force_N,
    )
    return {"tibia index": found.value}


def _bric(recording: Recording, _: Settings) -> Found:
    x, y, z = (recording.channel(f"rate {axis}") for axis in "xyz")
    return {"BrIC": bric(x.samples, y.samples, z.samples, step_s=x.step_s).value}


def _damage(recording: Recording, _: Settings) -> Found:
    x, y, z = (recording.channel(f"angular acceleration {axis}") for axis in "xyz")
    return {"DAMAGE": damage(x.samples, y.samples, z.samples, step_s=x.step_s).value}


def _device(settings: Settings) -> Device:
    return find_device(settings["device"])


def _windows(recording: Recording, settings: Settings) -> Found:
    book = window_book()
    window = book.find(device=settings["device"], test=settings["test"])
    found: dict[str, float | Floats | None] = {}
    for one in qualify(recording, window, book).verdicts:
        found |= {
            one.name: one.value,
            f"{one.name}, low": one.low,
            f"{one.name}, high": one.high,
            f"{one.name}, outside by": one.outside_by,
        }
    return found


def _repeats(recording: Recording, settings: Settings) -> tuple[RepeatSet, list[Signal]]:
    signals = [recording.channel(name) for name in settings["repeats"]]
    recipe = Recipe(step_s=signals[0].step_s)
    return repeat_set(signals, recipe, largest_shift_s=settings["largest_shift_ms"] / 1e3), signals


def _corridor(recording: Recording, settings: Settings) -> Found:
    repeats, _ = _repeats(recording, settings)
    band, whole = spread_corridor(repeats, times=settings["times"]), range_corridor(repeats)
    further = prediction_corridor(repeats, level=settings["level"])
    inside = inside_corridor(band, recording.channel(settings["model"]))
    return {
        "mean": band.centre,
        "lower edge": band.lower,
        "upper edge": band.upper,
        "prediction lower edge": further.lower,
        "prediction upper edge": further.upper,
        "smallest": whole.lower,
        "largest": whole.upper,
        "share of the model inside": inside.share,
        "furthest from the corridor": inside.furthest,
    }


def _alignment(recording: Recording, settings: Settings) -> Found:
    repeats, signals = _repeats(recording, settings)
    return {
        f"shift of {signal.channel}": 1e3 * shift
        for signal, shift in zip(signals, repeats.shifts_s, strict=True)
    }


FUNCTIONS: Final[Mapping[str, Callable[[Recording, Settings], Found]]] = MappingProxyType(
    {
        "rating": _rating,
        "rating of many pairs": _rating_of_many,
        "filter": _filter,
        "amplitude of a tone": _amplitude,
        "head injury criterion": _head,
        "severity index": _severity,
        "3 ms clip": _clip,
        "chest": _chest,
        "Nij": _nij,
        "limit by duration": _duration_limit,
        "NIC": _nic,
        "femur force": _femur,
        "tibia index": _tibia,
        "brain injury criterion": _bric,
        "DAMAGE": _damage,
        "qualification windows": _windows,
        "corridor": _corridor,
        "alignment of repeats": _alignment,
    }
)
"""By the name in the kit: takes curves and settings, returns quantities."""
