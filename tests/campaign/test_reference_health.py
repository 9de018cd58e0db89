"""Health of reference data: counts, what is missing, and the order of what to look at."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate import (
    CaseHealth,
    CheckOutcome,
    case_health,
    check,
    load_campaign,
    load_waivers,
    release_package,
    unhealthy_case,
    waive,
)
from correlate.campaign.package_use import plan_repeats, use_package
from correlate.errors import FormatError
from tests.campaign.test_package_use import CAMPAIGN, project, send
from tests.reference.folders import CODE, write_pulse
from tests.reference.package.test_received import clipped

if TYPE_CHECKING:
    from pathlib import Path

    from correlate import Campaign

__all__ = ["project"]


def health(folder: Path, name: str = "drop") -> CaseHealth:
    """Check the tests of a load case and return its health."""
    campaign = load_campaign(folder)
    case = campaign.load_case(name)
    return case_health(campaign, case, checked(campaign, name).findings, waivers=load_waivers(folder))


def checked(campaign: Campaign, name: str) -> CheckOutcome:
    """Run the data check over a load case."""
    case = campaign.load_case(name)
    return check([campaign.read_test(path, case) for path in campaign.test_paths(case)])


def test_sound_tests_are_sound(project: Path) -> None:
    """Two tests of one channel: nothing is open, and there are too few for repeatability."""
    found = health(project)
    assert (found.tests, found.channels, found.errors, found.missing) == (("T1", "T2"), 1, 0, {})
    assert found.is_sound
    assert found.weakest is None
    assert found.repeatability_words == "needs 3 tests"


def test_repeatability_is_that_of_the_weakest_channel(project: Path) -> None:
    """With three tests and more there is a number, the same that the ceiling of the channel has."""
    use_package(plan_repeats(project / "campaign.toml", "more", load_case="drop"))
    found = health(project)
    assert found.weakest is not None
    assert (found.weakest.channel, found.weakest.repeats) == (CODE, 4)
    assert found.repeatability_words == f"{found.weakest.median:.3f}"


def test_the_weakest_of_two_channels_is_the_one_that_scatters(tmp_path: Path) -> None:
    """Three tests agree in one channel and differ by 20 % in the other; the other one is named."""
    time = np.arange(-300, 700) * 1e-4
    pulse = np.exp(-(((time - 0.02) / 0.006) ** 2))
    for number, size in enumerate((80, 100, 120), start=1):
        rows = zip(time * 1e3, 500 * pulse, size * pulse, strict=True)
        lines = [",".join(f"{value:.6g}" for value in row) for row in rows]
        text = "\n".join([f"time [ms],{CODE} [m/s^2],D0LUSP0000KMFOZP [kN]", *lines, ""])
        (tmp_path / f"T{number}.csv").write_text(text, encoding="utf-8")
    plans = "".join(
        f'[[load_case.channel]]\ntest = "{test}"\nregion = "head"\n' for test in (CODE, "D0LUSP0000KMFOZP")
    )
    head = (
        '[campaign]\ntitle = "two"\n[[load_case]]\nname = "drop"\ntests = ["*.csv"]\ninterval_ms = [0, 50]\n'
    )
    tail = '[[release]]\nname = "A1"\nfolder = "model"\n'
    (tmp_path / "campaign.toml").write_text(head + plans + tail, encoding="utf-8")
    weakest = health(tmp_path).weakest
    assert weakest is not None
    assert weakest.channel == "D0LUSP0000KMFOZP"
    assert weakest.median < 0.95


def test_errors_of_a_released_package_are_open_and_its_record_is_named(project: Path, tmp_path: Path) -> None:
    """A release does not remove an error; a waiver does, and is counted."""
    send(tmp_path, [clipped(tmp_path / "lab")], "clipped")
    release_package(project, "clipped", who="the lab", why="the peak is not used")
    use_package(plan_repeats(project / "campaign.toml", "clipped", load_case="drop"))
    found = health(project)
    assert found.errors > 0
    assert found.worst_channel == CODE
    assert not found.is_sound
    (released,) = found.released
    assert (released.package, released.tests, released.record.who) == ("clipped", ("T9",), "the lab")
    campaign = load_campaign(project)
    errors = [one for one in checked(campaign, "drop").findings if one.severity == "error"]
    waive(project, errors, who="the lab", why="known")
    accepted = health(project)
    assert (accepted.errors, accepted.waived) == (0, found.errors)
    assert accepted.released == found.released


def test_what_is_missing_is_named_by_test(project: Path) -> None:
    """The planned channel that no test has, and the tests that there should be."""
    lumbar = health(project, "other")
    assert lumbar.missing == {"T1": ("D0LUSP0000KMFOZP",), "T2": ("D0LUSP0000KMFOZP",)}
    assert lumbar.missing_channels == 2
    assert not lumbar.is_sound
    text = CAMPAIGN.replace("interval_ms = [0, 50]", "interval_ms = [0, 50]\nexpected_repeats = 3", 1)
    (project / "campaign.toml").write_text(text, encoding="utf-8")
    short = health(project)
    assert (short.expected_tests, len(short.tests), short.is_sound) == (3, 2, False)


def test_tests_that_cannot_be_found_are_worst(project: Path) -> None:
    """The reason is kept; no error in any data weighs more."""
    campaign = load_campaign(project)
    gone = unhealthy_case(campaign.load_case("other"), FormatError("no test is there", remedy="add one"))
    assert "no test is there" in gone.problem
    assert gone.badness > replace(health(project), errors=99).badness
    assert not gone.is_sound


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> CaseHealth:
    """Return the health of a load case that plans three tests."""
    folder = tmp_path_factory.mktemp("one")
    write_pulse(folder / "laboratory/drop", "T1", 1)
    write_pulse(folder / "laboratory/other", "T1", 1)
    (folder / "campaign.toml").write_text(CAMPAIGN, encoding="utf-8")
    return health(folder)


@given(st.lists(st.tuples(st.integers(0, 3), st.integers(0, 3)), min_size=2, max_size=6))
def test_more_errors_are_never_better(case: CaseHealth, counts: list[tuple[int, int]]) -> None:
    """Sorted worst first, errors never increase down the list, nor do warnings among equal errors."""
    found = [replace(case, errors=errors, warnings=warnings) for errors, warnings in counts]
    ordered = sorted(found, key=lambda one: one.badness, reverse=True)
    assert all((a.errors, a.warnings) >= (b.errors, b.warnings) for a, b in pairwise(ordered))
