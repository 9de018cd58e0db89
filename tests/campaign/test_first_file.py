"""A first campaign file from the data in a folder."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from correlate import load_campaign
from correlate.campaign import score_campaign
from correlate.campaign.channel_words import meaning
from correlate.campaign.first_file import FirstCampaign, Told
from correlate.campaign.first_text import campaign_text, code_of, merged, pattern_of
from correlate.errors import FormatError, SettingsError
from tests.campaign.conftest import half_sine, write_columns

if TYPE_CHECKING:
    from pathlib import Path

    from correlate import Campaign


def noisy(curve: Any, seed: int) -> Any:
    """Return a curve as a recorder stores it."""
    return curve + 0.01 * np.abs(curve).max() * np.random.default_rng(seed).standard_normal(curve.size)


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """Write two repeats with channel codes and one result, and no campaign file."""
    for number in (1, 2):
        write_columns(
            tmp_path / "lab" / "push" / f"R{number}.csv",
            {
                "D0FEMRLE00KMFOZP [kN]": noisy(-half_sine(5, 4.0), number),
                "D0HEAD0000KMACXP [g]": noisy(half_sine(6, 20.0), 10 + number),
            },
        )
    write_columns(
        tmp_path / "runs" / "B1" / "push.csv",
        {"femur force z [N]": half_sine(5, 3900.0), "head x [mm/ms^2]": half_sine(6, 0.19)},
    )
    (tmp_path / "notes.txt").write_text("no data\n", encoding="utf-8")
    return tmp_path


def started(folder: Path, told: Told | None = None) -> tuple[Campaign, str]:
    """Write the file and read it again."""
    text = campaign_text(FirstCampaign(folder, told or Told()))
    (folder / "campaign.toml").write_text(text, encoding="utf-8")
    return load_campaign(folder), text


def test_the_first_file_loads_and_rates_every_pair(data: Path) -> None:
    """Load case, repeats, channels with region and class, release, partners and signs."""
    campaign, text = started(data)
    (case,) = campaign.load_cases
    assert case.name == "push"
    assert [path.name for path in campaign.test_paths(case)] == ["R1.csv", "R2.csv"]
    femur = case.plan("D0FEMRLE00KMFOZP")
    assert (femur.region, femur.cfc, femur.model, femur.model_sign) == ("leg", 600, "femur force z", -1)
    assert [release.folder for release in campaign.releases] == ["runs/B1"]
    scores = score_campaign(campaign, workers=1)
    assert scores.unrated == []
    assert min(record.overall for record in scores.records) > 0.9
    assert 'include = ["ready-made/usual"]' in text


def test_the_interval_ends_with_the_energy_and_says_so(data: Path) -> None:
    """The half-sines end at 36 ms, 98 % of their energy is in at 32 ms; the record goes on."""
    campaign, text = started(data)
    assert campaign.load_cases[0].interval_ms == (0.0, 40.0)
    assert "# check: 98 % of the energy and a quarter longer" in text


def test_the_interval_is_what_all_channels_cover_when_in_doubt(data: Path) -> None:
    """From 2 ms, where a repeat begins, to 30 ms, where the result ends before the event does."""
    late, short = data / "lab" / "push" / "R2.csv", data / "runs" / "B1" / "push.csv"
    head, *rows = late.read_text(encoding="utf-8").splitlines()
    late.write_text("\n".join([head, *rows[120:]]) + "\n", encoding="utf-8")
    rows = short.read_text(encoding="utf-8").splitlines()
    short.write_text("\n".join(rows[:402]) + "\n", encoding="utf-8")
    campaign, text = started(data)
    assert campaign.load_cases[0].interval_ms == (2.0, 30.0)
    assert "# check: the whole common time span" in text


def test_a_partner_that_is_not_sure_is_a_comment_and_one_that_is_missing_too(data: Path) -> None:
    """Two results that nothing tells apart, and a test channel that no result measures."""
    model = data / "runs" / "B1" / "push.csv"
    write_columns(
        model,
        {
            "femur force z a [N]": half_sine(5, 3900.0),
            "femur force z b [N]": half_sine(5, 3900.0),
        },
    )
    with pytest.raises(
        FormatError, match="no channel of the results is similar enough to a channel of the tests"
    ):
        campaign_text(FirstCampaign(data, Told()))
    write_columns(
        model,
        {
            "femur force z a [N]": half_sine(5, 3900.0),
            "femur force z b [N]": half_sine(5, 3900.0),
            "head x [g]": half_sine(6, 19.0),
        },
    )
    campaign, text = started(data)
    assert [plan.test for plan in campaign.load_cases[0].channel] == ["D0HEAD0000KMACXP"]
    assert '# {test = "D0FEMRLE00KMFOZP", model = "femur force z' in text
    assert ": remove the # to accept" in text


def test_two_releases_in_one_folder_are_told_by_their_names(data: Path) -> None:
    """The name of the release stands for itself in the name of the file."""
    first = data / "runs" / "B1" / "push.csv"
    for release in ("A1", "A2"):
        (data / "runs" / f"push_{release}.csv").write_bytes(first.read_bytes())
    first.unlink()
    campaign, text = started(data)
    assert [release.name for release in campaign.releases] == ["A1", "A2"]
    assert 'model_file = "{load_case}_{release}.csv"' in text
    assert score_campaign(campaign, workers=1).unrated == []


def test_channels_without_codes_get_region_and_class_by_their_words(data: Path) -> None:
    """As the ready-made book gives them to codes."""
    for path in (data / "lab" / "push").iterdir():
        text = path.read_text(encoding="utf-8")
        path.write_text(
            text.replace("D0FEMRLE00KMFOZP", "left femur force z").replace("D0HEAD0000KMACXP", "head acc x"),
            encoding="utf-8",
        )
    campaign, text = started(data)
    plans = {plan.test: plan for plan in campaign.load_cases[0].channel}
    assert (plans["left femur force z"].region, plans["left femur force z"].cfc) == ("leg", 600)
    assert (plans["head acc x"].region, plans["head acc x"].cfc) == ("head", 1000)
    assert "include" not in text


def test_what_was_told_is_used(data: Path) -> None:
    """Patterns of tests and results, and the name of a load case."""
    told = Told(tests="lab/push/R1.csv", results="runs/**/*.csv", load_cases={"kick": "lab/push/*"})
    campaign, _ = started(data, told)
    assert [case.name for case in campaign.load_cases] == ["kick"]
    assert len(campaign.test_paths(campaign.load_cases[0])) == 1
    with pytest.raises(SettingsError, match=r"'x/\*' matches no file that can be read"):
        FirstCampaign(data, Told(load_cases={"kick": "x/*"}))


def test_a_folder_without_tests_or_results_is_refused(tmp_path: Path) -> None:
    """An empty folder, and one with tests alone, are distinguished; what cannot be read is named."""
    with pytest.raises(FormatError, match="no test was found"):
        FirstCampaign(tmp_path, Told())
    (tmp_path / "notes.txt").write_text("no data\n", encoding="utf-8")
    with pytest.raises(FormatError, match=r"'notes\.txt' could not be read"):
        FirstCampaign(tmp_path, Told())
    write_columns(tmp_path / "push" / "R1.csv", {"D0HEAD0000KMACXP [g]": noisy(half_sine(6, 20.0), 1)})
    with pytest.raises(FormatError, match="no model result was found"):
        FirstCampaign(tmp_path, Told())


def test_patterns_fit_the_names_they_are_made_of(data: Path) -> None:
    """The part that differs is free, in each folder."""
    assert merged("a_1.csv", "a_2.csv", "a_13.csv") == "a_*.csv"
    assert merged("a", "a") == "a"
    first = FirstCampaign(data, Told())
    assert pattern_of(first.tests) == "lab/push/R*.csv"
    assert set(data.glob(pattern_of(first.tests))) == {one.path for one in first.tests}


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ("upper neck moment y", "??NECK??????MOY?"),
        ("sternum displacement x", "??CHST??????DSX?"),
        ("head res acc", "??HEAD??????ACR?"),
        ("gauge 7", "??????????????0?"),
    ],
)
def test_words_are_written_as_a_code(words: str, code: str) -> None:
    """Place, quantity and axis in their positions."""
    assert code_of(meaning(words)) == code
    assert len(code) == 16


def test_an_unfinished_run_is_named_and_decides_nothing(data: Path) -> None:
    """It shortens no interval, it is not rated, and the layout names the mark that it lacks."""
    (data / "runs" / "B1" / "push.csv").unlink()
    for release, rows in (("B1", 610), ("B2", 200)):
        times = np.arange(rows) * 0.1
        force, head = (peak * np.sin(np.pi * np.clip((times - 6) / 30, 0, 1)) for peak in (-3.9, 0.19))
        lines = ["written by a solver", "time  femur_force_z  head_ax"]
        lines += [f"{t:.4e} {f:.6e} {a:.6e}" for t, f, a in zip(times, force, head, strict=True)]
        lines += ["normal end"] if release == "B1" else []
        file = data / "runs" / release / "push.out"
        file.parent.mkdir(exist_ok=True)
        file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    first = FirstCampaign(data, Told())
    assert any("not finished, so not rated: runs/B2/push.out" in line for line in first.assumptions)
    assert first.parts[0].interval_ms[1] > 30
    assert [table["normal_end"] for table in first.layouts.values()] == [{"text": "normal end"}]


def test_signs_that_contradict_each_other_are_marked(data: Path) -> None:
    """One polarity fits a load case and the other the next, so either may be wrong."""
    for number in (1, 2):
        write_columns(
            data / "lab" / "kick" / f"R{number}.csv",
            {
                "D0FEMRLE00KMFOZP [kN]": noisy(-half_sine(9, 7.0), 20 + number),
                "D0HEAD0000KMACXP [g]": noisy(half_sine(9, 35.0), 30 + number),
            },
        )
    write_columns(
        data / "runs" / "B1" / "kick.csv",
        {"femur force z [N]": half_sine(9, 7100.0), "head x [mm/ms^2]": -half_sine(9, 0.34)},
    )
    first = FirstCampaign(data, Told())
    assert [one.test for one in first.book.values() if not one.sign_agrees] == ["D0HEAD0000KMACXP"]
    assert sum("sign of D0HEAD0000KMACXP" in line for line in first.assumptions) == 1
    assert campaign_text(first).count("# check: the signs of the results contradict each other") == 1


def test_a_release_with_columns_in_another_order_gets_its_own_layout(data: Path) -> None:
    """Read by the layout of the first release, its channels would have the wrong names."""
    (data / "runs" / "B1" / "push.csv").unlink()
    times = np.arange(610) * 0.1
    curves = {
        name: peak * np.sin(np.pi * np.clip((times - start) / 30, 0, 1))
        for name, peak, start in (("femur_force_z", -3.9, 5), ("head_ax", 0.19, 6))
    }
    for release, names in (("B1", list(curves)), ("B2", list(reversed(curves)))):
        columns = [times, *(curves[name] for name in names)]
        rows = [" ".join(f"{value:.6e}" for value in row) for row in zip(*columns, strict=True)]
        file = data / "runs" / release / "push.out"
        file.parent.mkdir(exist_ok=True)
        file.write_text("\n".join([f"time {' '.join(names)}", *rows, ""]), encoding="utf-8")
    text = campaign_text(first := FirstCampaign(data, Told()))
    assert [table["header"] for table in first.layouts.values()] == [
        ["time femur_force_z head_ax"],
        ["time head_ax femur_force_z"],
    ]
    assert 'layout = "push-2"  # check: columns differ from other releases' in text


def test_a_result_that_ends_early_and_a_channel_that_cannot_be_used_are_named(data: Path) -> None:
    """Without a mark of a normal end, a short result shortens the interval of all releases."""
    lines = (data / "runs" / "B1" / "push.csv").read_text(encoding="utf-8").splitlines()
    (data / "runs" / "B2").mkdir()
    short = data / "runs" / "B2" / "push.csv"
    short.write_text("\n".join([*lines[: len(lines) // 2], ""]), encoding="utf-8")
    test = data / "lab" / "push" / "R2.csv"
    test.write_text(test.read_text(encoding="utf-8").replace("[g]", "[furlong]"), encoding="utf-8")
    said = FirstCampaign(data, Told()).assumptions
    assert sum("interval of push: runs/B2/push.csv ends at" in line for line in said) == 1
    assert sum("cannot be used: D0HEAD0000KMACXP of lab/push/R2.csv" in line for line in said) == 1
