"""Tests of a package in a campaign: planned in the open, refused with a reason, written whole."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate import (
    PackagePlan,
    RunInfo,
    checked_package,
    gate,
    load_campaign,
    make_package,
    open_store,
    plan_load_case,
    plan_repeats,
    rated_pairs_of,
    receive_package,
    received_package,
    release_package,
    release_scores,
    score_into,
    use_package,
    uses_of_package,
    waive_in_package,
)
from correlate.errors import CorrelateError, FormatError, SettingsError
from tests.reference.folders import CODE, write_pulse
from tests.reference.package.test_received import clipped

if TYPE_CHECKING:
    from pathlib import Path

CAMPAIGN = f"""# ours
[campaign]
title = "drops"

[[load_case]]
name = "drop"
tests = [
  "laboratory/drop/*",  # the first ones
]
interval_ms = [0, 50]

[[load_case.channel]]
test = "{CODE}"
model = "head x"
region = "head"

[[load_case]]
name = "other"
tests = ["laboratory/other/*"]
interval_ms = [0, 50]

[[load_case.channel]]
test = "D0LUSP0000KMFOZP"
model = "lumbar"
region = "spine"

[[release]]
name = "A1"
folder = "model"
"""


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """Return a project with two tests of a load case, and a package of two further ones."""
    folder = tmp_path / "project"
    for number in (1, 2):
        write_pulse(folder / "laboratory/drop", f"T{number}", number)
    shutil.copytree(folder / "laboratory/drop", folder / "laboratory/other")
    (folder / "campaign.toml").write_text(CAMPAIGN, encoding="utf-8")
    (folder / "model").mkdir()
    time = np.arange(600) * 1e-4
    rows = [f"{t * 1e3:.1f},{900 * np.exp(-(((t - 0.021) / 0.006) ** 2)):.3f}" for t in time]
    (folder / "model/drop.csv").write_text(
        "time [ms],head x [m/s^2]\n" + "\n".join(rows) + "\n", encoding="utf-8"
    )
    send(tmp_path, [write_pulse(tmp_path / "lab", f"T{number}", number) for number in (3, 4)])
    return folder


def send(outbox: Path, tests: list[Path], name: str = "more") -> None:
    """Receive a package of some tests in the project."""
    plan = PackagePlan(tests=tests, checked_by="lab", despite="for this test")
    make_package(plan, outbox / f"{name}.zip")
    receive_package(outbox / "project", outbox / f"{name}.zip")


def test_a_package_becomes_repeats_of_a_load_case(project: Path) -> None:
    """The plan names tests and lines and writes nothing; used, both tests are repeats and comments stay."""
    path = project / "campaign.toml"
    use = plan_repeats(path, "more", load_case="drop")
    assert path.read_text(encoding="utf-8") == CAMPAIGN
    assert (use.tests, use.is_new, use.missing) == (("T3", "T4"), False, {})
    assert use.lines == ('+  "received/more/data/tests/drop/*",',)
    campaign = use_package(use)
    assert list(campaign.tests(campaign.load_case("drop"))) == ["T1", "T2", "T3", "T4"]
    assert "# the first ones" in path.read_text(encoding="utf-8")
    assert uses_of_package(campaign, received_package(project, "more")) == {"drop": ("T3", "T4")}


def test_a_package_becomes_a_load_case(project: Path) -> None:
    """The new load case rates what all tests have, as is usual for the code; the file can be changed on."""
    use = plan_load_case(
        project / "campaign.toml", "more", name="more-drops", title="More drops", interval_ms=(0.0, 40.0)
    )
    assert (use.is_new, use.channels) == (True, (CODE,))
    assert "+interval_ms = [0, 40]" in use.lines
    case = use_package(use).load_case("more-drops")
    assert (case.title, case.interval_ms, case.tests) == (
        "More drops",
        (0, 40),
        ["received/more/data/tests/drop/*"],
    )
    (plan,) = case.channel
    assert (plan.test, plan.region, plan.cfc, plan.model) == (CODE, "head", 1000, "")
    use_package(plan_repeats(project / "campaign.toml", "more", load_case="drop"))


def test_a_channel_of_the_book_is_taken_from_there(project: Path) -> None:
    """The partner that the channel book names for all load cases holds in the new one too."""
    path = project / "campaign.toml"
    rows = [
        f'  {{ test = "{CODE}", model = "from the book", region = "head" }},',
        '  { test = "D0LUSP0000KMFOZP", model = "of other tests", region = "spine" },',
    ]
    book = "\n".join(["channel = [", *rows, "]", "", ""])
    plain = CAMPAIGN.replace(
        f'[[load_case.channel]]\ntest = "{CODE}"\nmodel = "head x"\nregion = "head"\n',
        f'channels = ["{CODE}"]\n',
    )
    path.write_text(book + plain, encoding="utf-8")
    campaign = use_package(plan_load_case(path, "more", name="new", interval_ms=(0, 40)))
    (plan,) = campaign.load_case("new").channel
    assert (plan.test, plan.model) == (CODE, "from the book")


def test_a_package_in_quarantine_is_not_used(project: Path, tmp_path: Path) -> None:
    """The sentence says what to do first."""
    send(tmp_path, [clipped(tmp_path / "lab")], "clipped")
    with pytest.raises(SettingsError, match="in quarantine cannot be used; release it from quarantine first"):
        plan_repeats(project / "campaign.toml", "clipped", load_case="drop")


def test_a_package_that_changed_is_not_used(project: Path) -> None:
    """Every byte is compared again before its tests count."""
    (file,) = project.glob("received/more/data/tests/drop/T3/Channel/T3.001")
    file.write_bytes(file.read_bytes()[:-2] + b"9\n")
    with pytest.raises(FormatError, match=r"T3\.001"):
        plan_repeats(project / "campaign.toml", "more", load_case="drop")


def test_no_test_counts_twice(project: Path, tmp_path: Path) -> None:
    """A test of a known name, or of known data under another name, is refused by name."""
    send(tmp_path, [write_pulse(tmp_path / "a", "T2", 7)], "same-name")
    shutil.rmtree(tmp_path / "a")
    send(tmp_path, [write_pulse(tmp_path / "a", "T8", 2)], "same-data")
    path = project / "campaign.toml"
    with pytest.raises(SettingsError, match="load case 'drop': the load case has a test 'T2' already"):
        plan_repeats(path, "same-name", load_case="drop")
    with pytest.raises(SettingsError, match="the test 'T8' has the same data as 'T2'"):
        plan_repeats(path, "same-data", load_case="drop")
    use_package(plan_repeats(path, "more", load_case="drop"))
    with pytest.raises(SettingsError, match="a test 'T3' already"):
        plan_repeats(path, "more", load_case="drop")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"name": "drop"}, "there is a load case 'drop' already"),
        ({"name": "../up"}, "'../up' is not a valid name of a load case"),
        ({"package": "nothing"}, "there is no package 'nothing'"),
        ({"source": "side"}, "it has no tests 'side'; choose one of: drop"),
        ({"interval_ms": (40.0, 0.0)}, r"campaign\.toml: with the change, "),
    ],
)
def test_what_makes_no_load_case_is_refused(project: Path, change: dict[str, object], words: str) -> None:
    """A taken or odd name, no package, an interval that ends before it begins: said, and the file stays."""
    told = {"package": "more", "name": "new", "interval_ms": (0.0, 40.0)} | change
    with pytest.raises(CorrelateError, match=words):
        plan_load_case(project / "campaign.toml", str(told.pop("package")), **told)  # type: ignore[arg-type]
    assert (project / "campaign.toml").read_text(encoding="utf-8") == CAMPAIGN


def test_tests_without_a_channel_of_the_load_case_are_refused(project: Path) -> None:
    """A package for another load case cannot be added by mistake."""
    for number in (1, 2):
        shutil.rmtree(project / f"laboratory/other/T{number}")
    write_pulse(project / "laboratory/other", "S1", 11)
    with pytest.raises(SettingsError, match="no channel of load case 'other' is in a test"):
        plan_repeats(project / "campaign.toml", "more", load_case="other")


def test_a_waiver_never_covers_a_test_of_another_package(project: Path, tmp_path: Path) -> None:
    """Findings are waived by the name of their test; one that the campaign has elsewhere is refused."""
    send(tmp_path, [clipped(tmp_path / "lab", "T2")], "same-name")
    send(tmp_path, [clipped(tmp_path / "lab", "T9")], "own-name")
    campaign = load_campaign(project)
    for name in ("same-name", "own-name"):
        package = received_package(project, name)
        findings = checked_package(project, package).findings
        if name == "same-name":
            with pytest.raises(SettingsError, match="a waiver for 'T2' would cover another test"):
                waive_in_package(campaign, package, findings, who="lab", why="known")
            assert not (project / "waivers.toml").exists()
        else:
            book = waive_in_package(campaign, package, findings, who="lab", why="known")
            assert {one.test for one in book.waivers} == {"T9"}


def test_a_file_that_changed_meanwhile_is_not_overwritten(project: Path) -> None:
    """Somebody else's line stays; the person looks again."""
    path = project / "campaign.toml"
    use = plan_repeats(path, "more", load_case="drop")
    path.write_text(CAMPAIGN + "# theirs\n", encoding="utf-8")
    with pytest.raises(SettingsError, match="has changed in the meantime; show the change again"):
        use_package(use)
    assert path.read_text(encoding="utf-8") == CAMPAIGN + "# theirs\n"


def test_the_evidence_of_a_release_names_who_released_its_tests(project: Path, tmp_path: Path) -> None:
    """The gate fails for the open error and names the release; so does the evidence behind every number."""
    send(tmp_path, [clipped(tmp_path / "lab")], "clipped")
    release_package(project, "clipped", who="the lab", why="the peak is not used")
    use_package(plan_repeats(project / "campaign.toml", "clipped", load_case="drop"))
    campaign = load_campaign(project)
    with open_store(project / "ratings.sqlite") as store:
        found = score_into(store, campaign, run=RunInfo.now(), workers=1)
    evidence = found.evidence["A1"]
    (released,) = evidence.released
    assert released.words.startswith(
        "drop: T9 of package clipped, released from quarantine despite 1 open error"
    )
    assert evidence.as_plain()["released"][0]["record"]["why"] == "the peak is not used"
    assert [gap.repeat for gap in evidence.of("data error", ["drop"])] == ["T9"]
    checked = gate(release_scores(campaign, found.scores.records)["A1"], evidence=[evidence])
    (data,) = [one for one in checked if one.name == "reference data: no open error"]
    assert not data.is_passed
    assert "by the lab on" in data.waived


def test_the_ratings_that_become_stale_are_counted(project: Path) -> None:
    """Two rated pairs of the load case are in the store; a load case without ratings has none."""
    campaign = load_campaign(project)
    with open_store(project / "ratings.sqlite") as store:
        score_into(store, campaign, run=RunInfo.now(), workers=1)
        assert rated_pairs_of(store, campaign, "drop") == {"A1": 2}
        assert rated_pairs_of(store, campaign, "other") == {}
