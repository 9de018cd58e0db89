"""Which tests are repeats, and which result belongs to which release and load case."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate import Signal
from correlate.campaign.grouping import group_all, tokens, without_repeat
from correlate.campaign.scanning import Found
from correlate.formats import Recording

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.campaign.grouping import Grouping


def found(relative: str, *, size: float = 1.0, title: str = "", channels: Sequence[str] = ("a",)) -> Found:
    """Return a recording with curves of one size."""
    pulse = size * np.sin(np.linspace(0, np.pi, 50))
    signals = tuple(
        Signal(samples=pulse, start_s=0.0, step_s=1e-3, unit="g", channel=name) for name in channels
    )
    path = Path("project") / relative
    return Found(path, relative, Recording(signals=signals, path=path, format="none", title=title))


def grouped(
    tests: dict[str, float], results: Sequence[str], given: dict[str, set[Path]] | None = None
) -> Grouping:
    """Group tests of given sizes and results by their names alone."""
    sized = [found(path, size=size) for path, size in tests.items()]
    return group_all(
        sized, [found(path, channels=("m",)) for path in results], given or {}, lambda _, __: 0.0
    )


def placed(grouping: Grouping) -> dict[str, tuple[list[str], dict[str, list[str]]]]:
    """Return the paths by load case."""
    return {
        case.name: (
            [one.relative for one in case.tests],
            {release: [one.relative for one in files] for release, files in case.results.items()},
        )
        for case in grouping.cases
    }


FLAT = {
    "t/push_4.3_R1.txt": 1.0,
    "t/push_4.3_R2.txt": 1.02,
    "t/push_6.7_R1.txt": 2.0,
    "t/push_6.7_R2.txt": 2.1,
}


def test_repeats_are_told_by_file_names() -> None:
    """The number at the end is the repeat; the speed before it stays."""
    found_places = placed(grouped(FLAT, ["A1/push_4.3.csv", "A1/push_6.7.csv"]))
    assert found_places == {
        "push_4.3": (["t/push_4.3_R1.txt", "t/push_4.3_R2.txt"], {"A1": ["A1/push_4.3.csv"]}),
        "push_6.7": (["t/push_6.7_R1.txt", "t/push_6.7_R2.txt"], {"A1": ["A1/push_6.7.csv"]}),
    }


@pytest.mark.parametrize(
    "results",
    [
        ["m/A1/push_4.3.csv", "m/A1/push_6.7.csv", "m/A2/push_4.3.csv", "m/A2/push_6.7.csv"],
        ["m/push_4.3_A1.csv", "m/push_6.7_A1.csv", "m/push_4.3_A2.csv", "m/push_6.7_A2.csv"],
        ["m/A1_push_4.3.csv", "m/A1_push_6.7.csv", "m/A2_push_4.3.csv", "m/A2_push_6.7.csv"],
        ["push4p3/A1/x.csv", "push6p7/A1/x.csv", "push4p3/A2/x.csv", "push6p7/A2/x.csv"],
    ],
)
def test_releases_are_told_by_folders_and_parts_of_names(results: list[str]) -> None:
    """Above or below the load case, at the end or the beginning of a name."""
    grouping = grouped(FLAT, results)
    assert set(grouping.releases) == {"A1", "A2"}
    for case, (first, second) in zip(grouping.cases, [results[0::2], results[1::2]], strict=True):
        assert [files[0].relative for files in case.results.values()] == [first, second]
        assert case.is_sure
    assert grouping.left == ()


def test_several_files_of_a_run_stay_together() -> None:
    """Two files of one folder that other folders have too, with other channels."""
    results = [
        found(f"runs/{release}/{case}/{name}.out", channels=(name,))
        for release in ("A1", "A2")
        for case in ("push_4.3", "push_6.7")
        for name in ("nodes", "forces")
    ]
    tests = [found(path, size=size) for path, size in FLAT.items()]
    grouping = group_all(tests, results, {}, lambda _, __: 0.0)
    assert [len(files) for case in grouping.cases for files in case.results.values()] == [2, 2, 2, 2]


@pytest.mark.parametrize("repeat", ["Versuch 1", "rep_01", "Test-1", "1"])
def test_a_folder_for_each_repeat_belongs_to_the_folder_around_it(repeat: str) -> None:
    """Files that are all called the same; the other load case has other channels."""
    tests = [
        found(f"lab/{case}/{repeat[:-1]}{number}/data.txt", channels=channels)
        for case, channels in (("chest 4,3 m s", ("a",)), ("neck", ("b",)))
        for number in (1, 2)
    ]
    results = [found(f"runs/V1/{case}/th.dat", channels=("m",)) for case in ("chest", "neck")]
    cases = placed(group_all(tests, results, {}, lambda _, __: 0.0))
    assert cases == {
        name: (
            [f"lab/{folder}/{repeat[:-1]}{number}/data.txt" for number in (1, 2)],
            {"V1": [f"runs/V1/{name[:5].rstrip('-')}/th.dat"]},
        )
        for name, folder in (("chest-4-3-m-s", "chest 4,3 m s"), ("neck", "neck"))
    }


def test_titles_tell_load_cases_where_names_do_not() -> None:
    """Numbers in a row, and what the header calls them."""
    tests = [
        found(f"t/T-{number:03d}", size=size, title=f"{words}, repeat {number}")
        for number, (words, size) in enumerate([("drop low", 1.0), ("drop low", 1.0), ("drop high", 3.0)], 11)
    ]
    results = [found(f"A1/{name}.csv", channels=("m",)) for name in ("high", "low")]
    grouping = group_all(tests, results, {}, lambda _, __: 0.0)
    assert [case.name for case in grouping.cases] == ["drop-low", "drop-high"]
    assert [files[0].relative for case in grouping.cases for files in case.results.values()] == [
        "A1/low.csv",
        "A1/high.csv",
    ]


def test_curves_decide_where_names_of_results_say_nothing() -> None:
    """The load case is marked as unsure."""
    tests = [found(path, size=size) for path, size in FLAT.items()]
    results = [found("A1/x.csv", size=2.0, channels=("m",)), found("A1/y.csv", size=1.0, channels=("m",))]

    def likeness(tests: Sequence[Found], files: Sequence[Found]) -> float:
        sizes = [float(one[0].recording.signals[0].samples.max()) for one in (tests, files)]
        return -abs(sizes[0] - sizes[1])

    grouping = group_all(tests, results, {}, likeness)
    assert [case.results["A1"][0].relative for case in grouping.cases] == ["A1/y.csv", "A1/x.csv"]
    assert not any(case.is_sure for case in grouping.cases)


def test_what_somebody_said_comes_first() -> None:
    """A named load case takes its tests and its result, whatever they are called."""
    given = {"mine": {Path("project/t/push_6.7_R1.txt"), Path("project/A1/push_4.3.csv")}}
    grouping = grouped(FLAT, ["A1/push_4.3.csv", "A1/push_6.7.csv"], given)
    assert placed(grouping)["mine"] == (["t/push_6.7_R1.txt"], {"A1": ["A1/push_4.3.csv"]})


@pytest.mark.parametrize(
    ("name", "left"),
    [
        ("thorax_R1", "thorax"),
        ("thorax-rep12", "thorax"),
        ("thorax_test_03", "thorax"),
        ("T-017", ""),
        ("push_4.3", "push_4.3"),
        ("drop, repeat 2", "drop"),
        ("UB0-02", "UB0"),
    ],
)
def test_the_number_of_a_repeat_is_taken_off(name: str, left: str) -> None:
    """However it is written; a speed is no repeat."""
    assert without_repeat(name) == left


def test_numbers_in_names_are_compared_as_numbers() -> None:
    """Zeros before, and p for the point."""
    assert tokens("Run_004p30-x") == ("run", "4.3", "x")
