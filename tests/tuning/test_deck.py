"""Decks: templates with named fields, and tables of values."""

from __future__ import annotations

import csv
import hashlib
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from correlate.errors import FormatError
from correlate.tuning.missing_runs import local_engine, run_missing
from correlate.tuning.running import DeckWriter
from tests.tuning.project import TUNING, GainRater, calls, tuning_project

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
    with pytest.raises(FormatError, match=r"model\.template, line 1: the template cannot be filled in"):
        DeckWriter(tuning).write({"gain": 1.0, "delay": 0.0}, name="p001")


ATTACKS = {
    "classes of a text": "{{ ''.__class__.__mro__[1].__subclasses__() }}",
    "class of a value": "{{ gain.__class__.__base__.__subclasses__() }}",
    "globals of a function": "{{ lipsum.__globals__['os'].system('touch hacked') }}",
    "globals of a class": "{{ cycler.__init__.__globals__.os.popen('touch hacked').read() }}",
    "filter for attributes": "{{ ''|attr('__class__')|attr('mro') }}",
    "format string": "{{ '{0.__class__.__init__}'.format(gain) }}",
    "format string kept in a variable": "{% set f = '{0.__class__}'.format %}{{ f(gain) }}",
    "format string by a filter": "{{ (['{0.__class__}']|map('attr', 'format')|first)(gain) }}",
    "format string by its mapping": "{{ '{x.__class__}'.format_map({'x': gain}) }}",
    "code of a generator": "{{ ([1]|map('abs')).gi_frame }}",
    "changing a list": "{% set _ = [1].append(2) %}",
    "self": "{{ self.__init__.__globals__ }}",
    "range without end": "{{ range(1000000000)|list }}",
    "text without end": "{{ 'a' * 1000000000 }}",
    "text without end, turned around": "{{ 1000000000 * 'a' }}",
    "list without end": "{{ ([gain] * 1000000000)|length }}",
    "number without end": "{{ 10 ** (10 ** 10) }}",
    "power of a power": "{{ ((10 ** 1000) ** 1000) ** 1000 }}",
}


@pytest.mark.parametrize("attack", ATTACKS.values(), ids=ATTACKS)
def test_a_template_that_reaches_beyond_its_fields_is_refused(tmp_path: Path, attack: str) -> None:
    """One sentence with file and line, and nothing has happened."""
    tuning = with_template(tmp_path, f"{{{{ gain }}}}\n{{{{ delay }}}}\n{attack}\n")
    with pytest.raises(FormatError, match=r"model\.template, line 3: the template "):
        DeckWriter(tuning).write(VALUES, name="p001")
    assert not list(tmp_path.rglob("hacked"))


def test_such_a_template_is_refused_before_any_run(tmp_path: Path) -> None:
    """Also where only one of the points would set it off."""
    tuning = tuning_project(tmp_path, [2.0, 3.0])
    attack = "{{ gain }} {{ delay }}\n{% if gain > 2.5 %}{{ gain.__class__ }}{% endif %}"
    (tmp_path / "model.template").write_text(attack, encoding="utf-8")
    with pytest.raises(
        FormatError, match=r"line 2: the template does more than fill in fields: access to attribute"
    ):
        run_missing(tuning, GainRater(), engine=local_engine(1))
    assert calls(tuning) == []


def test_what_decks_need_stays_possible(tmp_path: Path) -> None:
    """Loops, conditions, arithmetic, rules of text, and many columns."""
    template = (
        "{% for at in range(3) %}{{ '%8.2f' % (gain * at) }}{% endfor %}|{{ '-' * 80 }}|{{ gain ** 2 }}|"
        "{{ '{:>8.3f}'.format(delay) }}|{{ point | upper }}|{{ gain | round(1) }}"
    )
    text = DeckWriter(with_template(tmp_path, template)).write(VALUES, name="p001").text
    assert text == f"    0.00    2.50    5.00|{'-' * 80}|6.25|   0.000|P001|2.5"


def test_an_unknown_filter_is_a_mistake_of_the_template(tmp_path: Path) -> None:
    """It is found when the template is read, with its line."""
    tuning = with_template(tmp_path, "{{ gain }}\n{{ delay | nothing }}")
    with pytest.raises(FormatError, match=r"line 2: the template has a mistake: No filter named 'nothing'"):
        DeckWriter(tuning)
