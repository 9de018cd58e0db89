"""Several releases compared, and ratings and curves written as tables."""

from __future__ import annotations

import csv
import json
import tracemalloc
from typing import TYPE_CHECKING, Any

import pytest

from correlate import conditioned_curves, load_campaign, score_campaign
from correlate.errors import SettingsError
from correlate.report import export
from correlate.report.export import write_curves, write_rows
from tests.campaign.conftest import half_sine, write_columns
from tests.campaign.conftest import project as project_on_disk

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]

project = project_on_disk


def add_releases(project: Path, heights: list[float]) -> Path:
    """Add releases B2, B3 … whose force has these heights."""
    file = project / "campaign.toml"
    for number, height in enumerate(heights, start=2):
        write_columns(
            project / f"model-{number}" / "push.csv",
            {"probe force [N]": -half_sine(6.0, height), "compression [m]": half_sine(8.0, 0.055)},
        )
        text = f'\n[[release]]\nname = "B{number}"\nfolder = "model-{number}"\n'
        file.write_text(file.read_text(encoding="utf-8") + text, encoding="utf-8")
    return project


@pytest.fixture
def three(project: Path) -> Path:
    """Add two releases: the last one is far worse."""
    return add_releases(project, [4000.0, 2000.0])


def read_csv(path: Path) -> list[dict[str, str]]:
    """Return the rows of a table."""
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_all_releases_are_compared_when_none_is_named(correlate: Run, three: Path) -> None:
    """One column a release, the best and the last change of each number, within 80 columns."""
    done = correlate("compare", three, "--workers", 1)
    assert done.code == 0, done.err
    heading, *lines = done.out.splitlines()
    assert heading.split() == ["B1", "B2", "B3", "best", "last", "change"]
    assert max(map(len, done.out.splitlines())) <= 80
    force = next(line for line in lines if line.startswith("  force"))
    assert force.split()[-1] == "worse"
    assert "all load cases" in lines[0]
    assert "Last change: B3 against B2, repeat by repeat." in done.out


def test_many_releases_wrap_into_blocks(correlate: Run, project: Path) -> None:
    """Ten releases need two headings; each stands in one of them, and the last block has the change."""
    add_releases(project, [3000.0 + 100 * number for number in range(9)])
    done = correlate("compare", project, "--workers", 1)
    headings = [line.split() for line in done.out.splitlines() if line.lstrip().startswith("B")]
    names = [word for line in headings for word in line if word.startswith("B")]
    assert names == [f"B{number}" for number in range(1, 11)]
    assert len(headings) > 1
    assert headings[-1][-3:] == ["best", "last", "change"]
    assert max(map(len, done.out.splitlines())) <= 80


def test_named_releases_stand_in_the_order_given(correlate: Run, three: Path) -> None:
    """The last change is of the last two that were named."""
    done = correlate("compare", three, "B3", "B1", "B2", "--workers", 1, "--json")
    found = json.loads(done.out)
    assert found["releases"] == ["B3", "B1", "B2"]
    force = next(one for one in found["lines"] if one["words"] == "force")
    assert force["last_change"] == pytest.approx(force["B2"] - force["B1"])
    assert force["best"] == "B2"


def test_stale_and_missing_ratings_are_marked(correlate: Run, three: Path) -> None:
    """A release without its result has no numbers, and the mark says which release and why."""
    (three / "model-2" / "push.csv").unlink()
    done = correlate("compare", three, "--workers", 1)
    force = next(line for line in done.out.splitlines() if line.startswith("  force"))
    assert "–*" in force
    assert "* B2: not rated." in done.out
    write_columns(three / "model-2" / "push.csv", {"probe force [N]": -half_sine(6.0, 4000.0)})
    done = correlate("compare", three, "--workers", 1)
    assert "* B2: 1 channel not rated." in done.out


def test_top_leaves_out_the_smallest_changes_and_says_how_many(correlate: Run, three: Path) -> None:
    """Of each load case the channels that changed most remain."""
    done = correlate("compare", three, "--workers", 1, "--top", 1)
    assert "  force" in done.out
    assert "sternum" not in done.out
    assert "1 further channel not shown" in " ".join(done.out.split())


@pytest.mark.parametrize("names", [["B1", "B2"], ["B3", "B1", "B2"]], ids=["two", "three"])
def test_top_does_not_leave_out_what_the_last_release_lacks(
    correlate: Run, three: Path, names: list[str]
) -> None:
    """A channel without a rating is no small change: it stands before the changes."""
    write_columns(three / "model-2" / "push.csv", {"probe force [N]": -half_sine(6.0, 3000.0)})
    done = correlate("compare", three, *names, "--workers", 1, "--top", 1)
    assert "sternum" in done.out
    assert "not shown" in done.out.lower()


def test_what_cannot_be_compared_is_not_called_a_smaller_change(correlate: Run, three: Path) -> None:
    """Where it is cut off after all, the line below the table says so."""
    (three / "model-2" / "push.csv").unlink()
    done = correlate("compare", three, "B1", "B2", "--workers", 1, "--top", 1)
    assert "1 number that cannot be compared; --top shows more." in " ".join(done.out.split())


def test_an_export_says_how_many_pairs_are_not_in_it(correlate: Run, three: Path, tmp_path: Path) -> None:
    """A table without the unrated pairs does not look complete."""
    write_columns(three / "model-2" / "push.csv", {"probe force [N]": -half_sine(6.0, 3000.0)})
    done = correlate("export", three, "--ratings", tmp_path / "r.csv", "--release", "B2", "--workers", 1)
    assert done.code == 0, done.err
    assert "2 rated pairs" in done.out
    assert "2 pairs not rated; 'correlate score' lists the reasons" in done.err


def test_one_release_has_nothing_to_be_compared_with(correlate: Run, project: Path) -> None:
    """One sentence, exit code 2, before anything is rated."""
    done = correlate("compare", project)
    assert done.code == 2
    assert done.err.endswith("there is nothing to compare release 'B1' with; name two or more releases\n")
    assert not (project / "ratings.sqlite").exists()


def test_a_comparison_is_written_as_csv(correlate: Run, three: Path, tmp_path: Path) -> None:
    """The file has the rows of the table, for two releases as for three."""
    file = tmp_path / "changes.csv"
    for names in (["B1", "B3"], ["B1", "B2", "B3"]):
        assert correlate("compare", three, *names, "--workers", 1, "--csv", file).code == 0
        rows = read_csv(file)
        assert [name for name in rows[0] if name.startswith("B")] == names
        force = next(one for one in rows if one["words"] == "force")
        assert float(force["last_change"]) == pytest.approx(float(force["B3"]) - float(force[names[-2]]))


def test_ratings_are_exported_with_hashes_flags_and_settings(
    correlate: Run, three: Path, tmp_path: Path
) -> None:
    """One row a pair: what `score --csv` writes, so that each rating can be reproduced from its row."""
    exported, scored = tmp_path / "ratings.csv", tmp_path / "scored.csv"
    done = correlate("export", three, "--ratings", exported, "--release", "B1", "--workers", 1)
    assert done.code == 0, done.err
    assert "4 rated pairs" in done.out
    rows = read_csv(exported)
    assert len(rows) == 4
    assert {row["conditioning.cfc"] for row in rows if row["channel"] == "force"} == {"180"}
    assert all(len(row["test.sha256"]) == len(row["model.sha256"]) == len(row["key"]) == 64 for row in rows)
    assert {row["stale"] for row in rows} == {"False"}
    assert any(name.startswith("rating.") for name in rows[0])
    assert "flags" in rows[0]
    assert json.loads(rows[0]["model.history"])
    correlate("score", three, "--release", "B1", "--csv", scored)
    assert scored.read_text(encoding="utf-8") == exported.read_text(encoding="utf-8")


def test_curves_are_exported_as_a_long_table(correlate: Run, three: Path, tmp_path: Path) -> None:
    """Every sample of test and model; a pair without curves is named, and does not look like one with."""
    (three / "model-2" / "push.csv").unlink()
    file = tmp_path / "curves.csv"
    done = correlate("export", three, "--curves", file, "--release", "B2", "--release", "B1")
    assert done.code == 0, done.err
    assert "the curves of 4 pairs" in done.out
    assert done.err.count("without curves: B2 push") == 4
    rows = read_csv(file)
    assert list(rows[0]) == ["release", "load_case", "channel", "repeat", "side", "time_s", "value", "unit"]
    assert {row["release"] for row in rows} == {"B1"}
    assert {row["side"] for row in rows} == {"test", "model"}
    assert len(rows) == 4 * 2 * 501  # 0 to 50 ms at 0.1 ms


def test_an_export_of_nothing_is_no_success(correlate: Run, three: Path, tmp_path: Path) -> None:
    """Nothing rated is a sentence and no file; no curves is exit code 1 with the reasons."""
    (three / "model-2" / "push.csv").unlink()
    file = tmp_path / "nothing.csv"
    refused = correlate("export", three, "--ratings", file, "--release", "B2", "--workers", 1)
    assert refused.code == 2
    assert "none of these pairs is rated; 'correlate score' lists the reasons" in refused.err
    assert not file.exists()
    empty = correlate("export", three, "--curves", file, "--release", "B2")
    assert empty.code == 1
    assert empty.err.count("without curves: B2 push") == 4
    assert file.read_text(encoding="utf-8").startswith("release,load_case,channel,repeat,side,time_s,")


def test_a_table_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    """When the curves end halfway, the earlier file stays and nothing lies beside it."""
    file = tmp_path / "curves.csv"
    file.write_text("earlier", encoding="utf-8")

    def broken() -> Any:
        yield from ()
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_curves(file, broken())
    assert file.read_text(encoding="utf-8") == "earlier"
    assert list(tmp_path.iterdir()) == [file]


def test_another_kind_of_file_is_refused(correlate: Run, project: Path) -> None:
    """The ending says what is written."""
    done = correlate("export", project, "--curves", project / "curves.xlsx")
    assert done.code == 2
    assert "a table is written as .csv or .parquet; end the name with one of them" in done.err
    assert correlate("export", project).code == 2


def test_memory_does_not_grow_with_the_curves(tmp_path: Path, project: Path) -> None:
    """A hundred times the pairs need no more memory while they are written."""
    curves = list(conditioned_curves(load_campaign(project)))
    peaks = []
    for times in (1, 50):
        tracemalloc.start()
        write_curves(tmp_path / "curves.csv", (one for _ in range(times) for one in curves))
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < 1.5 * peaks[0]


def test_parquet_holds_what_csv_holds(correlate: Run, three: Path, tmp_path: Path) -> None:
    """Ratings, comparison and curves, read back with their types; numbers keep every bit."""
    parquet = pytest.importorskip("pyarrow.parquet")
    campaign = load_campaign(three)
    ratings, changes, curves = (tmp_path / f"{name}.parquet" for name in ("ratings", "changes", "curves"))
    assert correlate("export", three, "--ratings", ratings, "--curves", curves, "--workers", 1).code == 0
    assert correlate("compare", three, "--parquet", changes).code == 0
    found = parquet.read_table(ratings).to_pylist()
    assert [row["overall"] for row in found] == [
        one.overall for one in score_campaign(campaign, workers=1).records
    ]
    assert [row["conditioning.cfc"] for row in found][:3] == [180, 180, None]
    assert correlate("export", three, "--curves", tmp_path / "curves.csv").code == 0
    table = parquet.read_table(curves)
    rows = read_csv(tmp_path / "curves.csv")
    assert table.num_rows == len(rows)
    assert table["value"].to_pylist() == [float(row["value"]) for row in rows]
    assert table["side"].to_pylist() == [row["side"] for row in rows]
    assert parquet.read_table(changes)["B3"].to_pylist()[0] < 1


def test_parquet_files_are_written_in_groups(
    tmp_path: Path, project: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Rows leave memory when a group is full; the groups together are the table."""
    parquet = pytest.importorskip("pyarrow.parquet")

    monkeypatch.setattr("correlate.report.export.LARGEST_GROUP", 1500)
    file = tmp_path / "curves.parquet"
    write_curves(file, conditioned_curves(load_campaign(project)))
    assert parquet.ParquetFile(file).num_row_groups == 2
    assert parquet.read_table(file).num_rows == 4 * 2 * 501


def test_a_parquet_file_without_curves_or_with_some_at_its_end(tmp_path: Path, project: Path) -> None:
    """A pair without curves decides no type of a column, and a file of none of them can be read."""
    parquet = pytest.importorskip("pyarrow.parquet")
    file = tmp_path / "curves.parquet"
    good = list(conditioned_curves(load_campaign(project)))
    (project / "model" / "push.csv").unlink()
    bad = list(conditioned_curves(load_campaign(project)))
    for given, rows in (([*bad, *good], 4 * 2 * 501), (bad, 0)):
        assert write_curves(file, given)[1] == bad
        table = parquet.read_table(file)
        assert table.num_rows == rows
        assert table.column_names[0] == "release"


def test_columns_of_mixed_values_have_one_type(tmp_path: Path) -> None:
    """Whole and other numbers are numbers, numbers and words are words, what is missing is missing."""
    parquet = pytest.importorskip("pyarrow.parquet")
    file = tmp_path / "rows.parquet"
    write_rows(file, [{"a": 1, "b": 1, "c": None}, {"a": 0.5, "b": "none"}])
    assert parquet.read_table(file).to_pylist() == [
        {"a": 1.0, "b": "1", "c": None},
        {"a": 0.5, "b": "none", "c": None},
    ]


@pytest.mark.parametrize("ending", [".csv", ".parquet"])
def test_rows_are_written_in_parts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ending: str) -> None:
    """A column that is empty in the first part, or has another type there, is the same as in one part."""
    pandas = pytest.importorskip("pandas")
    pytest.importorskip("pyarrow")
    rows: list[dict[str, Any]] = [
        {"a": 1, "b": None, "c": "x"},
        {"a": 2},
        {"a": 0.5, "b": "none"},
        {"a": 3, "b": 4},
        {"d": True},
    ]
    read = pandas.read_csv if ending == ".csv" else pandas.read_parquet
    assert write_rows(tmp_path / f"whole{ending}", rows) == 5
    monkeypatch.setattr(export, "ROWS_OF_A_PART", 2)
    assert write_rows(tmp_path / f"parts{ending}", rows) == 5
    whole, parts = (read(tmp_path / f"{name}{ending}") for name in ("whole", "parts"))
    pandas.testing.assert_frame_equal(whole, parts)
    assert len(parts) == 5


def test_an_unknown_ending_of_a_table_is_refused(tmp_path: Path) -> None:
    """From Python as well."""
    with pytest.raises(SettingsError, match="a table is written as"):
        write_rows(tmp_path / "rows.txt", [])
