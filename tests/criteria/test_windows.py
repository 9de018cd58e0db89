"""Windows files: the shipped ones, a user's own, and every mistake in one sentence."""

from __future__ import annotations

import re
import tomllib
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from correlate.criteria import qualify, window_book
from correlate.errors import FormatError, SettingsError
from tests.criteria.recordings import STEP_S, recording

PUBLISHED = tomllib.loads(
    (Path(__file__).parent.parent / "published" / "criteria" / "windows.toml").read_text(encoding="utf-8")
)["window"]

OWN = """
[[window]]
device = "KELP-M"
test = "pelvis push"
source = "house rule 12"
checked = true
limits = { pelvis_peak_g = [40, 60], pelvis_unimodality_fraction = [0, 0.1] }
set_up = { interval_ms = [0, 50], cfc = { "pelvis acceleration" = 1000 } }

[[signal]]
name = "pelvis acceleration"
unit = "g"
[[signal.way]]
make = "turned"
channels = ["??PELV??????ACZ?"]

[[quantity]]
name = "pelvis_peak_g"
words = "peak of the pelvis acceleration"
unit = "g"
measure = "peak"
of = "pelvis acceleration"

[[quantity]]
name = "pelvis_unimodality_fraction"
words = "deviation from a single peak"
unit = "1"
measure = "unimodality"
of = "pelvis acceleration"
"""


def written(folder: Path, text: str) -> Path:
    """Write a windows file."""
    path = folder / "own.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_shipped_windows_each_have_source_and_set_up() -> None:
    """Every test says how far it was checked, has an interval, and its numbers stand under their section."""
    book = window_book()
    assert len({(window.device, window.test) for window in book.windows}) == len(book.windows) == 43
    for window in book.windows:
        assert window.provenance.startswith(f"49 CFR {window.section}")
        assert window.provenance.endswith(
            "checked against the published text" if window.checked else "from memory"
        )
        assert window.set_up is not None
        assert window.set_up.interval_ms is not None
        assert window.checked


def bounds(quote: str) -> list[tuple[float, float]]:
    """Return every pair of neighbouring numbers of a quotation, and every tolerance, in its own units."""
    text = re.sub(r"(\w)-(\d)", r"\1 \2", quote).replace("−", "-").replace(",", "")
    found = [float(number) for number in re.findall(r"(?<![\d.])-?\d+(?:\.\d+)?", text)]
    pairs = [(min(pair), max(pair)) for pair in pairwise(found)]
    tolerances = re.findall(r"(\d+(?:\.\d+)?)[a-z/ ]*±\s?(\d+(?:\.\d+)?)", text)
    pairs += [(float(middle) - float(by), float(middle) + float(by)) for middle, by in tolerances]
    return pairs + [(-high, -low) for low, high in pairs] + [(0.0, number) for number in found]


FACTORS = (1.0, 1e3, 1e-2, 25.4, 4.4482216152605, 1.3558179483314, 0.3048)
"""kN, per cent, inches, pounds, pound-feet, feet per second."""


@pytest.mark.parametrize("case", PUBLISHED, ids=lambda case: f"{case['section']} {case['test']}")
def test_every_number_of_a_window_is_in_the_quoted_text(case: dict[str, str]) -> None:
    """Both ends of each window are neighbours in the text, or a value with its tolerance, in its units."""
    (window,) = [
        one for one in window_book().windows if (one.section, one.test) == (case["section"], case["test"])
    ]
    pairs = [(f * low, f * high) for low, high in bounds(case["quote"]) for f in FACTORS]
    for name, (low, high) in window.limits.items():
        assert any(
            low == pytest.approx(a, rel=2e-3, abs=1e-9) and high == pytest.approx(b, rel=2e-3)
            for a, b in pairs
        ), name


def test_every_window_is_quoted() -> None:
    """One quotation a window."""
    assert len(PUBLISHED) == len(window_book().windows)


def test_probe_tests_know_their_mass() -> None:
    """Every test with a probe force has a probe mass; the extension test has a negative moment."""
    book = window_book()
    for window in book.windows:
        needs = any(name.startswith("probe_force") for name in window.limits)
        assert window.set_up is not None
        assert (window.set_up.probe_mass_kg is not None) == needs
    extension = book.find(device="adult male", test="extension").set_up
    assert extension is not None
    assert extension.negative == ("occipital moment",)


def test_a_users_own_file_adds_windows_quantities_and_signals(tmp_path: Path) -> None:
    """A test of one's own is measured as it says, with its own source."""
    book = window_book([written(tmp_path, OWN)])
    window = book.find(device="kelp", test="pelvis")
    pulse = 50 * np.exp(-(((np.arange(2001) * STEP_S - 0.02) / 0.004) ** 2))
    found = qualify(recording({"D0PELV0000KMACZP": (-pulse, "g")}), window, book)
    assert found.passed
    assert window.provenance == "house rule 12, checked against the published text"
    assert found.verdicts[0].value == pytest.approx(50.0, rel=0.01)
    assert book.windows[:-1] == window_book().windows


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("checked = true", "", "line 2, window.checked: this key is missing"),
        ("[40, 60]", "[60, 40]", "the window of 'pelvis_peak_g' ends before it begins"),
        ('source = "house rule 12"', "", "name the 'source', or 'section'"),
        ("pelvis_peak_g = [40, 60]", "pelvis_pek_g = [40, 60]", "there is no quantity 'pelvis_pek_g'"),
        ('make = "turned"', 'make = "twisted"', "1 mistake: line 14, signal.way.make: input should be"),
        ('make = "turned"', 'make = "resultant"', "'resultant' is made of 3 channel"),
        ("??PELV??????ACZ?", "??PELV??????AC", "should have at least 16 characters"),
        ('measure = "peak"', 'measure = "time of first decay"', "'time of first decay' needs 'level'"),
        ('measure = "peak"', 'measure = "peak"\nlevel = 3.0', "'peak' has no 'level'"),
        ('measure = "peak"', 'measure = "value at time"', "'value at time' needs 'time_ms'"),
        ('measure = "peak"', 'measure = "least between times"', "'least between times' needs 'between_ms'"),
        ('make = "turned"', 'make = "sum"', "'sum' is made of 3 channel"),
        ('of = "pelvis acceleration"', 'of = "pelvis"', "there is no signal 'pelvis'"),
        ("interval_ms = [0, 50]", "interval_ms = [50, 0]", "needs a start and a later end"),
        ("= 1000", "= 500", "no channel frequency class 500"),
        ('unit = "g"', 'unit = "g"\ncolour = 3', "line 13, signal.colour: there is no such key; known are"),
        ("[[signal]]", "[signal", "is not valid TOML"),
    ],
)  # fmt: skip
def test_mistakes_are_named(tmp_path: Path, old: str, new: str, message: str) -> None:
    """Each mistake is one sentence with the file and where in it."""
    assert old in OWN
    path = written(tmp_path, OWN.replace(old, new, 1))
    with pytest.raises(FormatError, match=message) as caught:
        window_book([path])
    assert str(caught.value).startswith(str(path))


def test_all_mistakes_are_listed_at_once(tmp_path: Path) -> None:
    """Two mistakes are two sentences in one message."""
    text = OWN.replace("checked = true", "").replace('unit = "1"', "")
    with pytest.raises(
        FormatError, match=r"2 mistakes: line 2, window.checked: .*; line 24, quantity.unit: "
    ):
        window_book([written(tmp_path, text)])


def test_files_that_cannot_be_read_are_named(tmp_path: Path) -> None:
    """An absent file and one that is no text are refused."""
    with pytest.raises(FormatError, match=r"absent\.toml: cannot be read"):
        window_book([tmp_path / "absent.toml"])
    (tmp_path / "own.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(FormatError, match="is not valid TOML: 'utf-8' codec"):
        window_book([tmp_path / "own.toml"])


def test_device_and_test_are_found_by_a_part_of_their_names() -> None:
    """A part that fits one alone is enough; others are refused with the choices."""
    book = window_book()
    assert book.find(device="ADULT MALE", test="neck pendulum, FLEXION").section == "572.33"
    with pytest.raises(SettingsError, match="'adult' fits several devices; choose one of 'adult male"):
        book.find(device="adult", test="knee")
    with pytest.raises(SettingsError, match="'neck' fits several tests of 'adult male, 50th percentile'"):
        book.find(device="adult male", test="neck")
    with pytest.raises(
        SettingsError,
        match="no test 'pelvis' of 'adult female, 5th percentile'; choose one of 'head drop, 376 mm'",
    ):
        book.find(device="adult female", test="pelvis")
