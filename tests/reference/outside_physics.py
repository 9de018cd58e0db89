"""Honest load cases of several laboratories: chains of bodies, sensors of three axes, and a measuring chain.

Written without the checker and without the invented laboratory of the demo: it shares no code with them and
knows none of their limits. The main axes come from lumped masses that are integrated in time. Polarity
follows SAE J211-1 (from memory) where it settles the sign, and is drawn for every laboratory where it is
open: vertical acceleration, chest deflection, and the acceleration of a probe whose force is positive.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final
from zlib import crc32

import numpy as np
from scipy.integrate import solve_ivp
from scipy.signal import cont2discrete, lfilter

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

G: Final = 9.80665
MASS: Final = "Mass test object 1"
SPEED: Final = "Velocity test object 1"


@dataclass(frozen=True, kw_only=True)
class Draw:
    """Constants of a laboratory, found by name, and their scatter from repeat to repeat."""

    seed: int
    repeat: np.random.Generator
    details: dict[str, str] = field(default_factory=dict)

    def states(self, key: str, value: float) -> float:
        """Put a value into the words of the test."""
        self.details[key] = f"{value:.4g}"
        return value

    def own(self, name: str) -> np.random.Generator:
        """Return a generator that is the same for all repeats."""
        return np.random.default_rng([self.seed, crc32(name.encode())])

    def about(self, name: str, value: float, *, between: float = 0.2, within: float = 1.0) -> float:
        """Return a value that differs by `between` among laboratories and by the scatter among repeats."""
        return value * self.own(name).uniform(1 - between, 1 + between) * self.scatter(within)

    def scatter(self, times: float = 1.0) -> float:
        """Return a factor near one that differs among repeats; materials scatter by 2 to 4 %."""
        spread = times * self.own("material scatter").uniform(0.015, 0.035)
        return 1 + spread * float(np.clip(self.repeat.normal(), -2, 2))

    def sign(self, name: str) -> float:
        """Return the polarity that a laboratory uses where the convention is open."""
        return float(self.own(name).choice([-1.0, 1.0]))


@dataclass(frozen=True, kw_only=True)
class Link:
    """A spring with a damper between two bodies, pressed by the path of the first beyond the second."""

    one: int
    other: int
    stiffness: float
    damping: float
    hardening: float = 0.0
    slack: float = 0.0
    bonded: bool = False

    def force(self, position: Floats, velocity: Floats) -> Floats:
        """Return the force between the two bodies; a contact does not pull."""
        path = position[self.one] - position[self.other] - self.slack
        speed = velocity[self.one] - velocity[self.other]
        grip = 1.0 if self.bonded else np.clip(path / 0.002, 0, 1)
        force = self.stiffness * path + self.hardening * path**3 + self.damping * speed * grip
        return np.asarray(force if self.bonded else np.where(path > 0, np.maximum(force, 0), 0.0))


@dataclass(frozen=True, kw_only=True)
class Chain:
    """Bodies in a row; the first is moved by the rig where a drive is given."""

    masses: Sequence[float]
    speeds: Sequence[float]
    links: Sequence[Link]
    drive: Callable[[Floats], Floats] | None = None

    def run(self, time_s: Floats) -> Motion:
        """Integrate from time zero; everything moves freely before."""
        count = len(self.masses)
        after = time_s > 0
        start = np.concatenate((np.zeros(count), self.speeds))

        def slope(time: Any, state: Any) -> Any:
            return np.concatenate((state[count:], self._accelerations(time, state)))

        solution = solve_ivp(
            slope,
            (0.0, float(time_s[-1])),
            start,
            method="LSODA",
            t_eval=time_s[after],
            max_step=1e-3,
            rtol=1e-6,
            atol=1e-9,
        )
        state = np.repeat(start[:, None], time_s.size, axis=1)
        state[:, after] = solution.y
        position, velocity = state[:count], state[count:]
        links = [link.force(position, velocity) * after for link in self.links]
        acceleration = self._accelerations(time_s, state) * after
        return Motion(position=position, velocity=velocity, acceleration=acceleration, links=links)

    def _accelerations(self, time: Floats, state: Floats) -> Floats:
        count = len(self.masses)
        result = np.zeros_like(state[:count])
        for link in self.links:
            force = link.force(state[:count], state[count:])
            result[link.one] -= force / self.masses[link.one]
            result[link.other] += force / self.masses[link.other]
        if self.drive is not None:
            result[0] = self.drive(time)
        return result


@dataclass(frozen=True, kw_only=True)
class Motion:
    """What the bodies did: arrays of shape ``(bodies, n)``, and the force of every link."""

    position: Floats
    velocity: Floats
    acceleration: Floats
    links: list[Floats]


@dataclass(frozen=True, kw_only=True)
class Felt:
    """What a sensor feels along its main axes; the other axes of three are small."""

    place: str
    dimension: str
    unit: str
    cfc: int
    axes: Mapping[str, Floats]
    alone: bool = False


def half_sine(size: float, duration_s: float) -> Callable[[Floats], Floats]:
    """Return a half sine that begins at time zero."""
    return lambda time: size * np.sin(np.pi * np.clip(time / duration_s, 0, 1))


def plateau(size: float, duration_s: float, rise_s: float) -> Callable[[Floats], Floats]:
    """Return a plateau with two ramps that begins at time zero."""
    return lambda time: size * np.clip(np.minimum(time, duration_s - time) / rise_s, 0, 1)


def mode(excited: Floats, step_s: float, frequency_hz: float, damping: float) -> Floats:
    """Return the displacement of a linear oscillator times its squared circular frequency."""
    omega = 2 * np.pi * frequency_hz
    system = (np.array([omega**2]), np.array([1.0, 2 * damping * omega, omega**2]))
    numerator, denominator, _ = cont2discrete(system, step_s, method="foh")
    return np.asarray(lfilter(np.ravel(numerator), denominator, excited))


def total(values: Floats, step_s: float) -> Floats:
    """Return the integral by the trapezoidal rule."""
    return np.concatenate(([0.0], np.cumsum((values[1:] + values[:-1]) * step_s / 2)))


def head_drop(draw: Draw, time_s: Floats, step_s: float) -> list[Felt]:
    """Drop a head onto a rigid plate, a little beside its centre of gravity."""
    mass, inertia = draw.about("mass", 4.5, within=0.1), 0.024
    speed = draw.states(SPEED, draw.about("speed", 2.6, within=0.3))
    skin = Link(
        one=1,
        other=0,
        stiffness=draw.about("skin", 1.3e6),
        hardening=draw.about("foam", 6e10, between=0.5),
        damping=draw.about("loss", 900),
    )
    motion = Chain(masses=(1e9, mass), speeds=(0, speed), links=(skin,)).run(time_s)
    pulse = motion.acceleration[1]
    tilt = draw.about("tilt", 0.5) + 0.02 * draw.repeat.normal()
    lever = draw.about("lever", 0.02) + 0.002 * draw.repeat.normal()
    rate = total(motion.links[0] * lever / inertia, step_s)
    return [
        Felt(
            place="HEAD0000",
            dimension="AC",
            unit="g",
            cfc=1000,
            axes={"X": np.cos(tilt) * pulse / G, "Z": -np.sin(tilt) * pulse / G},
        ),
        Felt(
            place="HEAD0000",
            dimension="AV",
            unit="rad/s",
            cfc=180,
            axes={"Y": rate * np.exp(-np.clip(time_s, 0, None) / 0.05)},
        ),
    ]


def neck_pendulum(draw: Draw, time_s: Floats, step_s: float) -> list[Felt]:
    """Stop a pendulum with a head on its neck by a crushable block."""
    del step_s
    mass, length = draw.about("mass", 4.5, within=0.1), draw.about("length", 0.16, within=0.1)
    duration_s = draw.about("duration", 0.028, within=0.3)
    drive = plateau(-draw.about("stop", 24 * G, within=0.5), duration_s, duration_s / 4)
    sense = draw.sign("sense")
    draw.details["Type of the test"] = "neck flexion" if sense > 0 else "neck extension"
    neck = Link(
        one=1,
        other=0,
        stiffness=draw.about("neck", 2600),
        hardening=draw.about("hard", 2e5),
        damping=draw.about("loss", 45, between=0.4),
        bonded=True,
    )
    motion = Chain(masses=(1e9, mass), speeds=(0, 0), links=(neck,), drive=drive).run(time_s)
    path = motion.position[1] - motion.position[0]
    swing = (motion.velocity[1] - motion.velocity[0]) ** 2 / length
    still = draw.own("zeroed").choice([0.0, 1.0]) * mass * 30.0
    pull = mass * swing + still
    along = motion.acceleration[1]
    rig = draw.sign("rig")
    return [
        Felt(
            place="PEND0000",
            dimension="AC",
            unit="m/s^2",
            cfc=180,
            axes={"X": rig * motion.acceleration[0]},
            alone=True,
        ),
        Felt(
            place="NECKUP00",
            dimension="FO",
            unit="N",
            cfc=1000,
            axes={"X": sense * mass * along, "Z": pull},
        ),
        Felt(
            place="NECKUP00",
            dimension="MO",
            unit="Nm",
            cfc=600,
            axes={"Y": sense * motion.links[0] * 0.4 * length},
        ),
        Felt(
            place="HEAD0000",
            dimension="AC",
            unit="m/s^2",
            cfc=1000,
            axes={"X": sense * along, "Z": swing},
        ),
        Felt(
            place="HEAD0000",
            dimension="AN",
            unit="deg",
            cfc=60,
            axes={"Y": -sense * np.degrees(path / length)},
            alone=True,
        ),
    ]


def chest_impact(draw: Draw, time_s: Floats, step_s: float) -> list[Felt]:
    """Strike a sternum in front of a spine with a probe that carries a load cell."""
    del step_s
    mass = draw.states(MASS, draw.about("probe", 22, within=0.0))
    flesh = Link(
        one=0, other=1, stiffness=draw.about("flesh", 3e5), damping=draw.about("skin loss", 300, between=0.4)
    )
    ribs = Link(
        one=1,
        other=2,
        stiffness=draw.about("ribs", 3e4),
        damping=draw.about("rib loss", 480),
        hardening=draw.about("stop", 8e6),
        bonded=True,
    )
    motion = Chain(
        masses=(mass, 0.6, draw.about("spine", 26, within=0.1)),
        speeds=(draw.states(SPEED, draw.about("speed", 5.5, within=0.3)), 0, 0),
        links=(flesh, ribs),
    ).run(time_s)
    return [
        *_probe(draw, mass, motion, cell=True),
        Felt(
            place="CHST0000",
            dimension="DS",
            unit="mm",
            cfc=600,
            axes={"X": draw.sign("deflection") * (motion.position[1] - motion.position[2]) * 1e3},
            alone=True,
        ),
        Felt(place="THSP0400", dimension="AC", unit="g", cfc=180, axes={"X": -motion.acceleration[2] / G}),
    ]


def _probe(draw: Draw, mass: float, motion: Motion, *, cell: bool) -> list[Felt]:
    slowing = -motion.acceleration[0]
    found = [
        Felt(
            place="PEND0000",
            dimension="AC",
            unit="m/s^2",
            cfc=180,
            axes={"X": draw.sign("probe") * slowing},
            alone=True,
        )
    ]
    if cell:
        found.append(
            Felt(
                place="PEND0000",
                dimension="FO",
                unit="kN",
                cfc=180,
                axes={"X": mass * slowing / 1e3},
                alone=True,
            )
        )
    return found


def side_impact(draw: Draw, time_s: Floats, step_s: float) -> list[Felt]:
    """Strike a pelvis from the side; ribs above it swing along."""
    mass = draw.states(MASS, draw.about("probe", 18, within=0.0))
    flesh = Link(
        one=0,
        other=1,
        stiffness=draw.about("flesh", 1.2e5),
        hardening=draw.about("foam", 1.5e8),
        damping=draw.about("loss", 500),
    )
    spine = Link(one=1, other=2, stiffness=draw.about("spine", 6e4), damping=400, bonded=True)
    motion = Chain(
        masses=(mass, draw.about("pelvis", 17, within=0.1), 30),
        speeds=(draw.states(SPEED, draw.about("speed", 4.8, within=0.3)), 0, 0),
        links=(flesh, spine),
    ).run(time_s)
    side = draw.sign("side")
    lateral = motion.acceleration[1]
    ribs = [
        Felt(
            place=f"RIBS0{number}00",
            dimension="DS",
            unit="mm",
            cfc=180,
            axes={
                "Y": side
                * draw.about(f"rib size {number}", 0.09)
                * mode(lateral, step_s, draw.about(f"rib {number}", 14 + 3 * number), 0.35)
            },
            alone=True,
        )
        for number in (1, 2, 3)
    ]
    return [
        *_probe(draw, mass, motion, cell=False),
        Felt(place="PELV0000", dimension="AC", unit="g", cfc=1000, axes={"Y": side * lateral / G}),
        Felt(place="LUSP0000", dimension="FO", unit="N", cfc=600, axes={"Y": -side * motion.links[1]}),
        Felt(place="LUSP0000", dimension="MO", unit="Nm", cfc=600, axes={"X": side * 0.1 * motion.links[1]}),
        *ribs,
    ]


def knee_impact(draw: Draw, time_s: Floats, step_s: float) -> list[Felt]:
    """Strike a knee; a load cell lies in the thigh, and the lower leg slides behind the knee."""
    mass = draw.states(MASS, draw.about("probe", 5, within=0.0))
    flesh = Link(
        one=0,
        other=1,
        stiffness=draw.about("flesh", 7e5),
        hardening=draw.about("foam", 2e11, between=0.4),
        damping=draw.about("loss", 900),
    )
    bone = Link(one=1, other=2, stiffness=draw.about("bone", 1.5e7), damping=2500, bonded=True)
    motion = Chain(
        masses=(mass, 1.6, draw.about("thigh", 11, within=0.1)),
        speeds=(draw.states(SPEED, draw.about("speed", 2.1, within=0.3)), 0, 0),
        links=(flesh, bone),
    ).run(time_s)
    pressed = motion.links[1]
    slide = mode(motion.acceleration[1], step_s, draw.about("slide", 45), 0.2)
    return [
        *_probe(draw, mass, motion, cell=True),
        Felt(place="FEMRLE00", dimension="FO", unit="kN", cfc=600, axes={"Z": -pressed / 1e3}),
        Felt(
            place="FEMRLE00",
            dimension="MO",
            unit="Nm",
            cfc=600,
            axes={"Y": draw.about("arm", 0.012) * pressed},
        ),
        Felt(place="KNSLLE00", dimension="DS", unit="mm", cfc=180, axes={"X": -0.05 * slide}, alone=True),
    ]


def vertical_drop(draw: Draw, time_s: Floats, step_s: float) -> list[Felt]:
    """Push a seat upwards under a body of three masses."""
    duration_s = draw.about("duration", 0.09, within=0.3)
    drive = half_sine(draw.about("pulse", 12 * G, within=0.5), duration_s)
    cushion = Link(
        one=0,
        other=1,
        stiffness=draw.about("cushion", 9e4),
        hardening=draw.about("foam", 5e7),
        damping=draw.about("loss", 900),
    )
    back = Link(one=1, other=2, stiffness=draw.about("back", 1.6e5), damping=900, bonded=True)
    neck = Link(one=2, other=3, stiffness=draw.about("neck", 1.6e5), damping=160, bonded=True)
    motion = Chain(
        masses=(1e9, 22, draw.about("chest", 20, within=0.1), 4.6),
        speeds=(0, 0, 0, 0),
        links=(cushion, back, neck),
        drive=drive,
    ).run(time_s)
    up = draw.sign("up")
    seat, pelvis, chest, head = motion.acceleration
    nod = mode(head, step_s, draw.about("nod", 7), 0.3)
    return [
        Felt(place="SEAT0000", dimension="AC", unit="g", cfc=60, axes={"Z": up * seat / G}, alone=True),
        Felt(place="PELV0000", dimension="AC", unit="g", cfc=1000, axes={"Z": up * pelvis / G}),
        Felt(place="CHST0000", dimension="AC", unit="g", cfc=180, axes={"Z": up * chest / G}),
        Felt(
            place="HEAD0000",
            dimension="AC",
            unit="g",
            cfc=1000,
            axes={"Z": up * head / G, "X": 0.35 * nod / G},
        ),
        Felt(
            place="LUSP0000",
            dimension="FO",
            unit="N",
            cfc=1000,
            axes={"Z": -motion.links[1], "X": 0.25 * nod * 20},
        ),
        Felt(place="LUSP0000", dimension="MO", unit="Nm", cfc=1000, axes={"Y": 0.3 * nod * 4.6}),
    ]


def sled(draw: Draw, time_s: Floats, step_s: float) -> list[Felt]:
    """Stop a sled under a belted body of three masses."""
    duration_s = draw.about("duration", 0.11, between=0.15, within=0.2)
    drive = plateau(
        -draw.about("pulse", 19 * G, within=0.4), duration_s, draw.about("rise", 0.03, within=0.3)
    )
    lap = Link(
        one=1,
        other=0,
        stiffness=draw.about("lap", 9e4),
        damping=draw.about("lap loss", 700),
        slack=draw.about("lap slack", 0.015, within=3),
    )
    shoulder = Link(
        one=2,
        other=0,
        stiffness=draw.about("shoulder", 4e4),
        damping=draw.about("shoulder loss", 700),
        slack=draw.about("slack", 0.03, within=3),
    )
    back = Link(one=2, other=1, stiffness=2.5e4, damping=300, bonded=True)
    neck = Link(one=3, other=2, stiffness=draw.about("neck", 4500), damping=45, hardening=1e5, bonded=True)
    motion = Chain(
        masses=(1e9, 24, draw.about("chest", 22, within=0.1), 4.6),
        speeds=(0, 0, 0, 0),
        links=(lap, shoulder, back, neck),
        drive=drive,
    ).run(time_s)
    return _sled_sensors(draw, motion, step_s)


def _sled_sensors(draw: Draw, motion: Motion, step_s: float) -> list[Felt]:
    sled_x, pelvis, chest, head = motion.acceleration
    lean = mode(chest, step_s, draw.about("lean", 4), 0.35)
    swing = (motion.velocity[3] - motion.velocity[2]) / 0.2
    belts = {"SEBE0003": motion.links[1], "SEBE0006": motion.links[0]}
    acceleration = {
        "PELV0000": {"X": pelvis / G, "Z": -0.4 * mode(pelvis, step_s, draw.about("sink", 12), 0.4) / G},
        "CHST0000": {"X": chest / G, "Z": 0.4 * lean / G},
        "HEAD0000": {"X": head / G, "Z": 0.2 * swing**2 / G},
    }
    thigh = mode(pelvis, step_s, draw.about("thigh", 22), 0.25)
    return [
        Felt(place="SLED0000", dimension="AC", unit="g", cfc=60, axes={"X": sled_x / G}, alone=True),
        *(
            Felt(place=place, dimension="FO", unit="N", cfc=60, axes={"0": force}, alone=True)
            for place, force in belts.items()
        ),
        *(
            Felt(
                place=place,
                dimension="AC",
                unit="g",
                cfc=1000 if place[0] != "C" else 180,
                axes=axes,
            )
            for place, axes in acceleration.items()
        ),
        Felt(place="HEAD0000", dimension="AV", unit="rad/s", cfc=180, axes={"Y": -swing}),
        Felt(
            place="NECKUP00",
            dimension="FO",
            unit="N",
            cfc=1000,
            axes={"X": 4.6 * head, "Z": 4.6 * 0.2 * swing**2},
        ),
        Felt(place="NECKUP00", dimension="MO", unit="Nm", cfc=600, axes={"Y": 0.07 * motion.links[3]}),
        Felt(
            place="CHST0000",
            dimension="DS",
            unit="mm",
            cfc=600,
            axes={"X": draw.sign("deflection") * motion.links[1] / draw.about("chest rate", 180)},
            alone=True,
        ),
        *(
            Felt(
                place=place,
                dimension="FO",
                unit="N",
                cfc=600,
                axes={"Z": -draw.about(place, 6, within=2) * thigh},
                alone=True,
            )
            for place in ("FEMRLE00", "FEMRRI00")
        ),
    ]


def slow_push(draw: Draw, time_s: Floats, step_s: float) -> list[Felt]:
    """Press a rod slowly into an abdomen and pull it back."""
    duration_s = draw.about("duration", 0.3, within=0.2)
    size_m = draw.about("depth", 0.05, within=0.4)
    path = size_m * np.sin(np.pi * np.clip(time_s / duration_s, 0, 1)) ** 2
    speed = np.gradient(path, step_s)
    force = draw.about("soft", 1.5e4) * path + draw.about("hard", 1.2e7) * path**3
    force = np.maximum(force + draw.about("loss", 250) * speed, 0)
    back = mode(force, step_s, draw.about("back", 30), 0.3)
    return [
        Felt(place="ABDO0000", dimension="DS", unit="mm", cfc=60, axes={"X": path * 1e3}, alone=True),
        Felt(place="ABDO0000", dimension="FO", unit="N", cfc=60, axes={"X": force}, alone=True),
        Felt(place="LUSP0000", dimension="FO", unit="N", cfc=180, axes={"X": -0.8 * back, "Z": 0.25 * back}),
        Felt(place="LUSP0000", dimension="MO", unit="Nm", cfc=180, axes={"Y": 0.09 * back}),
    ]


PHYSICS: Final[dict[str, tuple[Callable[[Draw, Floats, float], list[Felt]], float]]] = {
    "head drop": (head_drop, 0.06),
    "neck pendulum": (neck_pendulum, 0.2),
    "chest impact": (chest_impact, 0.12),
    "side impact": (side_impact, 0.12),
    "knee impact": (knee_impact, 0.06),
    "vertical drop": (vertical_drop, 0.25),
    "frontal sled": (sled, 0.22),
    "slow push": (slow_push, 0.45),
}
"""Load cases with the time that is recorded after time zero, s."""
