"""The resultant of three axes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.conditioning import filter_cfc, resultant, turn_sign
from correlate.errors import SignalError
from tests.conditioning.signals import names, signal_of

if TYPE_CHECKING:
    from correlate.signal import Signal


def axis(name: str, samples: object, **changes: object) -> Signal:
    """Return one axis of a sensor."""
    return signal_of(np.asarray(samples, dtype=float), channel=f"D0HEAD0000KMAC{name}0", **changes)  # type: ignore[arg-type]


def test_pythagorean_quadruples() -> None:
    """2, 3, 6 make 7 and 1, 4, 8 make 9; also with signs."""
    total = resultant(axis("X", [2, -1]), axis("Y", [-3, 4]), axis("Z", [6, -8]))
    np.testing.assert_allclose(total.samples, [7.0, 9.0], rtol=1e-15)


def test_channel_and_history() -> None:
    """The code gets direction R; the history tells what all three axes went through."""
    total = resultant(axis("X", [2, 1]), turn_sign(axis("Y", [3, 4])), axis("Z", [6, 8]))
    assert total.channel == "D0HEAD0000KMACR0"
    assert names(total) == ["read", "resultant"]
    settings = total.history[-1].settings
    assert (settings["x"], settings["z"]) == ("D0HEAD0000KMACX0", "D0HEAD0000KMACZ0")
    assert settings["y_steps"] == ("read (file=run.csv)", "turn sign")


def test_plain_names_are_joined() -> None:
    """Channels without a code, or of different sensors, are named one by one; a given name wins."""
    x, y, z = (signal_of([1, 2], channel=f"head a{letter}") for letter in "xyz")
    assert resultant(x, y, z).channel == "resultant of head ax, head ay, head az"
    assert resultant(x, y, z, channel="head ar").channel == "head ar"
    other = signal_of([1, 2], channel="D0CHST0000KMACZ0")
    assert resultant(axis("X", [1, 2]), axis("Y", [1, 2]), other).channel.startswith("resultant of D0HEAD")


@given(angle=st.floats(0, 6.3), tilt=st.floats(-1.5, 1.5), seed=st.integers(0, 1000))
def test_does_not_depend_on_the_direction_of_the_axes(angle: float, tilt: float, seed: int) -> None:
    """Turning the sensor changes the axes, not the resultant."""
    vector = np.random.default_rng(seed).normal(size=(3, 20))
    about_z = np.array([[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1]])
    about_x = np.array([[1, 0, 0], [0, np.cos(tilt), -np.sin(tilt)], [0, np.sin(tilt), np.cos(tilt)]])
    turned = about_x @ about_z @ vector
    before = resultant(axis("X", vector[0]), axis("Y", vector[1]), axis("Z", vector[2])).samples
    after = resultant(axis("X", turned[0]), axis("Y", turned[1]), axis("Z", turned[2])).samples
    np.testing.assert_allclose(after, before, rtol=1e-12)


def test_components_must_share_the_grid() -> None:
    """A component that starts later, steps differently or is shorter is refused by name."""
    x, z = axis("X", [1, 2, 3]), axis("Z", [1, 2, 3])
    for bad in (
        axis("Y", [1, 2, 3], start_s=1e-5),
        axis("Y", [1, 2, 3], step_s=2e-4),
        axis("Y", [1, 2]),
        axis("Y", [1, 2], step_s=2e-4),
    ):
        with pytest.raises(
            SignalError, match=r"D0HEAD0000KMACY0': its .* do not match .* 'D0HEAD0000KMACX0'"
        ):
            resultant(x, bad, z)


def test_components_must_share_the_unit() -> None:
    """Two units are refused rather than converted out of sight."""
    with pytest.raises(SignalError, match=r"KMACZ0': it is in m/s\^2 and channel 'D0HEAD0000KMACX0' in g"):
        resultant(axis("X", [1, 2]), axis("Y", [1, 2]), axis("Z", [1, 2], unit="m/s^2"))


def test_components_must_be_filtered_alike() -> None:
    """One filtered axis among raw ones would give a resultant of nothing in particular."""
    x, y, z = axis("X", np.ones(50)), axis("Y", np.ones(50)), axis("Z", np.ones(50))
    with pytest.raises(
        SignalError, match="KMACY0': it is filtered differently from channel 'D0HEAD0000KMACX0'"
    ):
        resultant(x, filter_cfc(y, 1000), z)
