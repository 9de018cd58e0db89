"""Telling an unstable run, and one that stopped early, by what the campaign reads of its results."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate.errors import SettingsError, SignalError, UnfinishedError
from correlate.tuning.definition import load_tuning
from correlate.tuning.rating import RunRater
from correlate.tuning.runs import RunRecord, UnstableError
from tests.campaign.conftest import CAMPAIGN, half_sine
from tests.campaign.conftest import project as project_on_disk

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    Rate = Callable[[str], dict[str, float]]

project = project_on_disk


TUNING = """
[deck]
way = "table of values"
file = "deck.csv"
[run]
command = ["solver"]
timeout_s = 20
[goal]
train = ["push"]
[[parameter]]
name = "force"
lower = 1000
upper = 5000
start = 3000
"""

FIXED = """
[[layout]]
name = "probe"
files = ["*.csv"]
skip_lines = 3
comment = "#"
time = "t"
units = "mm-ms-kg"
columns = [
  {name = "t", quantity = "time"},
  {name = "probe force", unit = "N"},
  {name = "compression", unit = "m"},
  {name = "energy", unit = "J"},
]
normal_end = {text = "normal end"}
skip_like = ["normal end", "error termination", "cycle *"]
"""


@pytest.fixture
def rate(project: Path) -> Rate:
    """Return a function that rates a text as the results of a run, by a layout of the campaign."""
    folder = project / "runs" / "p001" / "output"
    folder.mkdir(parents=True)
    text = CAMPAIGN.replace('name = "B1"\n', 'name = "B1"\nlayout = "probe"\n') + FIXED
    (project / "campaign.toml").write_text(text, encoding="utf-8")
    (project / "tuning.toml").write_text(f'{TUNING}[rated]\nlayout = "probe"\n', encoding="utf-8")

    def rate(text: str) -> dict[str, float]:
        (folder / "push.csv").write_text(text, encoding="utf-8")
        return RunRater(load_tuning(project))("p001", folder)

    return rate


def results(
    *, until_ms: float = 60.0, change: tuple[int, int, str] | None = None, end: str = "normal end\n"
) -> str:
    """Return a title block and rows of time, force, compression and energy; a cell of a row is changed."""
    lines = ["***** release of the probe *****", "values are NaN or inf where nan is meant", "1 2 3 4"]
    for at, (force, travel) in enumerate(zip(-half_sine(6, 3900), half_sine(8, 0.055), strict=True)):
        time_ms = (at - 100) * 0.1
        if time_ms > until_ms + 1e-9:
            break
        row = [f"{time_ms:.1f}", f"{force:.6g}", f"{travel:.6g}", "1.0"]
        if change is not None and at == change[0]:
            row[change[1]] = change[2]
        lines.append(" ".join(row))
        if at % 200 == 0:
            lines += ["# nan inf *****", f"cycle {at}"]
    return "\n".join(lines) + "\n" + end


def test_stars_and_nan_in_titles_comments_and_skipped_lines_are_no_results(rate: Rate) -> None:
    """Only what the layout reads is judged; here all of it is sound."""
    assert rate(results())["train"] > 0.5


@pytest.mark.parametrize(
    "cell", ["nan", "NaN", "-inf", "Infinity", "1.#QNAN", "-nan(ind)", "********", "1e999"]
)
def test_a_rated_channel_without_a_number_is_unstable(rate: Rate, cell: str) -> None:
    """File, channel and line are named: the line is that of row 150 with the lines above and between."""
    with pytest.raises(UnstableError) as found:
        rate(results(change=(150, 2, cell)))
    place = "load case 'push', channel 'deflection', push.csv, line 156: "
    assert str(found.value).startswith(f"{place}'{cell}' in column 'compression' is not a")


def test_a_time_without_a_number_is_unstable(rate: Rate) -> None:
    """Without its times nothing of a file can be used."""
    with pytest.raises(UnstableError, match=r"load case 'push', push\.csv, line 156: 'nan' in column 't'"):
        rate(results(change=(150, 0, "nan")))


@pytest.mark.parametrize("cell", ["nan", "****"])
def test_a_column_in_no_pair_may_hold_anything(rate: Rate, cell: str) -> None:
    """The rating is that of a run without it."""
    assert rate(results(change=(150, 3, cell))) == rate(results())


def test_a_word_where_a_number_belongs_is_a_fault_of_the_layout(rate: Rate) -> None:
    """Such a run is failed, with the line and the remedy."""
    said = r"push\.csv, line 156: 'over' in column 'energy' is not a number.*layout"
    with pytest.raises(SignalError, match=said):
        rate(results(change=(150, 3, "over")))


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (
            results(until_ms=22.5, end="error termination\n"),
            "results end at 22.5 ms of 50 ms: the run is unfinished",
        ),
        (
            results(until_ms=22.5, end=""),
            "results end at 22.5 ms of 50 ms: the run is unfinished: 'normal end' is not",
        ),
        (results(until_ms=22.5), "channel 'force': the results end at 22.5 ms of 50 ms"),
        (results(until_ms=60, end=""), "results end at 60 ms of 50 ms: the run is unfinished"),
        (results(until_ms=-9.9, end=""), "results end at -9.9 ms of 50 ms: the run is unfinished"),
        (
            results(until_ms=-10, end=""),
            "'normal end' is not in its last lines; there is one row of numbers only",
        ),
        (
            results(until_ms=9, end="stopped at once\n"),
            "line 197: the run is unfinished: 'normal end' is not",
        ),
        (results(until_ms=-9.8), "results end at -9.8 ms of 50 ms"),
        (results()[:9000], "the results end at"),
    ],
)
def test_results_that_stop_early_are_unfinished(rate: Rate, text: str, sentence: str) -> None:
    """The mark of a normal end is missing, or rows are; until which time there are results is said."""
    with pytest.raises(UnfinishedError) as found:
        rate(text)
    assert sentence in str(found.value)


def test_a_run_that_blew_up_before_it_stopped_is_unstable(rate: Rate) -> None:
    """What it wrote last says why it stopped."""
    with pytest.raises(UnstableError, match="'nan' in column 'probe force'"):
        rate(results(until_ms=20, change=(250, 1, "nan"), end=""))


def test_each_refusal_has_its_status() -> None:
    """Unfinished is told apart from unstable and failed."""
    record = RunRecord(identity="p", values={}, deck_sha256="", status="done")
    kinds = (UnstableError, UnfinishedError, SignalError)
    found = [record.refused(kind("why"), by="x").status for kind in kinds]
    assert found == ["unstable", "unfinished", "failed"]


def test_an_objective_that_the_tests_cannot_give_fails_no_run(project: Path) -> None:
    """Two repeats give no ceiling: the loss ratio is refused before any run is rated."""
    (project / "tuning.toml").write_text(
        TUNING.replace("[goal]\n", '[goal]\nobjective = "loss ratio"\n'), encoding="utf-8"
    )
    with pytest.raises(SettingsError, match=r"three repeats.*choose another objective"):
        RunRater(load_tuning(project))
