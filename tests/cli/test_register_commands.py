"""``qualify --keep`` and ``check --register``: results are kept, headers compared with the register."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from correlate import kept_qualifications
from correlate.formats.iso13499 import write_test
from correlate.signal import Signal
from tests.laboratory.books import PELVIS, REGISTER, WINDOWS, pushed, register_in

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]


def written(folder: Path, *, peak_g: float = 50.0, day: str = "2025-03-01", **header: str) -> Path:
    """Write a push on the pelvis as a test folder."""
    made = pushed(peak_g, day=day)
    (signal,) = made.signals
    plain = Signal(
        samples=signal.samples, start_s=signal.start_s, step_s=signal.step_s, unit="g", channel=PELVIS
    )
    place = folder / "P1"
    write_test(
        place,
        name="P1",
        description=dict(made.details),
        signals=[plain],
        channel_headers={PELVIS: {key.replace("_", " "): text for key, text in header.items()}},
    )
    return place


@pytest.fixture
def qualify(correlate: Run, tmp_path: Path) -> Run:
    """Run ``qualify`` with windows of one's own."""
    windows = tmp_path / "windows.toml"
    windows.write_text(WINDOWS, encoding="utf-8")

    def run(*arguments: object) -> Outcome:
        device = ("--device", "KELP-M", "--test", "pelvis", "--windows", windows)
        return correlate("qualify", *arguments, *device)

    return run


def test_results_are_kept_once_and_outside_ones_too(qualify: Run, tmp_path: Path) -> None:
    """The first time it is saved, then it is already saved; the table and the exit code stay."""
    register = register_in(tmp_path)
    test = written(tmp_path, peak_g=70.0)
    outcome = qualify(test, "--keep", register.path)
    assert outcome.code == 1
    assert "10 above" in outcome.out
    assert outcome.err.startswith("saved: ")
    assert "dummy KM-W-002, 2025-03-01" in outcome.err
    assert qualify(test, "--keep", register.path).err.startswith("already saved: ")
    assert [one.passed for one in kept_qualifications(register)] == [False]


def test_dummy_and_day_can_be_given(qualify: Run, tmp_path: Path) -> None:
    """They override the header; without --keep they are refused, and nothing is saved."""
    register = register_in(tmp_path)
    test = written(tmp_path)
    refused = qualify(test, "--dummy", "KM-W-003")
    assert refused.code == 2
    assert "--dummy and --date belong to --keep" in refused.err
    assert (
        qualify(test, "--keep", register.path, "--dummy", "KM-W-003", "--date", "2025-04-01", "--json").code
        == 0
    )
    (one,) = kept_qualifications(register)
    assert (one.dummy, one.date.isoformat()) == ("KM-W-003", "2025-04-01")


def test_an_unknown_dummy_is_one_sentence(qualify: Run, tmp_path: Path) -> None:
    """Exit code 2, and the dummies that there are."""
    register = register_in(tmp_path)
    outcome = qualify(written(tmp_path), "--keep", register.path, "--dummy", "KM-X")
    assert outcome.code == 2
    assert "there is no dummy 'KM-X'; the register has 'KM-W-002', 'KM-W-003'" in outcome.err
    assert outcome.out == ""


def test_headers_are_compared_with_the_register_that_is_named(correlate: Run, tmp_path: Path) -> None:
    """A sensor that was overdue is an error, as JSON and on the page, and can be waived."""
    register = register_in(tmp_path)
    test = written(tmp_path / "lab", day="2026-01-21", Transducer_ID="AC-101")
    page = tmp_path / "check.html"
    outcome = correlate("check", test, "--register", register.path, "--json", "--html", page)
    assert outcome.code == 1
    kinds = {one["kind"]: one for one in json.loads(outcome.out)["findings"]}
    assert "a calibration until 2026-01-20" in kinds["sensor overdue"]["what"]
    assert "sensor overdue" in page.read_text(encoding="utf-8")
    waivers = tmp_path / "waivers.toml"
    waivers.write_text(
        f'waivers = [{{test = "P1", channel = "{PELVIS}", finding = "sensor overdue", who = "lab", '
        'date = 2026-02-02, why = "unchanged when calibrated"}]\n',
        encoding="utf-8",
    )
    assert correlate("check", test, "--register", register.path, "--waivers", waivers).code == 0


def test_the_register_of_the_project_is_found(correlate: Run, tmp_path: Path) -> None:
    """It lies beside the campaign file; without one, headers are compared with nothing."""
    test = written(tmp_path / "lab", Transducer_ID="AC-999")
    assert "sensor" not in correlate("check", test).out
    (tmp_path / "campaign.toml").write_text("", encoding="utf-8")
    register_in(tmp_path)
    assert "'AC-999' is not in laboratory.toml" in " ".join(correlate("check", test).out.split())
    register_in(tmp_path, REGISTER.replace("AC-101", "AC-999"))
    assert "sensor unknown" not in correlate("check", test).out


def test_a_page_shows_what_the_whole_test_lacks(correlate: Run, tmp_path: Path) -> None:
    """Without a picture, for no channel is meant."""
    page = tmp_path / "check.html"
    outcome = correlate(
        "check", written(tmp_path / "lab"), "--register", register_in(tmp_path).path, "--html", page
    )
    assert outcome.code == 0
    assert "name no sensor" in page.read_text(encoding="utf-8")
