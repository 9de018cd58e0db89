"""Random rigs to learn from: one to three masses in a row, struck, dropped, or held on a stopped sled.

Which masses and elements there are, what they weigh and how stiff they are, and which sensors are fitted is
drawn for every rig, so that whoever learns from many of them learns mechanics and not one test. The elements
obey the laws of `mechanics.py`; sizes follow from a drawn duration of the event, so that every part is felt.
"""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from correlate.compiling import compiled
from correlate.errors import SignalError
from tests.diagnosis.worlds.cases import WorldCase, block
from tests.diagnosis.worlds.families import COMMON, Family
from tests.diagnosis.worlds.faults import KINDS
from tests.diagnosis.worlds.mechanics import SAMPLE_S, closed, foam, kept

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Any

    from numpy.typing import NDArray

    from tests.diagnosis.worlds.families import Quantity

    Floats = NDArray[np.float64]
    Integers = NDArray[np.int64]

Drive = Literal["struck", "dropped", "swung", "stopped"]
DRIVES: Final[tuple[Drive, ...]] = ("struck", "dropped", "swung", "stopped")
BODIES: Final = 4
"""Striker (number 0) and up to three masses; the ground is number -1."""
GROUND: Final = -1
LAW: Final = (
    "stiffness", "exponent", "thickness", "onset", "steepness", "rate", "damping", "hysteresis", "gap",
    "cover_stiffness", "friction",
)  # fmt: skip
"""Parameters of an element, in the order of its row."""
PARTS: Final = frozenset({"stiffness", "damping", "hysteresis", "densification", "gap", "friction"})
"""Behaviours of elements."""
STOPPED: Final = 0.25
"""How often an element has a stop beside it."""
RARELY_FELT: Final = frozenset({"damping", "hysteresis", "friction"})
HARD_TO_FEEL: Final = 2.0
"""These are drawn more often than the others, because more of them are left out as not felt."""
HEAVY: Final = 1e6
"""Mass of a striker that nothing moves, kg: the ground seen from a falling body."""
SPREAD: Final = (0.7, 1.4)
"""Systems of one rig differ from its first one by factors between these."""


@dataclass(frozen=True, kw_only=True)
class Element:
    """What lies between two bodies; ``contact``: it never pulls; ``stop``: it has no sensor and no foam."""

    first: int
    second: int
    contact: bool
    law: dict[str, float]
    stop: bool = False


@dataclass(frozen=True, kw_only=True)
class Rig:
    """One rig: its bodies, elements and sensors."""

    drive: Drive
    masses: tuple[float, ...]
    elements: tuple[Element, ...]
    speed: float
    duration_s: float
    travel: float
    """Size of the travels, m."""
    sensors: tuple[tuple[str, Quantity, str, int], ...] = field(default=())
    """Name, quantity, unit, and row of the kernel's output."""


@compiled
def chain(  # noqa: C901, PLR0912, PLR0917 - one compiled loop; calls with arrays would cost its speed
    values: Floats, ends: Integers, contact: Integers, base: float, substeps: int, curves: Floats
) -> None:
    """Integrate a rig.

    ``values``: speed, four masses, the rows of the elements, smoothing, fade, creep. ``ends``: shape
    ``(elements, 2)``. ``base``: duration of the pulse that stops a sled, s; 0 where there is none.
    ``curves``: accelerations of the bodies, then positions, then forces and compressions of the elements.
    """
    count = ends.shape[0]
    step = SAMPLE_S / substeps
    speed = values[0]
    smoothing, fade, creep = values[-3], values[-2], values[-1]
    place, rate, push = np.zeros(BODIES), np.zeros(BODIES), np.zeros(BODIES)
    most = np.zeros(count)
    if base == 0.0:
        rate[0] = speed
    for sample in range(curves.shape[1]):
        time = sample * SAMPLE_S
        pulse = 0.0
        if base > 0.0 and time < base:
            pulse = 2.0 * speed / base * math.sin(math.pi * time / base) ** 2
        for inner in range(substeps):
            push[:] = 0.0
            for number in range(count):
                start = 5 + number * len(LAW)
                one, two = ends[number, 0], ends[number, 1]
                far = 0.0 if two < 0 else place[two]
                far_rate = 0.0 if two < 0 else rate[two]
                pressed, speed_in = place[one] - far, rate[one] - far_rate
                taken = closed(pressed - values[start + 8], smoothing)
                most[number] = max(most[number], taken)
                force = foam(
                    taken,
                    values[start],
                    values[start + 1],
                    values[start + 2],
                    values[start + 3],
                    values[start + 4],
                ) * kept(taken, most[number], values[start + 7], fade)
                if contact[number]:
                    force += values[start + 9] * closed(pressed, smoothing)
                    force *= max(0.0, 1.0 + values[start + 5] * speed_in)
                    if pressed > 0.0:
                        force = max(0.0, force + values[start + 6] * speed_in)
                else:
                    force += values[start + 9] * pressed + values[start] * min(
                        pressed + values[start + 8], 0.0
                    )
                    force += values[start + 6] * speed_in
                force += values[start + 10] * math.tanh(speed_in / creep)
                push[one] -= force
                if two >= 0:
                    push[two] += force
                if inner == substeps - 1:
                    curves[2 * BODIES + number, sample] = force
                    curves[2 * BODIES + count + number, sample] = pressed
            for body in range(BODIES):
                acceleration = push[body] / values[1 + body]
                if inner == substeps - 1:
                    curves[body, sample] = acceleration
                rate[body] += step * (acceleration + pulse)
                place[body] += step * rate[body]
        for body in range(BODIES):
            curves[BODIES + body, sample] = place[body]
        curves[2 * BODIES + 2 * count, sample] = pulse


def draw_rig(rng: np.random.Generator) -> Rig:
    """Draw a rig with its sensors."""
    drive = DRIVES[int(rng.integers(len(DRIVES)))]
    count = int(rng.integers(1 if drive != "swung" else 2, BODIES))
    duration = float(np.exp(rng.uniform(*np.log((0.006, 0.05)))))
    speed = float(rng.uniform(2.0, 8.0))
    masses = tuple(float(one) for one in np.exp(rng.uniform(np.log(1.5), np.log(25.0), BODIES)))
    if drive in {"dropped", "swung"}:
        masses = (HEAVY, *masses[1:])
    travel = speed * duration / math.pi
    elements = tuple(_elements(drive, masses, duration, speed, rng, count=count))
    rig = Rig(
        drive=drive, masses=masses, elements=elements, speed=speed, duration_s=duration, travel=travel
    )  # fmt: skip
    return Rig(**{**vars(rig), "sensors": tuple(_sensors(rig, count, rng))})


def _elements(
    drive: Drive,
    masses: tuple[float, ...],
    duration: float,
    speed: float,
    rng: np.random.Generator,
    *,
    count: int,
) -> list[Element]:
    """Draw the row of elements from the striker (or the sled) to the last body and the ground behind it."""
    made: list[Element] = []

    def between(first: int, second: int, *, contact: bool, stiffer: float = 1.0) -> None:
        light = min(masses[first], masses[second] if second >= 0 else math.inf)
        law = _law(light, duration, speed, rng, contact=contact, stiffer=stiffer)
        made.append(Element(first=first, second=second, contact=contact, law=law))

    if drive != "stopped":
        between(0, 1, contact=True)
    else:
        between(1, GROUND, contact=True)
        if count > 1 and rng.random() < 0.6:
            between(2, GROUND, contact=True)
    for body in range(2, count + 1):
        before = body - 1 if body == 2 or rng.random() < 0.7 else 1
        between(before, body, contact=False, stiffer=float(np.exp(rng.uniform(0.0, np.log(12.0)))))
    if drive == "struck" and rng.random() < 0.5:
        between(count, GROUND, contact=False, stiffer=float(np.exp(rng.uniform(np.log(0.2), np.log(3.0)))))
    elif drive in {"struck", "dropped"} and rng.random() < 0.7:
        made.append(_slide(masses[count] * speed / duration, count, rng))
    stops = [_stop(one, rng) for one in made if one.law["stiffness"] > 0.0 and rng.random() < STOPPED]
    return [*made, *stops]


def _stop(spring: Element, rng: np.random.Generator) -> Element:
    """Draw a stop beside a spring or foam, that is met before the largest travel."""
    travel = spring.law["thickness"] / 1.5
    law = {
        **dict.fromkeys(LAW, 0.0),
        "exponent": 1.0,
        "steepness": 4.0,
        "onset": 0.5,
        "stiffness": spring.law["stiffness"] * float(rng.uniform(2.0, 8.0)),
        "thickness": 10.0 * travel,
        "hysteresis": float(rng.uniform(0.1, 0.4)),
        "gap": travel * float(rng.uniform(0.3, 0.8)),
    }
    return Element(first=spring.first, second=spring.second, contact=True, law=law, stop=True)


def _slide(force: float, body: int, rng: np.random.Generator) -> Element:
    """Draw a friction between a body and the ground that is a few percent of the force on it."""
    friction = force * float(np.exp(rng.uniform(*np.log((0.01, 0.15)))))
    law = {**dict.fromkeys(LAW, 0.0), "exponent": 1.0, "thickness": 1.0, "onset": 0.5, "steepness": 4.0}
    return Element(first=body, second=GROUND, contact=False, law={**law, "friction": friction})


def _law(
    mass: float, duration: float, speed: float, rng: np.random.Generator, *, contact: bool, stiffer: float
) -> dict[str, float]:
    """Draw an element whose event lasts about as long as the rig's, or less where it is stiffer."""
    stiffness = stiffer * mass * (math.pi / duration) ** 2 * float(rng.uniform(0.6, 1.6))
    travel = speed * math.sqrt(mass / stiffness)
    impedance = math.sqrt(stiffness * mass)
    loose = contact or rng.random() < 0.5
    return {
        "stiffness": stiffness,
        "exponent": float(rng.uniform(1.0, 1.5)),
        "thickness": travel * float(rng.uniform(0.8, 2.2)),
        "onset": float(rng.uniform(0.35, 0.65)),
        "steepness": float(rng.uniform(3.5, 8.0)),
        "rate": float(rng.uniform(0.1, 0.6)) / speed if contact else 0.0,
        "damping": impedance * float(rng.uniform(0.05, 0.5)) if not contact or rng.random() < 0.3 else 0.0,
        "hysteresis": float(rng.uniform(0.1, 0.65)),
        "gap": travel * float(rng.uniform(0.05, 0.4)) if loose else 0.0,
        "cover_stiffness": stiffness * float(rng.uniform(0.05, 0.2)) if loose else 0.0,
        "friction": impedance * speed * float(np.exp(rng.uniform(*np.log((0.005, 0.08)))))
        if rng.random() < 0.6
        else 0.0,
    }


def _sensors(rig: Rig, count: int, rng: np.random.Generator) -> list[tuple[str, Quantity, str, int]]:
    """Draw sensors: one of the rig, accelerations, forces and travels; two at least."""
    elements, last = len(rig.elements), 2 * BODIES + 2 * len(rig.elements)
    own = {"struck": 0, "dropped": None, "swung": 1, "stopped": last}[rig.drive]
    fitted: list[tuple[str, Quantity, str, int]] = []
    if own is not None:
        fitted.append(("rig_acceleration", "acceleration", "m/s2", own))
    bodies = [body for body in range(1, count + 1) if body != own]
    sensed = [number for number, one in enumerate(rig.elements) if not one.stop]
    rest: list[tuple[str, Quantity, str, int]] = [
        *((f"body_{body}_acceleration", "acceleration", "m/s2", body) for body in bodies),
        *((f"element_{one}_force", "force", "N", 2 * BODIES + one) for one in sensed),
        *((f"element_{one}_travel", "displacement", "m", 2 * BODIES + elements + one) for one in sensed),
    ]
    if rig.drive == "stopped" or any(one.second == GROUND for one in rig.elements):
        rest += [(f"body_{body}_travel", "displacement", "m", BODIES + body) for body in bodies]
    chosen = rng.permutation(len(rest))[: int(rng.integers(1, 5))]
    return fitted + [rest[one] for one in sorted(chosen)]


def family_of(rig: Rig) -> Family:
    """Return a rig as a family of systems that differ in every parameter."""
    ranges = {"speed": (0.85 * rig.speed, 1.15 * rig.speed)}
    for body, mass in enumerate(rig.masses):
        ranges[f"b{body}_mass"] = _about(mass) if mass < HEAVY else (mass, mass)
    parts: dict[str, list[str]] = {"mass": [f"b{body}_mass" for body in _moved(rig)]}
    for number, one in enumerate(rig.elements):
        for name in LAW:
            value = one.law[name]
            own = f"e{number}_{name}"
            ranges[own] = (value, value) if value == 0.0 else _within(name, value)
            kind = {"rate": "damping", "onset": "densification"}.get(name, name)
            felt = kind == "friction" or (
                one.law["stiffness"] > 0.0 and not (one.stop and kind == "densification")
            )
            if value and felt and kind in PARTS:
                parts.setdefault(kind, []).append(own)
    ranges |= COMMON
    return Family(
        kernel=_kernel(rig),
        masses=0,
        end_s=round(max(0.04, min(0.15, 4.0 * rig.duration_s + 0.01)), 3),
        channels=tuple(sensor[:3] for sensor in rig.sensors),
        ranges=ranges,
        parts={kind: tuple(names) for kind, names in parts.items()},
        gap_change=(0.06 * rig.travel, 0.5 * rig.travel),
    )


def _about(value: float) -> tuple[float, float]:
    return SPREAD[0] * value, SPREAD[1] * value


def _within(name: str, value: float) -> tuple[float, float]:
    """Return the range of a parameter; exponents and shares stay sensible."""
    if name in {"exponent", "steepness", "onset"}:
        return 0.9 * value, 1.1 * value
    return _about(value) if name != "hysteresis" else (0.8 * value, 1.2 * value)


def _moved(rig: Rig) -> list[int]:
    """Return the bodies of the dummy: all but the striker that some element holds."""
    held = {end for one in rig.elements for end in (one.first, one.second) if end > 0}
    return sorted(held)


def _kernel(rig: Rig) -> Callable[[Any, int, Floats], None]:
    ends = np.array([(one.first, one.second) for one in rig.elements], dtype=np.int64)
    contact = np.array([one.contact for one in rig.elements], dtype=np.int64)
    base = rig.duration_s * 2.0 if rig.drive == "stopped" else 0.0
    rows = [sensor[3] for sensor in rig.sensors]

    def run(record: Any, substeps: int, curves: Floats) -> None:
        outputs = np.zeros((2 * BODIES + 2 * len(ends) + 1, curves.shape[1]))
        chain(np.array(record.tolist()), ends, contact, base, substeps, outputs)
        curves[:] = outputs[rows]

    return run


def chain_cases(rigs: int, systems: int, *, seed: int, faults: int = 1) -> list[WorldCase]:
    """Return cases of random rigs, the same for the same arguments.

    Parameters
    ----------
    rigs
        Number of rigs.
    systems
        Systems of each; fewer cases are returned where a fault is not felt.
    seed
        Of all random numbers.
    faults
        0, 1 or 2 for each model; their kinds are drawn among those that the rig has parts for, timing left
        out.

    Returns
    -------
    list of WorldCase
    """
    found: list[WorldCase] = []
    for number in range(rigs):
        rng = np.random.default_rng([seed, number, faults])
        family = family_of(draw_rig(rng))
        kinds = [kind for kind in KINDS if kind == "speed" or kind in family.parts]
        odds = np.array([HARD_TO_FEEL if kind in RARELY_FELT else 1.0 for kind in kinds])
        odds /= odds.sum()
        wanted = [
            tuple(str(one) for one in rng.choice(kinds, faults, replace=False, p=odds))
            for _ in range(systems)
        ]
        # A rig with a sensor that feels nothing, behind a gap that is never closed, teaches nothing.
        with suppress(SignalError):
            found += block(f"rig {number}", family, systems, rng, wanted)
    return found
