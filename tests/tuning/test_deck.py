"""Decks: templates with named fields, and tables of values."""

from __future__ import annotations

import csv
import gc
import hashlib
from contextlib import suppress
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from correlate.errors import FormatError
from correlate.tuning.decks import DeckWriter
from correlate.tuning.missing_runs import local_engine, run_missing
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
        ("a\n{{ gain }\n{{ delay }}", "line 2: the template has a syntax error"),
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
    with pytest.raises(
        FormatError, match=r"line 2: the template has a syntax error: No filter named 'nothing'"
    ):
        DeckWriter(tuning)


ESCAPES = {
    "include": "{% include '/etc/hostname' %}",
    "import": "{% import '/etc/hostname' as m %}",
    "extends": "{% extends '/etc/hostname' %}",
    "attribute by a filter": "{{ [gain]|map(attribute='__class__')|list }}",
    "attribute in a chain": "{{ [gain]|map(attribute='__class__.__mro__')|list }}",
    "group by an attribute": "{{ [gain]|groupby('__class__') }}",
    "sum of an attribute": "{{ [gain]|sum(attribute='__class__') }}",
    "selected by an attribute": "{{ [gain]|selectattr('__class__')|list|first|attr('__class__') }}",
    "item": "{{ ''['__class__'] }}",
    "old format": "{{ '%(x)s'|format(x=gain.__class__) }}",
    "class of a macro": "{% macro m() %}{% endmacro %}{{ m.__class__ }}",
    "globals of a macro": "{% macro m() %}{% endmacro %}{{ m._func.__globals__ }}",
    "environment of the template": "{{ self._TemplateReference__context.environment }}",
    "frames of a call": "{% macro m() %}{{ caller.__code__ }}{% endmacro %}{% call m() %}{% endcall %}",
}
"""Ways out of the fields, beside those above."""

TOO_MUCH = "takes more than 2 s|takes too much memory"
"""Which of the two comes first depends on the machine."""
EXHAUSTING = {
    "loops in loops": (
        "{% for a in range(99999) %}{% for b in range(99999) %}{% set c = b %}{% endfor %}{% endfor %}",
        TOO_MUCH,
    ),
    "output without end": (
        "{% for a in range(99999) %}{% for b in range(999) %}{{ '-' * 999 }}{% endfor %}{% endfor %}",
        f"{TOO_MUCH}|produces a deck of more than 32 Mi characters",
    ),
    "doubled text": (
        "{% set n = namespace(x='a') %}{% for i in range(60) %}{% set n.x = n.x ~ n.x %}{% endfor %}",
        TOO_MUCH,
    ),
    "doubled list": (
        "{% set n = namespace(x=[1]) %}{% for i in range(60) %}{% set n.x = n.x + n.x %}{% endfor %}",
        TOO_MUCH,
    ),
    "squared number": (
        "{% set n = namespace(x=9) %}{% for i in range(60) %}{% set n.x = n.x * n.x %}{% endfor %}",
        TOO_MUCH,
    ),
    "width of a format": ("{{ '%1000000000d' % 1 }}", TOO_MUCH),
    "width of a format method": ("{{ '{:1000000000}'.format(gain) }}", TOO_MUCH),
    "precision of a format": ("{{ '%.1000000000f' % gain }}", f"{TOO_MUCH}|cannot be filled in"),
    "centred by a filter": ("{{ 'x'|center(1000000000) }}", TOO_MUCH),
    "centred by a method": ("{{ point.center(1000000000) }}", TOO_MUCH),
    "indented": ("{{ point|indent(1000000000, true) }}", TOO_MUCH),
    "filled with zeros": ("{{ point.zfill(1000000000) }}", TOO_MUCH),
    "replaced": ("{% set a = 'a' * 99999 %}{{ a.replace('a', a) }}", TOO_MUCH),
    "sliced": ("{{ [1]|slice(1000000000)|list }}", TOO_MUCH),
    "filled up": ("{{ [1]|batch(1000000000, 'x')|list }}", TOO_MUCH),
    "random words": ("{{ lipsum(n=1000000) }}", TOO_MUCH),
    "a macro that calls itself": ("{% macro m() %}{{ m() }}{% endmacro %}{{ m() }}", "calls itself"),
    "brackets in brackets": ("{{ " + "(" * 5000 + "gain" + ")" * 5000 + " }}", "nested too deeply"),
    "conditions in conditions": ("{% if gain %}" * 300 + "{% endif %}" * 300, "nested too deeply"),
    "half a character": ("{{ '\\ud800' }}", "cannot be filled in"),
}
"""Templates that take time or memory, and what the refusal says."""


@pytest.mark.parametrize("attack", ESCAPES.values(), ids=ESCAPES)
def test_a_template_finds_no_other_way_out(tmp_path: Path, attack: str) -> None:
    """Refused, or left with nothing but text that is no object of Python."""
    tuning = with_template(tmp_path, f"{{{{ gain }}}}\n{{{{ delay }}}}\n{attack}\n")
    text = ""
    with suppress(FormatError):
        text = DeckWriter(tuning).write(VALUES, name="p001").text
    assert not any(word in text for word in ("class", "object", "built-in", "function", "root:"))


@pytest.mark.parametrize(("attack", "words"), EXHAUSTING.values(), ids=EXHAUSTING)
def test_a_template_takes_limited_time_and_memory(
    tmp_path: Path, attack: str, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One sentence; the program that asked for the deck goes on."""
    monkeypatch.setattr("correlate.tuning.decks.SECONDS", 2)
    tuning = with_template(tmp_path, f"{{{{ gain }}}}\n{{{{ delay }}}}\n{attack}\n")
    with pytest.raises(FormatError, match=rf"model\.template.*: the template .*({words})"):
        DeckWriter(tuning).write(VALUES, name="p001")


def test_decks_are_written_after_one_that_took_too_much(tmp_path: Path) -> None:
    """Only the point that sets it off is refused, as often as it is asked for."""
    attack = "{{ gain }} {{ delay }}{% if gain > 2.5 %}{{ point.center(1000000000) }}{% endif %}"
    writer = DeckWriter(with_template(tmp_path, attack))
    for _ in range(2):
        assert writer.write(VALUES, name="p001").text == "2.5 1e-05"
        with pytest.raises(FormatError, match="takes too much memory"):
            writer.write({**VALUES, "gain": 3.0}, name="p002")


def test_no_process_is_left(tmp_path: Path) -> None:
    """The one that fills in the template ends with the writer of decks, after success and after a refusal."""
    writer = DeckWriter(with_template(tmp_path, "{{ gain }} {{ delay }}"))
    assert writer._template is not None
    process = writer._template._process
    assert process is not None
    del writer
    gc.collect()
    assert process._process.returncode is not None
