"""Single faults to plant in the load cases of the laboratories outside.

Written without the checker; it knows none of its limits. Each fault is in one repeat and in a channel that
carries the event; `Planted.names` are the kinds of finding that name it rightly.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate import Signal
from tests.reference import planting as p
from tests.reference.bench import filtered
from tests.reference.outside_physics import mode

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from correlate import Recording
    from tests.reference.outside_laboratory import LoadCase

    Floats = NDArray[np.float64]
    Random = np.random.Generator
    Plant = Callable[[LoadCase, Random], "Planted | None"]


@dataclass(frozen=True, kw_only=True)
class Planted:
    """A test with a fault, and the healthy repeats."""

    bad: Recording
    others: tuple[Recording, ...]
    channels: frozenset[str]
    names: frozenset[str]


def plant(kind: str, case: LoadCase, random: Random) -> Planted | None:
    """Plant one fault in one repeat; None where the load case has no place for it."""
    return FAULTS[kind](case, random)


def duration_s(item: Signal) -> float:
    """Return the time from the first to the last sample over a fifth of the largest."""
    loud = np.flatnonzero(np.abs(item.samples - np.median(item.samples)) > 0.2 * p.size_of(item))
    return float(loud[-1] - loud[0]) * item.step_s


def _result(
    case: LoadCase, index: int, bad: Recording, channels: Sequence[str], names: Sequence[str]
) -> Planted:
    return Planted(
        bad=bad,
        others=tuple(test for number, test in enumerate(case.tests) if number != index),
        channels=frozenset(channels),
        names=frozenset(names),
    )


def one_channel(names: Sequence[str], change: Callable[[Signal, Random], Signal]) -> Plant:
    """Return a fault of one channel by itself."""

    def planted(case: LoadCase, random: Random) -> Planted | None:
        index, code = int(random.integers(len(case.tests))), str(random.choice(case.main))
        bad = p.changed(case.tests[index], code, lambda item: change(item, random))
        return _result(case, index, bad, [code], names)

    return planted


def turned(item: Signal, random: Random) -> Signal:
    """Turn the sign."""
    del random
    return p.multiply(item, -1.0)


def other_gain(item: Signal, random: Random) -> Signal:
    """Multiply by a factor that is none between units, nor near one."""
    return p.multiply(item, float(random.choice([0.3, 0.5, 1.8, 3.0, 6.0])))


def stuck(item: Signal, random: Random) -> Signal:
    """Hold the value of one moment of the event to the end of the record."""
    loud = np.flatnonzero(np.abs(item.samples - np.median(item.samples)) > 0.3 * p.size_of(item))
    samples = item.samples.copy()
    start = int(random.choice(loud))
    samples[start:] = samples[start]
    return p.with_samples(item, samples)


def hum(item: Signal, random: Random) -> Signal:
    """Add 50 or 60 Hz, or their double, of 5 to 15 % of the peak."""
    size = random.uniform(0.05, 0.15) * p.size_of(item)
    wave = np.sin(2 * np.pi * random.choice([50.0, 60.0, 100.0, 120.0]) * item.time_s + random.uniform(0, 6))
    return p.with_samples(item, item.samples + size * wave)


def shift_of(item: Signal, random: Random) -> float:
    """Draw a shift: 2.5 to 15 ms, or more for a long event."""
    long_s = duration_s(item)
    size = random.uniform(max(0.0025, 0.05 * long_s), max(0.015, 0.2 * long_s))
    return size * float(random.choice([-1, 1]))


def moved(item: Signal, shift_s: float) -> Signal:
    """Return the channel with its time axis moved."""
    return Signal(
        samples=item.samples,
        start_s=item.start_s + shift_s,
        step_s=item.step_s,
        unit=item.unit,
        channel=item.channel,
    )


def late_channel(item: Signal, random: Random) -> Signal:
    """Move the time axis of one channel."""
    return moved(item, shift_of(item, random))


def loose_mount(item: Signal, random: Random) -> Signal:
    """Add the ringing of a lightly damped mount, 15 to 40 % of the peak."""
    values = item.samples - item.samples[:50].mean()
    lowest = max(60.0, 2.0 / max(duration_s(item), 1e-3))
    frequency = float(np.exp(random.uniform(np.log(lowest), np.log(max(400.0, 2 * lowest)))))
    smooth = np.convolve(values, np.ones(15) / 15, mode="same")
    started = np.maximum.accumulate(np.abs(smooth) > 0.03 * p.size_of(item))
    edge = np.abs(np.gradient(smooth)) * started
    ringing = mode(edge, item.step_s, frequency, random.uniform(0.005, 0.03))
    smooth = mode(edge, item.step_s, frequency, 0.7)
    ringing -= smooth
    size = random.uniform(0.15, 0.4) * p.size_of(item)
    return p.with_samples(item, item.samples + size * ringing / np.abs(ringing).max())


def lost_in_the_middle(item: Signal, random: Random) -> Signal:
    """Lose 1.5 to 8 ms of the event and close the gap; one record in three keeps its length."""
    loud = np.flatnonzero(np.abs(item.samples - np.median(item.samples)) > 0.2 * p.size_of(item))
    start = int(random.choice(loud[: max(1, int(0.7 * loud.size))]))
    count = round(
        random.uniform(max(0.0015, 0.04 * duration_s(item)), max(0.008, 0.1 * duration_s(item))) / item.step_s
    )
    samples = np.concatenate((item.samples[:start], item.samples[start + count :]))
    if random.uniform() < 1 / 3:
        samples = np.concatenate((samples, samples[-count:]))
    return p.with_samples(item, samples)


def lower_class(case: LoadCase, random: Random) -> Planted | None:
    """Filter a channel with a lower class than its header declares."""
    index = int(random.integers(len(case.tests)))
    test = case.tests[index]
    declared = {code: int(test.channel_headers[code]["Channel frequency class"]) for code in case.main}
    usable = [code for code, cfc in declared.items() if cfc > 60]
    if not usable:
        return None
    code = str(random.choice(usable))
    lower = int(random.choice([cfc for cfc in (60, 180, 600) if cfc < declared[code]]))
    bad = p.changed(
        test, code, lambda item: p.with_samples(item, filtered(item.samples, lower, item.sample_rate_hz))
    )
    return _result(case, index, bad, [code], ["filter class"])


def late_test(case: LoadCase, random: Random) -> Planted:
    """Trigger the whole test late or early."""
    index = int(random.integers(len(case.tests)))
    test = case.tests[index]
    longest = max((test.channel(code) for code in case.main), key=duration_s)
    shift_s = shift_of(longest, random)
    bad = replace(test, signals=tuple(moved(item, shift_s) for item in test.signals))
    return _result(case, index, bad, test.channel_names, ["time zero"])


def wrong_rate(case: LoadCase, random: Random) -> Planted:
    """State another sampling interval for the whole test."""
    index = int(random.integers(len(case.tests)))
    factor = float(random.choice([0.25, 0.5, 0.8, 1.25, 1.6, 2.0, 4.0]))
    bad = replace(
        case.tests[index],
        signals=tuple(
            Signal(
                samples=item.samples,
                start_s=item.start_s,
                step_s=item.step_s * factor,
                unit=item.unit,
                channel=item.channel,
            )
            for item in case.tests[index].signals
        ),
    )
    return _result(case, index, bad, bad.channel_names, ["sample rate"])


def swapped_axes(case: LoadCase, random: Random) -> Planted | None:
    """Exchange the main axis of a sensor with another of its axes."""
    pairs = [
        (one, other)
        for one in case.main
        for other in (*case.main, *case.minor)
        if one != other and one[:14] == other[:14] and one[14] in "XYZ"
    ]
    return _exchanged(case, random, pairs, ["axes"])


def exchanged_sensors(case: LoadCase, random: Random) -> Planted | None:
    """Exchange two channels of one unit and of two sensors."""
    first = case.tests[0]
    pairs = [
        (one, other)
        for one in case.main
        for other in case.main
        if one < other
        and one[:14] != other[:14]
        and first.channel(one).unit == first.channel(other).unit
        and _apart(first.channel(one), first.channel(other))
    ]
    return _exchanged(case, random, pairs, ["exchanged channels"])


def _apart(one: Signal, other: Signal) -> bool:
    """Say whether two channels differ enough for an exchange to matter."""
    a, b = (item.samples - np.median(item.samples) for item in (one, other))
    return bool(np.abs(a - b).max() > 0.3 * max(np.abs(a).max(), np.abs(b).max()))


def _exchanged(
    case: LoadCase, random: Random, pairs: list[tuple[str, str]], names: list[str]
) -> Planted | None:
    if not pairs:
        return None
    index = int(random.integers(len(case.tests)))
    one, other = pairs[int(random.integers(len(pairs)))]
    test = case.tests[index]
    first, second = test.channel(one).samples, test.channel(other).samples
    bad = p.changed(test, one, lambda item: p.with_samples(item, second))
    bad = p.changed(bad, other, lambda item: p.with_samples(item, first))
    return _result(case, index, bad, [one, other], names)


def copied(case: LoadCase, random: Random) -> Planted | None:
    """Record one channel twice, as it is or scaled, under the code of another of its unit."""
    first = case.tests[0]
    codes = [*case.main, *case.minor]
    pairs = [
        (one, other)
        for one in codes
        for other in codes
        if one != other and first.channel(one).unit == first.channel(other).unit
    ]
    if not pairs:
        return None
    index = int(random.integers(len(case.tests)))
    one, other = pairs[int(random.integers(len(pairs)))]
    factor = float(random.choice([1.0, -1.0, random.uniform(0.5, 2)]))
    test = case.tests[index]
    bad = p.changed(test, other, lambda item: p.with_samples(item, factor * test.channel(one).samples))
    return _result(case, index, bad, [one, other], ["copy"])


def cross_talk(case: LoadCase, random: Random) -> Planted | None:
    """Add 10 to 30 % of another channel, scaled to the peak, that looks different.

    Neither is the other one the rate of change of the channel, because a part of that is a shift in time.
    """
    index = int(random.integers(len(case.tests)))
    test = case.tests[index]
    pairs = [
        (one, other)
        for one in case.main
        for other in case.main
        if one[:14] != other[:14] and _unlike(test.channel(one), test.channel(other))
    ]
    if not pairs:
        return None
    one, other = pairs[int(random.integers(len(pairs)))]
    source = test.channel(other)
    share = random.uniform(0.1, 0.3) * float(random.choice([-1, 1]))
    size = share * p.size_of(test.channel(one)) / p.size_of(source)
    added = size * (source.samples - np.median(source.samples))
    bad = p.changed(test, one, lambda item: p.with_samples(item, item.samples + added))
    return _result(case, index, bad, [one], ["cross-talk"])


def _unlike(one: Signal, other: Signal) -> bool:
    a, b = (item.samples - np.median(item.samples) for item in (one, other))
    rate = np.gradient(np.convolve(a, np.ones(15) / 15, mode="same"))
    return all(abs(float(c @ b)) < 0.8 * float(np.sqrt((c @ c) * (b @ b))) for c in (a, rate))


FAULTS: Final[dict[str, Plant]] = {
    "spike": one_channel(["spike"], p.add_spikes),
    "dropout": one_channel(["dropout"], p.drop_out),
    "clipping": one_channel(["saturation"], p.saturate),
    "stuck value": one_channel(["dropout", "saturation"], stuck),
    "offset": one_channel(["offset"], p.add_offset),
    "drift": one_channel(["drift"], p.add_drift),
    "noise": one_channel(["noise"], p.add_noise),
    "hum": one_channel(["noise"], hum),
    "polarity": one_channel(["polarity"], turned),
    "unit": one_channel(["unit"], p.wrong_unit),
    "gain": one_channel(["gain"], other_gain),
    "swapped axes": swapped_axes,
    "copy": copied,
    "wrong rate": wrong_rate,
    "late trigger": late_test,
    "shift of one channel": one_channel(["time zero"], late_channel),
    "filter class": lower_class,
    "loose mount": one_channel(["loose mount"], loose_mount),
    "lost samples": one_channel(["lost samples"], lost_in_the_middle),
    "exchanged sensors": exchanged_sensors,
    "cross-talk": cross_talk,
}
"""Every kind of fault."""
