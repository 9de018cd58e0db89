"""Decks: templates with named fields, and tables of values."""

from __future__ import annotations

import csv
import hashlib
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from correlate.errors import FormatError
from correlate.tuning.running import DeckWriter
from tests.tuning.project import TUNING, tuning_project

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.tuning.definition import Tuning

VALUES = {"gain": 2.5, "delay": 1e-05}


def with_template(folder: Path, text: str) -> Tuning:
    """Write the project with another template."""
    tuning = tuning_project(folder, [2.0])
    (folder / "model.template").write_text(text, encoding="utf-8")
    return tuning


def test_fields_are_filled_in_and_nothing_else_changes(tmp_path: Path) -> None:
    """Signs that mean something on web pages, and the last line end, stay as they are."""
    template = "$ <deck> & 'name' {{ point }}\ngain={{ '%10.3e' % gain }}\ndelay={{ delay }}\n\n"
    deck = DeckWriter(with_template(tmp_path, template)).write(VALUES, name="p007")
    assert deck.text == "$ <deck> & 'name' p007\ngain= 2.500e+00\ndelay=1e-05\n\n"
    assert deck.sha256 == hashlib.sha256(deck.text.encode()).hexdigest()


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=25)
@given(gain=st.floats(1, 10), delay=st.floats(0, 60))
def test_values_survive_a_table_exactly(tmp_path: Path, gain: float, delay: float) -> None:
    """What a solver reads from the table of values is the very number, with its unit beside it."""
    text = TUNING.replace('template = "model.template"', 'way = "table of values"')
    tuning = tuning_project(tmp_path, [2.0], text=text)
    deck = DeckWriter(tuning).write({"gain": gain, "delay": delay}, name="p001")
    rows = list(csv.DictReader(deck.text.splitlines()))
    assert [(row["parameter"], row["unit"]) for row in rows] == [("gain", "kN/mm"), ("delay", "s")]
    assert [float(row["value"]) for row in rows] == [gain, delay]


@pytest.mark.parametrize(
    ("template", "message"),
    [
        ("{{ gain }} {{ delay }} {{ grain }}", "field 'grain' is not a parameter"),
        ("{{ gain }}", "parameter 'delay' has no field; the parameters are gain, delay"),
        ("a\n{{ gain }\n{{ delay }}", "line 2: the template has a mistake"),
    ],
)
def test_templates_that_do_not_fit_are_refused(tmp_path: Path, template: str, message: str) -> None:
    """The sentence names the file and the field or line."""
    with pytest.raises(FormatError, match=rf"model\.template.*{message}"):
        DeckWriter(with_template(tmp_path, template))


def test_a_field_that_cannot_be_computed_is_refused(tmp_path: Path) -> None:
    """A field may compute, but not divide by zero."""
    tuning = with_template(tmp_path, "{{ gain / delay }}")
    with pytest.raises(FormatError, match=r"model\.template: the template cannot be filled in"):
        DeckWriter(tuning).write({"gain": 1.0, "delay": 0.0}, name="p001")
