"""The tuning commands on a small campaign: design, run, show, collect, write."""

from __future__ import annotations

import csv
import json
import re
from typing import TYPE_CHECKING

import pytest

from correlate import tuning_overview
from correlate.tuning.definition import load_tuning
from correlate.tuning.rating import RunRater
from tests.campaign.conftest import CAMPAIGN
from tests.campaign.conftest import project as project_on_disk
from tests.tuning.conftest import one_thread as one_thread_for_all

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]

project = project_on_disk
one_thread = one_thread_for_all

SOLVER = """
import math, pathlib, sys
deck, output = map(pathlib.Path, sys.argv[1:3])
values = {}
for line in deck.read_text().splitlines()[1:]:
    name, value, unit = line.split(",")
    values[name] = float(value)
force, late = values["force"], values["late"]
lines = ["time [ms],probe force [N],compression [m]"]
for number in range(-100, 601):
    t = number * 0.1
    pulse = math.sin(math.pi * min(max((t - late) / 30, 0), 1))
    lag = math.sin(math.pi * min(max((t - late - 2) / 30, 0), 1))
    shown = "nan" if force > 9000 and number == 50 else repr(-force * pulse)
    lines.append(f"{t},{shown},{0.06 * lag}")
for name in ("push", "spare"):
    (output / f"{name}.csv").write_text("\\n".join(lines) + "\\n")
"""

TUNING = """
[deck]
way = "table of values"
file = "deck.csv"

[run]
command = ["{python}", "-I", "-S", "{project}/solver.py", "{deck}", "{output}"]
timeout_s = 20
at_once = 2

[goal]
train = ["push"]
held_out = ["spare"]

[[parameter]]
name = "force"
unit = "N"
lower = 1000
upper = 1e6
scale = "log"
start = 3000

[[parameter]]
name = "late"
unit = "ms"
lower = 0
upper = 12
start = 8
"""


@pytest.fixture
def tuned(project: Path) -> Path:
    """Add a held-out load case, a solver and a tuning file with three points to the campaign."""
    case, rest = CAMPAIGN.split("[[release]]")
    spare = case[case.index("[[load_case]]") :].replace('"push"', '"spare"\nheld_out = true')
    (project / "campaign.toml").write_text(f"{case}{spare}[[release]]{rest}# the end\n", encoding="utf-8")
    (project / "solver.py").write_text(SOLVER, encoding="utf-8")
    (project / "tuning.toml").write_text(TUNING, encoding="utf-8")
    lines = ["point,round,force,late", "p000,0,3000.0,8.0", "better,1,3900.0,6.0", "wild,1,9500.0,6.0"]
    (project / "design.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return project


def test_a_run_is_rated_as_the_release_it_becomes(correlate: Run, tuned: Path) -> None:
    """Run, show and write: `correlate score` gives the new release the very ratings of its run."""
    done = correlate("tune", "run", tuned)
    assert done.code == 0, done.err
    assert "3 points: 2 done, 1 unstable." in done.out
    assert "Best so far within the limits, by weighted rating: better." in done.out
    shown = " ".join(done.out.split())
    place = "load case 'push', channel 'force', push.csv, line 152, column 2 ('probe force')"
    assert f"wild unstable: {place}: 'nan' is not a finite number" in shown
    before = (tuned / "campaign.toml").read_text(encoding="utf-8")
    written = correlate("tune", "write", tuned, "--run", "better", "--release", "T1", "--note", "tuned")
    assert written.code == 0, written.err
    after = (tuned / "campaign.toml").read_text(encoding="utf-8")
    assert after.startswith(before.rstrip("\n"))
    assert 'name = "T1"\nfolder = "releases/T1"\nnote = "tuned"' in after
    found = json.loads(correlate("score", tuned, "--release", "T1", "--workers", 1, "--json").out)
    record = json.loads((tuned / "runs" / "better" / "record.json").read_text(encoding="utf-8"))
    release = found["releases"][0]
    assert record["outcomes"]["train"] == pytest.approx(release["training"]["overall"])
    assert record["outcomes"]["held-out"] == pytest.approx(release["held_out"]["overall"])
    pairs = [one for one in found["pairs"] if (one["load_case"], one["channel"]) == ("push", "force")]
    assert record["outcomes"]["component/push/force/phase"] == pytest.approx(
        sum(one["phase"] for one in pairs) / len(pairs)
    )
    changes = json.loads((tuned / "releases" / "T1" / "changes.json").read_text(encoding="utf-8"))
    assert changes["changes"][0]["percent"] == pytest.approx(30.0)
    correlate("tune", "run", tuned)
    kept = json.loads((tuned / "runs" / "better" / "record.json").read_text(encoding="utf-8"))
    assert kept == record, "a release that is added leaves the ratings of the runs as they are"


def test_features_are_read_off_the_curve_of_the_model(correlate: Run, tuned: Path) -> None:
    """A half-sine of 3.9 kN from 6 to 36 ms peaks at 21 ms and is above half of it for 20 ms."""
    correlate("tune", "run", tuned)
    correlate("tune", "show", tuned, "--csv", tuned / "runs.csv")
    lines = (tuned / "runs.csv").read_text(encoding="utf-8").splitlines()
    rows = {row["point"]: row for row in csv.DictReader(lines)}
    feature = "feature/push/force/"
    assert float(rows["better"][feature + "peak"]) == pytest.approx(3.9, rel=0.01)
    assert float(rows["better"][feature + "time of peak"]) == pytest.approx(0.021, abs=2e-4)
    assert float(rows["better"][feature + "duration at half peak"]) == pytest.approx(0.020, abs=5e-4)
    assert rows["wild"][feature + "peak"] == ""


def test_an_absurd_peak_is_unstable(correlate: Run, tuned: Path) -> None:
    """A peak 240 times that of the tests is no result of a sound run."""
    text = (tuned / "design.csv").read_text(encoding="utf-8").replace("wild,1,9500.0", "huge,1,9e5")
    (tuned / "design.csv").write_text(text, encoding="utf-8")
    (tuned / "solver.py").write_text(SOLVER.replace("> 9000", "> 9e9"), encoding="utf-8")
    done = correlate("tune", "run", tuned)
    assert "huge unstable: load case 'push', channel 'force': the peak of the model is" in done.out


def test_a_run_that_stops_early_with_exit_code_0_is_unfinished_and_repeated(
    correlate: Run, tuned: Path
) -> None:
    """It is neither rated nor failed; --again runs it again, and nothing else."""
    early = SOLVER.replace("range(-100, 601)", "range(-100, 601 if late > 7 else 301)")
    (tuned / "solver.py").write_text(early, encoding="utf-8")
    done = correlate("tune", "run", tuned)
    assert done.code == 0, done.err
    assert "3 points: 1 done, 1 unfinished, 1 unstable." in done.out
    shown = " ".join(correlate("tune", "show", tuned).out.split())
    assert "better unfinished: load case 'push', channel 'force': the results end at 30 ms of 50 ms" in shown
    assert correlate("tune", "run", tuned).code == 0
    assert "1 unfinished" in correlate("tune", "show", tuned).out, "without --again it is left as it is"
    (tuned / "solver.py").write_text(SOLVER, encoding="utf-8")
    assert "3 points: 2 done, 1 unstable." in correlate("tune", "run", tuned, "--again").out


def test_decks_go_out_and_results_come_back(correlate: Run, tuned: Path) -> None:
    """What another machine computed is taken in and rated."""
    sent = correlate("tune", "decks", tuned, "--into", tuned / "away")
    assert "3 decks in" in sent.out
    for place in (tuned / "away").iterdir():
        (place / "push.csv").write_bytes((tuned / "model" / "push.csv").read_bytes())
        (place / "spare.csv").write_bytes((tuned / "model" / "push.csv").read_bytes())
    taken = correlate("tune", "collect", tuned, tuned / "away")
    assert taken.code == 0, taken.err
    assert "3 points: 3 done." in taken.out
    assert "3 runs imported" in taken.out
    again = correlate("tune", "collect", tuned, tuned / "away")
    assert "0 runs imported, 3 had a run already" in again.out


def test_a_call_whose_runs_all_failed_ends_with_1(correlate: Run, tuned: Path) -> None:
    """The log is named; the surrogates say that the runs failed; a start with nothing to do ends with 0."""
    (tuned / "solver.py").write_text("raise SystemExit(3)", encoding="utf-8")
    done = correlate("tune", "run", tuned, "--at-once", 1)
    assert done.code == 1
    assert "no run was done; see" in done.err
    assert f"{tuned / 'runs' / 'p000' / 'run.log'}; 'correlate tune run --again' repeats" in done.err
    for command in ("fit", "propose"):
        refused = correlate("tune", command, tuned)
        assert (refused.code, "no run is finished (3 failed)" in refused.err) == (2, True)
    assert correlate("tune", "run", tuned).code == 0
    (tuned / "solver.py").write_text(SOLVER, encoding="utf-8")
    assert correlate("tune", "run", tuned, "--again").code == 0


def test_a_stop_says_that_nothing_is_lost(
    correlate: Run, tuned: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ctrl-C while runs are at work."""

    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("correlate.tuning.missing_runs.run_missing", stopped)
    done = correlate("tune", "run", tuned)
    assert (done.code, done.err) == (130, "stopped; finished runs are kept, and the same command resumes\n")


def test_points_are_added_to_a_design(correlate: Run, tuned: Path) -> None:
    """The lines that are there stay as they are; other options make no sense beside it."""
    before = (tuned / "design.csv").read_text(encoding="utf-8")
    added = correlate("tune", "design", tuned, "--add", 3)
    assert "p001 to p003 added to" in added.out
    after = (tuned / "design.csv").read_text(encoding="utf-8")
    assert after.startswith(before)
    assert len(after.splitlines()) == 7
    for words in ([], ["--add", 1, "--runs", 4], ["--add", 1, "--kind", "morris"], ["--add", 1, "--replace"]):
        assert "a design needs either --runs or --add" in correlate("tune", "design", tuned, *words).err


def test_a_design_that_cannot_be_run_is_refused(correlate: Run, tuned: Path) -> None:
    """A load case that the campaign lacks, and a template without a field: no design is written."""
    (tuned / "design.csv").unlink()
    (tuned / "tuning.toml").write_text(TUNING.replace('["push"]', '["pull"]'), encoding="utf-8")
    assert "there is no load case 'pull'" in correlate("tune", "design", tuned, "--runs", 4).err
    (tuned / "model.template").write_text("{{ force }}", encoding="utf-8")
    text = TUNING.replace('way = "table of values"', 'template = "model.template"')
    (tuned / "tuning.toml").write_text(text, encoding="utf-8")
    assert "parameter 'late' has no field" in correlate("tune", "design", tuned, "--runs", 4).err
    assert not (tuned / "design.csv").exists()


def test_a_least_q2_is_a_share(correlate: Run, tuned: Path) -> None:
    """Above 1 nothing could ever be proposed."""
    assert "2.0 is not in the range 0<=x<=1" in correlate("tune", "propose", tuned, "--least-q2", 2).err


def test_a_design_is_not_overwritten_unasked(correlate: Run, tuned: Path) -> None:
    """A design that is there is kept; one with runs always."""
    refused = correlate("tune", "design", tuned, "--runs", 4)
    assert refused.code == 2
    assert "there is a design already; replace it with --replace" in refused.err
    assert "5 points of 2 parameters" in correlate("tune", "design", tuned, "--runs", 5, "--replace").out
    lines = (tuned / "design.csv").read_text(encoding="utf-8").splitlines()
    assert lines[:2] == ["point,round,force,late", "p000,0,3000.0,8.0"]
    assert len(lines) == 6
    (tuned / "runs" / "p000").mkdir(parents=True)
    (tuned / "runs" / "p000" / "record.json").touch()
    refused = correlate("tune", "design", tuned, "--runs", 4, "--replace")
    assert "there are runs of an earlier design" in refused.err


def test_releases_that_break_limits_or_are_there_are_refused(correlate: Run, tuned: Path) -> None:
    """A run that spoils the held-out load case is written only when asked to; nothing is half-written."""
    text = (
        (tuned / "design.csv")
        .read_text(encoding="utf-8")
        .replace("better,1,3900.0,6.0", "worse,1,1200.0,11.0")
    )
    (tuned / "design.csv").write_text(text, encoding="utf-8")
    correlate("tune", "run", tuned)
    before = (tuned / "campaign.toml").read_text(encoding="utf-8")
    refused = correlate("tune", "write", tuned, "--run", "worse", "--release", "T1")
    assert refused.code == 2
    assert "violates limits: held-out load case 'spare' loses" in refused.err
    shown = " ".join(correlate("tune", "show", tuned).out.split())
    assert re.search(r"'load case/spare' is below its limit of 0\.\d+ in worse\.", shown)
    there = correlate("tune", "write", tuned, "--run", "worse", "--release", "B1", "--despite-losses")
    assert "a release 'B1' already exists" in there.err
    strange = correlate("tune", "write", tuned, "--run", "worse", "--release", "a b", "--despite-losses")
    assert "'a b' is not a valid release name" in strange.err
    assert (tuned / "campaign.toml").read_text(encoding="utf-8") == before
    assert not (tuned / "releases").exists()
    assert (
        correlate("tune", "write", tuned, "--run", "worse", "--release", "T1", "--despite-losses").code == 0
    )


def test_where_runs_fail_is_said(correlate: Run, tuned: Path) -> None:
    """By `tune show` and `tune fit`, with counts: nan above 9000 N, an exit code above 10 ms."""
    text = SOLVER + "if late > 10: raise SystemExit(3)\n"
    (tuned / "solver.py").write_text(text, encoding="utf-8")
    rows = [f"p{n:03d},0,{3000 + 500 * n}.0,{3 + 8 * (n % 3 == 1)}.0" for n in range(24)]
    (tuned / "design.csv").write_text("\n".join(["point,round,force,late", *rows]) + "\n", encoding="utf-8")
    correlate("tune", "run", tuned, "--at-once", 3)
    for words in (["show", tuned], ["fit", tuned, "--outcome", "train"]):
        shown = " ".join(correlate("tune", *words).out.split())
        assert "24 points: 9 done, 8 failed, 7 unstable." in shown
        assert re.search(
            r"Runs fail where force is above \d+ N \(11 of 11 failed there, 4 of 13 elsewhere\)", shown
        )
        assert "Among the others, runs fail where late is above 7 ms (4 of 4 failed there, 0 of 9" in shown


def test_a_batch_is_proposed_run_and_confirmed(correlate: Run, tuned: Path) -> None:
    """The tests are half-sines of about 4.1 kN from 5.25 ms on; the batch comes nearer than the design."""
    text = TUNING.replace("upper = 1e6", "upper = 8000")
    (tuned / "tuning.toml").write_text(text, encoding="utf-8")
    assert correlate("tune", "design", tuned, "--runs", 12, "--seed", 2, "--replace").code == 0
    assert correlate("tune", "run", tuned, "--at-once", 3).code == 0
    fitted = correlate("tune", "fit", tuned, "--outcome", "train")
    assert fitted.code == 0, fitted.err
    assert re.search(
        r"^train\n  Q² [\d.]+; intervals for .*\n  influenced by late [\d.]+ \[", fitted.out, re.MULTILINE
    )
    assert not (tuned / "fit.json").exists()
    saved = correlate("tune", "fit", tuned)
    assert saved.code == 0, saved.err
    shown = tuning_overview(tuned)
    assert shown.fit
    assert shown.curves
    assert not shown.fit_is_old
    for name, surrogate in shown.fit.surrogates.items():
        assert f"{name}\n  Q² {surrogate.q2:.2f}; " in saved.out
    assert "push, force" in saved.out
    assert f"saved in {tuned}: fit.json and fit.npz; the tuning page shows this fit" in saved.out
    proposed = correlate("tune", "propose", tuned, "--runs", 2)
    assert proposed.code == 0, proposed.err
    assert "round 1: p012 to p013" in proposed.out
    early = correlate("tune", "confirm", tuned)
    assert "2 of the batch have no run yet" in early.out
    correlate("tune", "run", tuned)
    confirmed = correlate("tune", "confirm", tuned)
    assert confirmed.code == 0, confirmed.err
    before, after = re.findall(r"Best within the limits: ([\d.]+) before, ([\d.]+) after", confirmed.out)[0]
    assert float(after) > float(before)
    assert "so far" in confirmed.out
    rows = list(csv.DictReader((tuned / "design.csv").read_text(encoding="utf-8").splitlines()))
    assert [row["round"] for row in rows[-2:]] == ["1", "1"]
    assert any(abs(float(row["late"]) - 5.25) < 1.0 for row in rows[-2:])
    words = " ".join(confirmed.out.split())
    assert "paired by repeat" in words
    assert "the tests do not determine" not in words
    carded = correlate("tune", "cards", tuned)
    assert carded.code == 0, carded.err
    assert re.search(r"^late \[ms\] +0 +12 +8 ", carded.out, re.MULTILINE)
    told = json.loads(correlate("tune", "cards", tuned, "--json").out)
    assert told == json.loads((tuned / "cards.json").read_text(encoding="utf-8"))
    late = next(one for one in told["intervals"] if one["name"] == "late")
    assert late["low"] < 5.6
    assert late["high"] > 4.9
    assert late["left"] < 0.3


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('train = ["push"]', 'train = ["pull"]', "there is no load case 'pull'"),
        (
            'train = ["push"]\nheld_out = ["spare"]',
            'train = ["spare"]',
            "load case 'spare' is to train, but the campaign holds it out",
        ),
        ('"{python}"', '"no-such-program"', "there is no program 'no-such-program'"),
    ],
)
def test_what_cannot_be_run_is_refused_before_anything_runs(
    correlate: Run, tuned: Path, old: str, new: str, message: str
) -> None:
    """One sentence, exit code 2, no run."""
    (tuned / "tuning.toml").write_text(TUNING.replace(old, new), encoding="utf-8")
    refused = correlate("tune", "run", tuned)
    assert refused.code == 2
    assert message in refused.err
    assert not list(tuned.glob("runs/*"))


def test_engine_and_scheduler_belong_together(correlate: Run, tuned: Path) -> None:
    """An address without the engine, or the engine without an address, is refused."""
    for words in (["--engine", "dask"], ["--scheduler", "tcp://127.0.0.1:1"]):
        assert "--engine dask and --scheduler belong together" in correlate("tune", "run", tuned, *words).err


def test_the_engine_cluster_needs_its_table(correlate: Run, tuned: Path) -> None:
    """It is refused before anything runs, with the table to write."""
    refused = correlate("tune", "run", tuned, "--engine", "cluster")
    assert (refused.code, "the engine 'cluster' needs a table [cluster]" in refused.err) == (2, True)


def test_help_lists_the_commands(correlate: Run) -> None:
    """Every command has its line."""
    shown = correlate("tune", "--help").out
    for word in ("design", "run", "decks", "collect", "show", "fit", "propose", "confirm", "cards", "write"):
        assert f"\n  {word} " in shown


def test_a_run_is_rated_again_when_any_setting_changes(tuned: Path) -> None:
    """The key covers whole tables, the last channel of a load case as well as a setting of the rating."""
    file = tuned / "campaign.toml"
    start, end = file.read_text(encoding="utf-8").split("[[release]]")
    many = "".join(
        f'\n[[load_case.channel]]\ntest = "t{number}"\nmodel = "m{number}"\nregion = "leg"\n'
        for number in range(40)
    )
    keys = set()
    for channels in (many, many.replace('"m39"', '"other"'), many + "weight = 2.0\n"):
        for rating in ("", "\n[rating]\nslope_limit = 1.9\n"):
            file.write_text(f"{start}{channels}\n[[release]]{end}{rating}", encoding="utf-8")
            keys.add(RunRater(load_tuning(tuned)).key)
    assert len(keys) == 6
