"""What objects show of themselves in an interpreter or notebook: short texts, data frames, drawings."""

from __future__ import annotations

import gc
import inspect
import re
import subprocess
import sys
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

import numpy as np
import pytest

import correlate
from correlate import (
    Campaign,
    CorrelateError,
    PairScore,
    Recipe,
    Recording,
    Signal,
    Source,
    aggregate,
    check,
    compare,
    explain,
    explain_pair,
    gate,
    load_campaign,
    open_store,
    plots,
    read,
    release_scores,
    score_campaign,
    score_pair,
    scoreboard,
    stored_ratings,
)
from correlate.campaign import CampaignScores
from correlate.display import NamedResults, Results, brief, frame
from correlate.errors import ChannelError, SignalError
from tests.campaign.conftest import half_sine, write_columns
from tests.campaign.conftest import project as project_on_disk

if TYPE_CHECKING:
    from collections.abc import Iterator

LONGEST = 500
PUBLIC = [getattr(correlate, name) for name in (*correlate._STABLE, *correlate._OTHERS)]
CLASSES = sorted((one for one in PUBLIC if inspect.isclass(one)), key=lambda one: one.__name__)

project = project_on_disk


def pulse(channel: str = "head ax", **changes: Any) -> Signal:
    """Return a half-sine from 0 to 60 ms at 10 kHz, in g."""
    time = np.arange(601) * 1e-4
    settings: dict[str, Any] = {"start_s": 0.0, "step_s": 1e-4, "unit": "g", "channel": channel}
    return Signal(samples=40 * np.sin(np.pi * np.clip((time - 0.01) / 0.03, 0, 1)), **{**settings, **changes})


@pytest.fixture
def two_releases(project: Path) -> Campaign:
    """Load a campaign of two releases of two channels each."""
    write_columns(
        project / "again" / "push.csv",
        {"probe force [N]": -half_sine(6.5, 3950.0), "compression [m]": half_sine(7.5, 0.056)},
    )
    file = project / "campaign.toml"
    file.write_text(file.read_text() + '\n[[release]]\nname = "B2"\nfolder = "again"\n', encoding="utf-8")
    return load_campaign(str(project))


# Signals


def test_a_signal_is_an_array_of_its_samples() -> None:
    """Numpy sees the samples, without a copy unless it is asked for one."""
    signal = pulse()
    assert len(signal) == 601
    assert np.shares_memory(np.asarray(signal), signal.samples)
    assert np.array(signal, copy=True).flags.writeable
    assert np.asarray(signal, dtype=np.float32).dtype == np.float32
    assert np.max(signal) == signal.samples.max()


def test_a_signal_is_cut_by_time_with_both_ends_and_a_record() -> None:
    """From 10 ms to 50 ms are 401 samples, and the cut is the last step of the history."""
    signal = pulse()
    cut = signal[0.01:0.05]
    assert len(cut) == 401
    assert cut.start_s == pytest.approx(0.01)
    assert cut.end_s == pytest.approx(0.05)
    assert str(cut.history[-1]) == "crop (start_s=0.01, end_s=0.05, samples_before=100, samples_after=100)"
    assert len(signal.history) == 0
    assert len(signal[:0.01]) == 101
    assert len(signal[0.01:]) == 501
    assert signal[:] is signal


@pytest.mark.parametrize("wrong", [3, 0.01, "head", slice(0.0, 0.05, 2), (0.0, 0.05)])
def test_a_signal_is_cut_by_nothing_but_an_interval(wrong: Any) -> None:
    """A number could be a sample or a time, so it is refused, and so is a slice with a step."""
    with pytest.raises(TypeError, match="cut by time in s"):
        pulse()[wrong]


def test_a_cut_beyond_the_data_is_refused() -> None:
    """As `crop` does: shortened in silence it would not be what was asked for."""
    with pytest.raises(SignalError, match="reaches beyond the data"):
        pulse()[0.01:0.5]


def test_a_signal_draws_itself_with_units_and_nothing_from_elsewhere() -> None:
    """The drawing is one well-formed element with extremes, unit, start and end, and no address."""
    text = pulse(channel='<script>alert("x")</script>&')._repr_html_()
    tree = ET.fromstring(text)  # noqa: S314 - made here
    words = " ".join(tree.itertext())
    assert "40 g" in words
    assert "0 ms" in words
    assert "60 ms" in words
    assert "601 samples at 10000 Hz" in words
    assert "<script" not in text
    assert re.findall(r"(?:href|src|url)\b", text) == []
    assert re.findall(r"https?://[^\"]+", text) == ["http://www.w3.org/2000/svg"]
    assert len(text) < 12_000


def test_the_drawing_of_a_long_signal_keeps_its_peak() -> None:
    """One sample among a million is drawn, and the text stays small; a constant one is a line."""
    samples = np.zeros(1_000_000)
    samples[123_456] = 7.0
    text = drawn(samples)
    heights = [float(point.split(",")[1]) for point in re.findall(r"[\d.]+,[\d.]+", text)]
    assert min(heights) < max(heights) - 50
    assert len(text) < 30_000
    level = {float(point.split(",")[1]) for point in re.findall(r"[\d.]+,[\d.]+", drawn(np.ones(50)))}
    assert len(level) == 1
    assert "nan" not in drawn(np.array([-1.5e308, 1.5e308]))


def drawn(samples: Any) -> str:
    """Return the points of the drawing of a signal."""
    signal = Signal(samples=samples, start_s=0.0, step_s=1e-5, unit="kN", channel="force")
    found = re.search(r'points="([^"]*)"', signal._repr_html_())
    assert found
    return found[1]


def test_a_signal_plots_itself_in_its_unit() -> None:
    """The figure has one curve over ms, and the unit on its axis."""
    figure = pulse(channel="D0HEAD0000KMACXP", unit="m/s^2").plot()
    (line,) = figure.data
    assert float(line.x[-1]) == pytest.approx(60.0)
    assert float(max(line.y)) == pytest.approx(40.0)
    assert figure.layout.yaxis.title.text == "Head acceleration X [m/s²]"
    assert figure.layout.xaxis.title.text == "time [ms]"


def test_importing_a_signal_loads_no_drawing_library() -> None:
    """The lowest layers stay free of plotly, pandas and the plots."""
    program = (
        "import sys, correlate.signal, correlate.formats\n"
        "print([name for name in ('plotly', 'pandas', 'correlate.plots') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


# Recordings


def test_a_recording_is_a_collection_of_its_channels() -> None:
    """Channels are found by name or code, counted, gone through and asked for."""
    one, two = pulse("D0HEAD0000KMACXP"), pulse("Force", unit="kN")
    recording = Recording(signals=(one, two), path=Path("a/run.csv"), format="delimited text")
    assert len(recording) == 2
    assert list(recording) == [one, two]
    assert recording["D0HEAD0000KMACXP"] is one
    assert recording["force"] is two
    assert "FORCE" in recording
    assert one in recording
    assert "moment" not in recording
    assert pulse() not in recording
    with pytest.raises(ChannelError, match="there is no channel 'moment'"):
        recording["moment"]
    assert repr(recording) == (
        "Recording('a/run.csv', 'delimited text', channels=('D0HEAD0000KMACXP', 'Force'))"
    )
    assert Recording(signals=(), path=Path("a"), format="x")
    many = Recording(signals=tuple(pulse(f"c{n}") for n in range(200)), path=Path("a"), format="x")
    assert repr(many) == "Recording('a', 'x', channels=<200 values>)"


def test_two_names_that_differ_in_capitals_are_not_one() -> None:
    """A name that fits two channels is in the recording only as one of them is written."""
    recording = Recording(signals=(pulse("Force"), pulse("FORCE")), path=Path("a"), format="x")
    assert "Force" in recording
    assert "force" not in recording


# Data frames


def test_each_result_becomes_a_data_frame(two_releases: Campaign) -> None:
    """Columns and rows of every frame are those of the results."""
    scores = score_campaign(two_releases, workers=1)
    one, two = (aggregate(two_releases, scores.records, name) for name in ("B1", "B2"))
    table = scores.to_frame()
    assert list(table["repeat"]) == ["R1", "R2"] * 4
    assert table["overall"].tolist() == [record.overall for record in scores.records]
    tree = one.to_frame()
    assert tree["overall"].iloc[0] == one.training.overall
    assert "push" in set(tree["name"])
    assert not tree["held_out"].any()
    changes = compare(one, two)
    assert isinstance(changes, list)
    changed = changes.to_frame()
    assert changed["difference"].tolist() == [change.difference for change in changes]
    assert {"kind", "place", "before", "after", "lower", "upper", "verdict"} <= set(changed)
    checks = gate(two, baseline=one, least=0.1, largest_loss=0.5).to_frame()
    assert checks["passed"].all()
    numbers = release_scores(two_releases, scores.records)
    board = scoreboard(two_releases, numbers, release="B2", against="B1").to_frame()
    assert board["overall"].iloc[0] == two.training.overall
    tests = [read(path) for path in two_releases.test_paths(two_releases.load_cases[0])]
    assert list(tests[0].to_frame()["unit"]) == ["kN", "mm"]
    found = check(tests)
    assert len(found.to_frame()) == len(found.findings)


def test_a_pair_and_its_rating_become_data_frames() -> None:
    """A rating is one row; a pair is a row a sample, by time."""
    score = score_pair(pulse(), pulse("model"))
    one = score.to_frame().iloc[0]
    assert (one["reference"], one["candidate"], one["overall"]) == ("head ax", "model", 1.0)
    assert score.rating.to_frame()["grade"].tolist() == ["excellent"]
    pair = score.rating.pair.to_frame()
    assert (list(pair), len(pair), pair.index.name) == (["reference", "candidate"], 601, "time_s")
    signal = pulse().to_frame()
    assert (list(signal), signal.index.name) == (["head ax [g]"], "time_s")


def test_without_pandas_a_frame_is_refused_in_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    """The sentence says what to install."""
    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(CorrelateError, match=r"^a data frame needs the library pandas: pip install pandas$"):
        frame([{"a": 1}])


def test_a_pair_is_drawn_without_naming_a_theme() -> None:
    """The light theme is the default of every figure."""
    score = score_pair(pulse(), pulse("model"))
    assert score.plot().layout.paper_bgcolor == plots.LIGHT.panel
    for name in plots.__all__:
        function = getattr(plots, name)
        if name.endswith("_figure") and inspect.isfunction(function):
            theme = inspect.signature(function).parameters.get("theme")
            assert theme is None or theme.default == "light", name


# Short texts


class Loud:
    """Something with a very long text."""

    def __repr__(self) -> str:
        """Return far too much."""
        return "x" * 100_000


LOUD: tuple[Any, ...] = (
    "y" * 50_000,
    Path("z" * 50_000),
    tuple(range(10_000)),
    ["w" * 9_000] * 3,
    {"v" * 9_000: 1},
    {str(number): number for number in range(9_000)},
    np.zeros((2_000, 3)),
    -1.2345678901234567e-300,
    10**400,
    Loud(),
    None,
)


@pytest.mark.parametrize("cls", [one for one in CLASSES if is_dataclass(one)], ids=lambda one: one.__name__)
def test_no_field_makes_the_text_of_a_public_class_long(cls: type[Any]) -> None:
    """With the same enormous value in every field, the text stays under 500 characters and in one line."""
    ends = dict.fromkeys(("reference", "candidate"), pulse("c" * 50_000))
    for value in LOUD:
        made: Any = object.__new__(cls)
        for field in fields(cls):
            object.__setattr__(made, field.name, value)
        if cls is Signal:
            made = pulse("c" * 50_000, source=Source("f" * 50_000))
        if cls is PairScore:
            made = PairScore(rating=score_pair(pulse(), pulse()).rating, recipe=Recipe(), **ends)
        if cls is Recording:
            object.__setattr__(made, "signals", tuple(pulse(f"{'c' * 90}{n}") for n in range(50)))
        assert len(repr(made)) < LONGEST
        assert "\n" not in repr(made)


def test_every_object_of_a_scored_project_has_a_short_text(two_releases: Campaign, tmp_path: Path) -> None:
    """Whatever comes of scoring, comparing, explaining and storing has a text under 500 characters."""
    kept = list(everything(two_releases, tmp_path))
    gc.collect()
    found = [one for one in gc.get_objects() if isinstance(one, (*CLASSES, CampaignScores, Results))]
    found += PUBLIC
    assert len({type(one) for one in found}) > 40
    assert kept
    for one in found:
        if not isinstance(one, type) or one in CLASSES:
            assert len(repr(one)) < LONGEST, type(one)
            assert len(str(one)) < LONGEST or isinstance(one, Exception | str), type(one)


def everything(campaign: Campaign, folder: Path) -> Iterator[object]:
    """Yield one of most things that the public interface returns."""
    scores = score_campaign(campaign, workers=1)
    one, two = (aggregate(campaign, scores.records, name) for name in ("B1", "B2"))
    yield from (campaign, scores, one, two, compare(one, two), gate(two, baseline=one))
    yield scoreboard(campaign, release_scores(campaign, scores.records), release="B2", against="B1")
    yield explain(campaign, scores.records, "B2")
    yield explain_pair(pulse(), pulse("model", start_s=0.001))
    tests = [read(path) for path in campaign.test_paths(campaign.load_cases[0])]
    yield from (*tests, check(tests))
    with open_store(folder / "kept.sqlite") as store:
        run = correlate.RunInfo.now(campaign_sha256=campaign.sha256)
        yield correlate.score_into(store, campaign, run=run, workers=1)
        yield stored_ratings(store, campaign)
        yield correlate.holdings(campaign)


def test_signals_and_pairs_say_what_they_are() -> None:
    """A signal tells channel, unit and time base; a pair its channels, number and grade."""
    assert repr(pulse()) == (
        "Signal('head ax', unit='g', samples=<601>, start_s=0.0, step_s=0.0001, "
        "source='computed', history=<0>)"
    )
    assert repr(score_pair(pulse(), pulse("model"))) == (
        "PairScore(reference='head ax', candidate='model', overall=1.0, grade='excellent')"
    )


def test_short_forms_say_kind_and_size() -> None:
    """Numbers have six digits, texts end in a mark, collections tell their size."""
    assert brief(1 / 3) == "0.333333"
    assert brief("a" * 100) == f"'{'a' * 57}…'"
    assert brief([]) == "[]"
    assert brief(("a",)) == "('a',)"
    assert brief({}) == "{}"
    assert brief(np.zeros((2, 3))) == "<array 2 × 3>"
    assert brief(pulse()) == "Signal(…)"
    assert repr(Results([1, 2])) == "Results(<2 of int>)"
    assert repr(NamedResults()) == "NamedResults()"
    assert repr(correlate.METRICS).startswith("NamedResults(<")
