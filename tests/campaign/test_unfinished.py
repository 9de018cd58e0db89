"""Runs that are not finished: named and not rated, rated up to their last time when asked, watched."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from correlate.campaign import block, load_campaign, score_campaign
from correlate.campaign.unfinished import score_so_far, watched
from correlate.evaluation.case import CaseEvaluation
from correlate.metrics import iso18571 as metrics
from tests.campaign.conftest import CAMPAIGN, half_sine
from tests.cli.conftest import correlate  # noqa: F401 - a fixture

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from tests.cli.conftest import Outcome

LAYOUT = """
units = "mm-ms-kg"
time = "t"
normal_end = {text = "all done"}
columns = [
  {name = "t", quantity = "time"},
  {name = "probe force", quantity = "force"},
  {name = "compression", quantity = "length"},
]
"""


def rows_until(end_ms: float) -> str:
    """Return the model's output up to a time."""
    time = np.arange(-100, 601) * 0.1
    columns = zip(time, -half_sine(6.0, 3.9), half_sine(8.0, 55.0), strict=True)
    return "".join(
        f"{t:.1f} {force:.9g} {travel:.9g}\n" for t, force, travel in columns if t <= end_ms + 1e-9
    )


@pytest.fixture
def running(project: Path) -> Path:
    """Write a project whose solver stands at 39 ms of 50 ms; return its folder."""
    text = CAMPAIGN.replace('name = "push"', 'name = "push"\nlayout = "solver"\nmodel_file = "push.out"')
    (project / "campaign.toml").write_text(text, encoding="utf-8")
    (project / "layouts").mkdir()
    (project / "layouts" / "solver.toml").write_text(LAYOUT, encoding="utf-8")
    (project / "model" / "push.out").write_text(rows_until(39.0), encoding="utf-8")
    return project


def test_an_unfinished_result_is_named_and_not_rated(running: Path) -> None:
    """Even when it covers the interval: the mark of a normal end decides."""
    (running / "model" / "push.out").write_text(rows_until(60.0), encoding="utf-8")
    scores = score_campaign(load_campaign(running), workers=1)
    assert scores.records == []
    [reason] = {one.reason for one in scores.unrated}
    assert "push.out: the run is unfinished: 'all done' is not in its last lines; wait" in reason
    (running / "model" / "push.out").write_text(rows_until(60.0) + "all done\n", encoding="utf-8")
    assert len(score_campaign(load_campaign(running), workers=1).records) == 4


def test_a_result_that_grows_while_it_is_rated_is_not_rated(
    project: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without a mark of a normal end, rows that are still being added say that the run goes on."""
    path = project / "model" / "push.csv"
    rated = metrics.rate_checked

    def rate_and_grow(*arguments: Any, **settings: Any) -> Any:
        with path.open("a", encoding="utf-8") as file:
            file.write("60.1,0,0\n")
        return rated(*arguments, **settings)

    monkeypatch.setattr(block, "rate_checked", rate_and_grow)
    scores = score_campaign(load_campaign(project), workers=1)
    assert scores.records == []
    [reason] = {one.reason for one in scores.unrated}
    assert reason.startswith(f"{path}: the file grew while it was being rated; wait until the run ends, ")
    assert [one.rated for one in scores.evidence[0].channels] == [(), ()]
    monkeypatch.undo()
    assert len(score_campaign(load_campaign(project), workers=1).records) == 4


def test_it_is_rated_up_to_its_last_time_when_asked(running: Path) -> None:
    """As the whole run would be up to that time, but for what the filter sees behind it."""
    [found] = score_so_far(load_campaign(running))
    assert found.until_ms == pytest.approx(39.0)
    assert (found.end_ms, found.may_grow) == (50.0, True)
    assert len(found.records) == 4
    assert found.score is not None
    assert found.until_ms is not None
    end_s = found.until_ms / 1e3
    (running / "model" / "push.out").write_text(rows_until(60.0) + "all done\n", encoding="utf-8")
    campaign = load_campaign(running)
    case = CaseEvaluation(
        campaign, campaign.load_cases[0], change=lambda recipe: replace(recipe, end_s=end_s)
    )
    for record in found.records:
        whole = case.pair(campaign.releases[0], record.channel, record.repeat).score().rating.overall
        # The displacement is not filtered, so that nothing of the rest of the run reaches it.
        near = 0.0 if record.channel == "deflection" else 0.01
        assert record.overall == pytest.approx(whole, abs=near)
    [finished] = score_so_far(campaign)
    assert (finished.until_ms, finished.reason, finished.may_grow) == (50.0, "", False)


def test_a_rating_until_a_time_is_kept_nowhere(
    running: Path,
    correlate: Callable[..., Outcome],  # noqa: F811
) -> None:
    """The command says until when, and writes no store; nothing about it reaches the release."""
    before = sorted(running.rglob("*"))
    shown = correlate("score", running, "--unfinished")
    assert shown.code == 0
    assert "until 39 ms of 50 ms" in shown.out
    assert "is not a rating of the release" in " ".join(shown.out.split())
    plain = json.loads(correlate("score", running, "--unfinished", "--json").out)
    assert plain["unfinished"][0]["until_ms"] == pytest.approx(39.0)
    assert sorted(running.rglob("*")) == before


@pytest.mark.parametrize(
    "options",
    [
        ("--unfinished", "--csv", "a.csv"),
        ("--unfinished", "--store", "a.sqlite"),
        ("--watch", "--json"),
        ("--watch", "--unfinished"),
    ],
)
def test_options_that_would_be_passed_over_are_refused(
    running: Path,
    correlate: Callable[..., Outcome],  # noqa: F811
    options: tuple[str, ...],
) -> None:
    """Rather than a file that is not written, or JSON behind a table."""
    refused = correlate("score", running, *options)
    assert refused.code == 2
    assert f"does not go with {options[0]}" in refused.err


@pytest.mark.parametrize("text", ["", "-10.0 0 0\n-9.9 0 0\n"])
def test_a_run_that_has_hardly_begun_has_nothing_to_rate(running: Path, text: str) -> None:
    """No file content, or times before the interval: said, not raised."""
    (running / "model" / "push.out").write_text(text, encoding="utf-8")
    [found] = score_so_far(load_campaign(running))
    assert (found.until_ms, found.score, found.may_grow) == (None, None, True)
    assert found.reason


def test_a_growing_result_is_rated_again_each_time(running: Path) -> None:
    """Cut rows, whole rows, the mark of the end: watching stops by itself when nothing can grow any more."""
    path = running / "model" / "push.out"
    contents: Iterator[str] = iter(
        [rows_until(45.0) + "45.1 -2.", rows_until(60.0), rows_until(60.0) + "all done\n"]
    )

    def grow() -> None:
        path.write_text(next(contents), encoding="utf-8")

    untils = [[one.until_ms for one in found] for found in watched(load_campaign(running), (), grow)]
    assert untils == [[pytest.approx(39.0)], [pytest.approx(45.0)], [50.0], [50.0]]


def test_a_run_that_ended_early_is_not_waited_for(running: Path) -> None:
    """It has the mark of its end, but not the times: that is said, and watching stops."""
    (running / "model" / "push.out").write_text(rows_until(39.0) + "all done\n", encoding="utf-8")
    [[found]] = list(watched(load_campaign(running), (), lambda: pytest.fail("waited")))
    assert found.reason.endswith("the results end at 39 ms, before the end of the interval at 50 ms")
