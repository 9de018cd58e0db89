"""``correlate packages``: from arrival to use in the campaign, without a page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from correlate import PackagePlan, load_campaign, make_package
from tests.campaign.test_package_use import CAMPAIGN, project
from tests.reference.package.test_received import clipped

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]

__all__ = ["project"]


def test_from_arrival_to_use(correlate: Run, project: Path, tmp_path: Path) -> None:
    """Quarantine is said with exit code 1; released with a reason, shown before it is written, used."""
    plan = PackagePlan(tests=[clipped(tmp_path / "lab")], checked_by="lab", despite="needed")
    make_package(plan, tmp_path / "clipped.zip")
    received = correlate("packages", "receive", project, tmp_path / "clipped.zip")
    assert received.code == 1
    assert "clipped: in quarantine, 1 error;" in received.out
    assert "clipped/data/tests/drop/T9" in received.out
    refused = correlate("packages", "use", project, "clipped", "--load-case", "drop")
    assert refused.code == 2
    assert "release it from quarantine first" in refused.err
    released = correlate("packages", "release", project, "clipped", "--who", "the lab", "--why", "not used")
    assert (released.code, "despite 1 open error by the lab" in released.out) == (0, True)
    shown = correlate("packages", "use", project, "clipped", "--load-case", "drop")
    assert '+   "received/clipped/data/tests/drop/*",' in shown.out
    assert "Nothing was written." in shown.out
    assert (project / "campaign.toml").read_text(encoding="utf-8") == CAMPAIGN
    assert correlate("packages", "use", project, "clipped", "--load-case", "drop", "--write").code == 0
    listed = correlate("packages", "list", project).out
    assert "used in drop: T9" in listed
    assert "more: received" in listed


def test_a_new_load_case_needs_its_interval(correlate: Run, project: Path) -> None:
    """Where the tests belong and the interval are asked for; then the load case is in the file."""
    neither = correlate("packages", "use", project, "more")
    assert (neither.code, "give either --load-case or --new" in neither.err) == (2, True)
    without = correlate("packages", "use", project, "more", "--new", "drop-2")
    assert (without.code, "give --interval FROM TO in ms" in without.err) == (2, True)
    words = ("packages", "use", project, "more", "--new", "drop-2", "--interval", "0", "40", "--write")
    assert correlate(*words).code == 0
    assert load_campaign(project).load_case("drop-2").interval_ms == (0, 40)
