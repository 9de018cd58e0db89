"""Five shapes of a project folder, drawn at random: how the files lie and are called, and what is in them."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.formats.iso13499 import write_test
from correlate.signal import Signal
from correlate.units import conversion_factor
from demo_pairs.laboratory.measuring_chain import FIRST_TIME
from tests.projects import physics
from tests.projects.physics import CASES, MODEL_UNITS, SPARE, Card, Quantity

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from numpy.random import Generator

    Array = physics.Array

REPEATS: Final = 3
RELEASES: Final = (("A1", "A2"), ("v1", "v2"), ("revA", "revB"), ("2.0", "2.1"), ("first", "tuned"))
BANK: Final = 4
"""Different draws of the laboratory and cards of the model; a project takes some of them and scales them."""

NO_AXIS: Final = 0.15
OTHER_AXIS: Final = 0.03
"""Shares of the model's channels whose name has no axis, or that of another count."""
WANDERING: Final = 0.25
"""Spread of the factor by which a model's curve is wrong from one time to another."""

PLACES: Final = {
    "probe": ("probe", "impactor", "pendulum", "ram"),
    "sternum": ("sternum", "chest", "sternum mid", "thorax front"),
    "upper spine": ("upper spine", "spine upper", "T1", "thoracic spine upper", "spine T4"),
    "lower spine": ("lower spine", "spine lower", "T12", "thoracic spine lower", "spine T12"),
    "head": ("head", "head cg", "head cog", "skull"),
    "upper neck": ("upper neck", "neck upper", "neck up", "occipital joint", "neck loadcell upper"),
    "lower neck": ("lower neck", "neck lower", "neck lo", "C7 joint", "neck loadcell lower"),
    "pelvis": ("pelvis", "hip"),
}
KINDS: Final = {
    "acceleration": ("acceleration", "acc", "accel", "a"),
    "displacement": ("displacement", "deflection", "disp", "compression", "d"),
    "velocity": ("velocity", "vel", "v"),
    "angular velocity": ("angular velocity", "omega", "ang vel", "rot velocity", "av"),
    "rotation": ("rotation", "angle", "rot"),
    "force": ("force", "load", "f"),
    "moment": ("moment", "torque", "mom", "m"),
}
AXES: Final = {"x": ("x",), "y": ("y",), "z": ("z",), "resultant": ("resultant", "res")}
STYLES: Final = (
    "{place} {kind} {axis}",
    "{place} {axis} {kind}",
    "{KIND}_{AXIS}_{PLACE}",
    "{place}_{kind}_{axis}",
    "{Place} {kind}{AXIS}",
    "{place}: {kind}-{axis}",
)


@dataclass(frozen=True, kw_only=True)
class Partner:
    """What became of one quantity in the model: its name, its sign against the test, gain and delay."""

    name: str
    sign: int
    gain: float
    delay_ms: float


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """A project as drawn.

    Attributes
    ----------
    seed
        Of the draw.
    cases, releases
        Names.
    cards
        Of the model, by release.
    partners
        By name of the quantity; those that a model lacks are missing.
    test_names
        Names of test channels by quantity.
    """

    seed: int
    cases: tuple[str, ...]
    releases: tuple[str, ...]
    cards: dict[str, Card]
    partners: dict[str, Partner]
    test_names: dict[str, str]

    def truth(self, case: str) -> dict[str, tuple[str, int]]:
        """Return test channel to model channel and sign, of the partners there are in a load case."""
        return {
            self.test_names[name]: (self.partners[name].name, self.partners[name].sign)
            for name in CASES[case]
            if name in self.partners
        }

    def alone(self, case: str) -> set[str]:
        """Return the test channels of a load case that the model does not report."""
        return {self.test_names[name] for name in CASES[case] if name not in self.partners}


CARDS: Final = (
    Card(),
    Card(stiff=1.15, damped=0.8, soft=1.25),
    Card(stiff=0.8, damped=1.2, soft=0.85),
    Card(stiff=1.3, damped=1.35, soft=1.1),
)


def drawn(seed: int, *, turned: float = 0.3, test_words: bool = False, dumb: float = 0.12) -> Drawn:
    """Draw names, signs and errors.

    Parameters
    ----------
    seed
        Of the draw.
    turned
        Share of the model's channels with the other sign.
    test_words
        Test channels have names in words, not codes.
    dumb
        Share of the model's channels whose name says nothing of the place.
    """
    random = np.random.default_rng([seed, 77])
    groups = (
        ("thorax-4.3", "thorax-6.7"),
        ("neck-flexion", "neck-extension"),
        ("thorax-6.7", "neck-flexion"),
    )
    cases = groups[int(random.integers(len(groups)))]
    entries = {name: entry for case in cases for name, entry in CASES[case].items()}
    style = str(random.choice(STYLES))
    synonyms = {place: str(random.choice(words)) for place, words in PLACES.items()}
    kinds = {kind: str(random.choice(words)) for kind, words in KINDS.items()}
    lacking = {str(random.choice(list(entries)))} if random.random() < 0.5 else set()
    partners = {}
    for name, entry in {**entries, **SPARE}.items():
        place = synonyms[entry.place]
        if name in entries and random.random() < dumb:
            place = f"{random.choice(['node', 'beam', 'part'])} {random.integers(100, 9999)}"
        partners[name] = Partner(
            name=_name(style, place, kinds[entry.kind], _axis(entry.axis, random)),
            sign=-1 if random.random() < turned else 1,
            gain=float(np.exp(0.2 * random.standard_normal())),
            delay_ms=float(random.uniform(-3.0, 3.0)),
        )
    names_once = [one.name for one in partners.values()]
    for name, one in partners.items():
        if names_once.count(one.name) > 1:
            partners[name] = replace(one, name=f"{one.name} {name}")
    names = {name: entry.words if test_words else entry.code for name, entry in entries.items()}
    if test_words:
        test_style, chosen = (
            str(random.choice(STYLES)),
            {p: str(random.choice(w[:3])) for p, w in PLACES.items()},
        )
        names = {n: _name(test_style, chosen[e.place], e.kind, e.axis) for n, e in entries.items()}
    picked = random.permutation(len(CARDS))
    releases = RELEASES[int(random.integers(len(RELEASES)))]
    return Drawn(
        seed=seed,
        cases=cases,
        releases=releases,
        cards={release: CARDS[picked[index]] for index, release in enumerate(releases)},
        partners={name: one for name, one in partners.items() if name not in lacking},
        test_names=names,
    )


def _axis(axis: str, random: Generator) -> str:
    """Return a word for the axis, now and then none, seldom another: axes are counted in many ways."""
    chance = random.random()
    if chance < NO_AXIS:
        return ""
    if chance < NO_AXIS + OTHER_AXIS and axis in "xz":
        return "z" if axis == "x" else "x"
    return str(random.choice(AXES[axis]))


def _name(style: str, place: str, kind: str, axis: str) -> str:
    joined = place.replace(" ", "_") if "_" in style else place
    return (
        style.format(
            place=joined,
            Place=joined[0].upper() + joined[1:],
            PLACE=joined.upper(),
            kind=kind.replace(" ", "_") if "_" in style else kind,
            KIND=kind.replace(" ", "_").upper(),
            axis=axis,
            AXIS=axis.upper(),
        )
        .strip(" _-:")
        .replace("__", "_")
        .replace("  ", " ")
    )


def tests_of(project: Drawn, case: str, repeat: int) -> dict[str, Array]:
    """Return the samples of one test by quantity."""
    curves = physics.test_curves(case, 1 + (project.seed + repeat) % BANK, 40)
    random = np.random.default_rng([project.seed, repeat, len(case)])
    scale = 1.0 + 0.02 * random.standard_normal()
    return {name: scale * samples for name, samples in curves.items()}


def results_of(project: Drawn, release: str, case: str) -> dict[str, Array]:
    """Return the results of one run by quantity, in mm, ms, kg, kN, rad, on the times of the model."""
    curves = physics.model_curves(case, project.cards[release])
    times = physics.model_times()
    wanted = {name: project.partners[name] for name in [*CASES[case], *SPARE] if name in project.partners}
    # A solver writes its columns in one order, whatever the release.
    shuffled = np.random.default_rng([project.seed, len(case)]).permutation(list(wanted)).tolist()
    random = np.random.default_rng([project.seed, len(case), ord(release[-1])])
    return {
        name: _distorted(
            wanted[name].sign
            * wanted[name].gain
            * np.interp(times - wanted[name].delay_ms, times, curves[name]),
            random,
        )
        for name in shuffled
    }


def _distorted(curve: Array, random: Generator) -> Array:
    """Return a curve with the slow errors of a model: a factor that wanders and a little of its past."""
    times = physics.model_times()
    knots = np.linspace(times[0], times[-1], 9)
    factor = 1.0 + np.interp(times, knots, WANDERING * random.standard_normal(knots.size))
    ringing = (
        0.05
        * np.abs(curve).max()
        * np.sin(2 * np.pi * times / random.uniform(8.0, 25.0) + random.uniform(0, 6))
    )
    begun = np.abs(curve) > 0.01 * np.abs(curve).max()
    return np.asarray(factor * curve + ringing * np.exp(-times / 50.0) * begun)


def quantity(case: str, name: str) -> Quantity:
    """Return what a quantity of a load case is."""
    return CASES[case].get(name) or SPARE[name]


def _signals(project: Drawn, case: str, repeat: int, codes: dict[str, str]) -> list[Signal]:
    return [
        Signal(
            samples=samples[::2],
            start_s=FIRST_TIME,
            step_s=1e-4,
            unit=CASES[case][name].unit,
            channel=codes[name],
        )
        for name, samples in tests_of(project, case, repeat).items()
    ]


def _iso(place: Path, project: Drawn, case: str, repeat: int, *, title: str) -> None:
    place.parent.mkdir(parents=True, exist_ok=True)
    codes = project.test_names
    write_test(
        place,
        name=place.stem if place.suffix == ".zip" else place.name,
        description={"Title": title, "Type of the test": title.partition(",")[0]},
        signals=_signals(project, case, repeat, codes),
        channel_headers={
            codes[name]: {"Name of the channel": entry.words} for name, entry in CASES[case].items()
        },
        significant_digits=6,
    )


def _columns(times: Array, columns: dict[str, Array], separator: str, decimal: str = ".") -> str:
    rows = np.column_stack([times, *columns.values()])
    lines = [separator.join(f"{value:.7g}" for value in row).replace(".", decimal) for row in rows.tolist()]
    return "\n".join([separator.join(columns_head(columns)), *lines, ""])


def columns_head(columns: dict[str, Array]) -> list[str]:
    """Return the names of the columns; the first is that of the times."""
    return [TIME, *columns]


TIME: Final = "time [ms]"


def _result_text(project: Drawn, release: str, case: str) -> str:
    found = results_of(project, release, case)
    columns = {
        f"{project.partners[name].name} [{MODEL_UNITS[quantity(case, name).kind]}]": samples
        for name, samples in found.items()
    }
    return _columns(physics.model_times(), columns, ",")


def _write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")


@dataclass(frozen=True, kw_only=True)
class Files:
    """How files and folders of a project are called."""

    tests: str
    results: str
    repeat: str
    joint: str
    case: dict[str, str]

    def repeated(self, stem: str, number: int) -> str:
        """Return the name of a repeat."""
        return f"{stem}{self.joint}{self.repeat.format(number)}"


def files_of(project: Drawn) -> Files:
    """Draw the names of files."""
    random = np.random.default_rng([project.seed, 99])
    joint = str(random.choice(["_", "-"]))
    point = str(random.choice([".", "p"]))
    return Files(
        tests=str(random.choice(["laboratory", "tests", "lab", "hardware"])),
        results=str(random.choice(["releases", "model", "runs", "results"])),
        repeat=str(random.choice(["R{}", "rep{}", "{:02d}", "test{:02d}", "T{:03d}"])),
        joint=joint,
        case={case: case.replace("-", joint).replace(".", point) for case in project.cases},
    )


def _iso_head(words: str, repeat: int) -> str:
    return f"{words}, repeat {repeat}"


def folders(folder: Path, seed: int) -> Drawn:
    """Write test folders after ISO/TS 13499 by load case, one result file a load case and release."""
    project = drawn(seed)
    files = files_of(project)
    for number, case in enumerate(project.cases):
        for repeat in range(1, REPEATS + 1):
            place = folder / files.tests / files.case[case] / files.repeated(f"UB{number}", repeat)
            _iso(place, project, case, repeat, title=_iso_head(case, repeat))
        for release in project.releases:
            path = folder / files.results / release / f"{files.case[case]}.csv"
            _write(path, _result_text(project, release, case))
    return project


def flat(folder: Path, seed: int) -> Drawn:
    """Write tests as semicolon text with decimal commas in one folder, and a folder of results a release."""
    project = drawn(seed, test_words=True)
    files = files_of(project)
    for case in project.cases:
        for repeat in range(1, REPEATS + 1):
            name = f"{files.repeated(files.case[case], repeat)}.txt"
            _write(folder / files.tests / name, _test_text(project, case, repeat, ";", ","))
        for release in project.releases:
            _write(folder / release / f"{files.case[case]}.csv", _result_text(project, release, case))
    return project


def _test_text(project: Drawn, case: str, repeat: int, separator: str, decimal: str = ".") -> str:
    times = np.round(1e3 * physics.test_times()[::2], 6)
    columns = {
        f"{project.test_names[name]} [{CASES[case][name].unit}]": samples[::2]
        for name, samples in tests_of(project, case, repeat).items()
    }
    return _columns(times, columns, separator, decimal)


def fixed_width(folder: Path, seed: int) -> Drawn:
    """Write solver output in columns of fixed width below a title block, no units, two files a run."""
    project = drawn(seed)
    files = files_of(project)
    for case in project.cases:
        for repeat in range(1, REPEATS + 1):
            place = folder / files.tests / files.repeated(files.case[case], repeat)
            _iso(place, project, case, repeat, title=_iso_head(case, repeat))
        for release in project.releases:
            found = results_of(project, release, case)
            for file, forces in (("nodes.out", False), ("sections.out", True)):
                columns = {
                    project.partners[name].name: samples
                    for name, samples in found.items()
                    if (quantity(case, name).kind in {"force", "moment"}) == forces
                }
                path = folder / files.results / release / files.case[case] / file
                _write(path, _fixed(f"{release} {case}", columns))
    return project


def _fixed(title: str, columns: dict[str, Array]) -> str:
    names = ["time", *map(fixed_name, columns)]
    width = max(14, *(len(name) + 2 for name in names))
    rows = np.column_stack([physics.model_times(), *columns.values()])
    lines = ["".join(f"{value:{width}.5E}" for value in row) for row in rows.tolist()]
    head = [
        f" upper body, run {title}",
        " time history, every 0.1",
        "",
        "".join(f"{n:>{width}}" for n in names),
    ]
    return "\n".join([*head, *lines, ""])


def fixed_name(name: str) -> str:
    """Return a name without blanks, as it stands above a column of fixed width."""
    return re.sub(r"[^\w.-]+", "_", name)


def zipped(folder: Path, seed: int) -> Drawn:
    """Write zip files of tests whose codes say nothing, titles in headers, and a folder a run and release."""
    project = drawn(seed)
    files = files_of(project)
    entries = sorted({name for case in project.cases for name in CASES[case]})
    project = replace(project, test_names={name: f"00CHNL{i:04d}000000" for i, name in enumerate(entries)})
    number = 11
    for case in project.cases:
        words = case.replace("-", " ")
        for repeat in range(1, REPEATS + 1):
            place = folder / files.tests / f"T-{number:03d}.zip"
            _iso(place, project, case, repeat, title=_iso_head(words, repeat))
            number += 1
        for index, release in enumerate(project.releases):
            place = folder / f"model_{release}" / f"run{index}_{files.case[case]}"
            _write(place / "curves.csv", f"# Title: {words}\n{_result_text(project, release, case)}")
    return project


def mixed(folder: Path, seed: int) -> Drawn:
    """Write tab-separated results without units, times in s, signs turned, among files of other kinds."""
    project = drawn(seed, turned=0.5, test_words=True)
    files = files_of(project)
    place = folder / "data"
    for case in project.cases:
        stem = files.case[case]
        for repeat in range(1, REPEATS + 1):
            name = f"{files.repeated(f'{stem}{files.joint}test', repeat)}.csv"
            _write(place / name, _test_text(project, case, repeat, ","))
        for release in project.releases:
            columns = {}
            for name, samples in results_of(project, release, case).items():
                kind = quantity(case, name).kind
                columns[project.partners[name].name] = (
                    conversion_factor(MODEL_UNITS[kind], _SI[kind]) * samples
                )
            text = _columns(1e-3 * physics.model_times(), columns, "\t").replace(TIME, "time", 1)
            _write(place / f"{stem}{files.joint}{release}.tab", text)
    _write(place / "run.log", "normal end\n")
    _write(place / "readme.txt", "Ask for the measuring report.\n")
    (place / "report.pdf").write_bytes(b"%PDF-1.4\n%\xe2\xe3\xcf\xd3\n")
    (place / "table.xlsx").write_bytes(b"PK\x03\x04" + bytes(40))
    (place / "photo.png").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(40))
    return project


_SI: Final = {
    "acceleration": "m/s^2",
    "displacement": "m",
    "velocity": "m/s",
    "angular velocity": "rad/s",
    "rotation": "rad",
    "force": "N",
    "moment": "N*m",
}

SHAPES: Final[dict[str, Callable[[Path, int], Drawn]]] = {
    "folders": folders,
    "flat": flat,
    "fixed width": fixed_width,
    "zipped": zipped,
    "mixed": mixed,
}
"""By name."""
