"""What the commands keep and read for the scoreboard: ceilings in the store, limits in the campaign file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from correlate import open_store
from tests.campaign.conftest import half_sine, write_columns
from tests.campaign.conftest import project as project_on_disk

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]

project = project_on_disk


def test_ceilings_are_kept_in_the_store(correlate: Run, project: Path) -> None:
    """The ceiling that is printed is the one that is kept, beside the campaign or where asked."""
    columns = {"force [kN]": half_sine(5.2, 3.8), "deflection [mm]": half_sine(7.4, 57.0)}
    write_columns(project / "tests/R3.csv", columns)
    elsewhere = project / "other.sqlite"
    done = correlate("ceiling", project)
    assert done.code == 0
    assert correlate("ceiling", project, "--store", elsewhere).code == 0
    for file in (project / "ratings.sqlite", elsewhere):
        with open_store(file) as store:
            found = store.ceilings("Two repeats")
        assert [one.channel for one in found] == ["deflection", "force"]
        assert all(f"{one.median:.3f}" in done.out for one in found)


def test_the_gate_takes_its_limits_from_the_campaign_file(correlate: Run, project: Path) -> None:
    """A bar in the file contains without an option, and an option goes before it."""
    file = project / "campaign.toml"
    file.write_text(file.read_text(encoding="utf-8") + "\n[limits]\nleast = 0.999\n", encoding="utf-8")
    stopped = correlate("gate", project, "--release", "B1", "--workers", 1)
    assert stopped.code == 1
    assert "below 0.999" in stopped.out
    assert correlate("gate", project, "--release", "B1", "--min", 0.1, "--workers", 1).code == 0


def test_a_loss_in_the_file_needs_no_baseline_until_one_is_named(correlate: Run, project: Path) -> None:
    """Without a baseline the limit on losses is left aside; against itself a release would lose nothing."""
    file = project / "campaign.toml"
    file.write_text(file.read_text(encoding="utf-8") + "\n[limits]\nlargest_loss = 0.01\n", encoding="utf-8")
    assert correlate("gate", project, "--release", "B1", "--workers", 1).code == 0
    against = correlate("gate", project, "--release", "B1", "--baseline", "B1", "--workers", 1)
    assert against.code == 2
    assert "release 'B1' cannot be compared with itself; name another baseline" in against.err
