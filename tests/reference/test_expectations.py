"""Expectations of load cases: read from a file, and compared with tests."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate import Recording, Signal
from correlate.errors import FormatError
from correlate.reference.check import check
from correlate.reference.expectations import Expectations, load_expectations

if TYPE_CHECKING:
    from correlate.reference.finding import Finding

TIME = np.arange(-400, 1200) * 1e-4
BELL = np.exp(-(((TIME - 0.03) / 0.006) ** 2))
NOISE = np.random.default_rng(1).normal(0, 1e-3, (6, TIME.size))

FILE = """
[[load_case]]
name = "probe"

[[load_case.channel]]
channel = "force"
main_peak = "negative"
peak = [4.0, 6.0]
unit = "kN"

[[load_case.relation]]
kind = "force of mass"
force = "force"
acceleration = "deceleration"
mass_kg = 20

[[load_case.relation]]
kind = "speed change"
acceleration = "deceleration"
of_impact_speed = [0.9, 1.6]

[[load_case.relation]]
kind = "sum"
total = "force"
parts = ["left", "right"]

[[load_case.relation]]
kind = "integral"
rate = "deceleration"
level = "speed"
"""


@pytest.fixture
def expectations(tmp_path: Path) -> Expectations:
    """Return the file above, read."""
    path = tmp_path / "expect.toml"
    path.write_text(FILE, encoding="utf-8")
    return load_expectations(path)


def channel(name: str, unit: str, size: float, *, noise: int = 0, shape: np.ndarray | None = None) -> Signal:
    """Return a bell of a size with noise of a thousandth of it."""
    values = size * ((BELL if shape is None else shape) + NOISE[noise])
    return Signal(samples=values, start_s=float(TIME[0]), step_s=1e-4, unit=unit, channel=name)


def probe(*changed: Signal) -> Recording:
    """Return a sound probe test, with some channels changed; the bell's area is 6 ms · √π = 10.63 ms."""
    integral = np.cumsum(BELL) * 1e-4 / 0.010635
    signals = {
        signal.channel: signal
        for signal in (
            channel("force", "N", -5000, noise=0),
            channel("deceleration", "m/s^2", -250, noise=1),
            channel("left", "N", -2000, noise=2),
            channel("right", "N", -3000, noise=3),
            channel("speed", "m/s", -250 * 0.010635, noise=4, shape=integral),
            *changed,
        )
    }
    details = {"Type of the test": "probe", "Velocity test object 1": "2.4"}
    return Recording(signals=tuple(signals.values()), path=Path("t1"), format="computed", details=details)


def found(test: Recording, expectations: Expectations) -> list[tuple[str, str]]:
    """Return kind and channel of every error and warning."""
    findings: tuple[Finding, ...] = check([test], expectations=expectations).findings
    return [(finding.kind, finding.channel) for finding in findings if finding.severity != "note"]


def test_a_sound_test_meets_all(expectations: Expectations) -> None:
    """Sign, size, mass, speed change, sum and integral all agree."""
    assert found(probe(), expectations) == []


def test_a_turned_channel(expectations: Expectations) -> None:
    """The wrong sign is an error by the expectation and by every relation of the channel."""
    turned = found(probe(channel("force", "N", 5000)), expectations)
    assert set(turned) == {("polarity", "force")}


def test_a_force_in_pounds(expectations: Expectations) -> None:
    """A force recorded in lbf under the unit N is a unit error, by its size and by its relations."""
    in_pounds = found(probe(channel("force", "N", -5000 / 4.4482216)), expectations)
    assert set(in_pounds) == {("unit", "force")}


def test_a_part_is_missing_in_the_sum(expectations: Expectations) -> None:
    """Half of one load cell is lost."""
    broken = found(probe(channel("right", "N", -1500, noise=3)), expectations)
    assert broken == [("redundancy", "force")]


def test_an_acceleration_in_g_changes_the_speed_too_little(expectations: Expectations) -> None:
    """Against the impact speed that the test states, and against its partners."""
    in_g = found(probe(channel("deceleration", "m/s^2", -250 / 9.80665, noise=1)), expectations)
    assert ("unit", "deceleration") in in_g
    assert ("unit", "force") in in_g
    assert ("unit", "speed") in in_g


def test_a_peak_outside_its_range_and_a_missing_channel(expectations: Expectations) -> None:
    """A size that no factor explains is a warning, and so is a channel that is not there."""
    small = replace(probe(), signals=(channel("force", "N", -2800),))
    assert found(small, expectations) == [("expected peak", "force")]
    empty = replace(probe(), signals=(channel("other", "N", 1),))
    assert found(empty, expectations) == [("missing channel", "force")]


def test_another_quantity(expectations: Expectations) -> None:
    """A displacement under the name of a force is a unit error."""
    assert ("unit", "force") in found(probe(channel("force", "mm", -5000)), expectations)


def test_a_resultant_is_checked_by_its_code() -> None:
    """Codes alone tell that R is the length of X, Y and Z, and that V is the integral of A."""
    codes = [f"D0HEAD0000KMAC{axis}P" for axis in "XYZ"]
    axes = [
        channel(code, "g", size, noise=i)
        for i, (code, size) in enumerate(zip(codes, (20, 30, 60), strict=True))
    ]
    sound = channel("D0HEAD0000KMACRP", "g", 70, noise=4)
    wrong = channel("D0HEAD0000KMACRP", "g", 50, noise=4)
    for last, expected in ((sound, []), (wrong, [("redundancy", "D0HEAD0000KMACRP")])):
        test = Recording(signals=(*axes, last), path=Path("t"), format="computed")
        assert found(test, Expectations()) == expected


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[[load_case]]\nnme = 'a'", "line 2, load_case.nme: there is no such key; did you mean 'name'"),
        ("[[load_case]]\nname = 'a'\n[[load_case.channel]]\nchannel = 'f'\npeak = [1, 2]", "belong together"),
        ("[[load_case]]\nname = 'a'\n[[load_case.relation]]\nkind = 'magic'", "'magic'"),
        ("[[load_case]", "is not valid TOML"),
        (
            "[[load_case]]\nname = 'a'\n[[load_case.channel]]\nchannel = 'f'\npeak = [3, 2]\nunit = 'N'",
            "the larger peak is given first",
        ),
        (
            "[[load_case]]\nname = 'a'\n[[load_case.channel]]\nchannel = 'f'\npeak = [1, 2]\nunit = 'ell'",
            "'ell' is not known",
        ),
    ],
)
def test_mistakes_in_the_file_are_named(tmp_path: Path, text: str, message: str) -> None:
    """Unknown keys, halves of a pair, unknown relations, broken TOML."""
    path = tmp_path / "expect.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FormatError, match=message):
        load_expectations(path)


def test_a_missing_file(tmp_path: Path) -> None:
    """Named with the remedy."""
    with pytest.raises(FormatError, match=r"absent\.toml: cannot be read"):
        load_expectations(tmp_path / "absent.toml")
