"""Errors: one sentence with place and remedy, of one family, that survive a process boundary."""

from __future__ import annotations

import pickle

import pytest

from correlate import errors
from correlate.errors import CorrelateError, SignalError

KINDS = [
    errors.CorrelateError,
    errors.FormatError,
    errors.ChannelError,
    errors.UnitError,
    errors.SignalError,
    errors.SettingsError,
]


@pytest.mark.parametrize(
    ("where", "remedy", "sentence"),
    [
        ("", "", "it is empty"),
        ("run1.csv", "", "run1.csv: it is empty"),
        ("", "export it again", "it is empty; export it again"),
        ("run1.csv, line 4", "export it again", "run1.csv, line 4: it is empty; export it again"),
    ],
)
def test_sentence(where: str, remedy: str, sentence: str) -> None:
    """Place, fault and remedy make one sentence; what is not given leaves no punctuation behind."""
    assert str(CorrelateError("it is empty", where=where, remedy=remedy)) == sentence


@pytest.mark.parametrize("kind", KINDS)
def test_all_are_caught_as_one_family(kind: type[CorrelateError]) -> None:
    """Whoever catches the base catches every kind."""
    with pytest.raises(CorrelateError, match="it is empty"):
        raise kind("it is empty")


@pytest.mark.parametrize("kind", KINDS)
def test_survives_pickling(kind: type[CorrelateError]) -> None:
    """An error raised in a worker process arrives whole in the main one."""
    error = pickle.loads(pickle.dumps(kind("it is empty", where="run1.csv", remedy="export it again")))  # noqa: S301
    assert type(error) is kind
    assert (error.what, error.where, error.remedy) == ("it is empty", "run1.csv", "export it again")
    assert str(error) == "run1.csv: it is empty; export it again"


def test_outer_place_goes_in_front() -> None:
    """The file that an outer layer knows comes before the channel; kind and remedy stay."""
    inner = SignalError("sample 3 is nan", where="channel 'ax'", remedy="export it again")
    outer = inner.located("run1.csv")
    assert type(outer) is SignalError
    assert str(outer) == "run1.csv, channel 'ax': sample 3 is nan; export it again"
    assert str(SignalError("it is empty").located("run1.csv")) == "run1.csv: it is empty"


@pytest.mark.parametrize(
    ("quoted", "shown"),
    [
        ("-1.0\n-1.0", r"-1.0\n-1.0"),
        ("\x1b[2J", r"\x1b[2J"),
        ("run\u202evsc", r"run\u202evsc"),
        ("a\x00b", r"a\x00b"),
        ("y" * 20_000, "y" * 100 + "…"),
        ("Kraft in µm", "Kraft in µm"),
    ],
)
def test_a_quoted_file_cannot_break_the_sentence(quoted: str, shown: str) -> None:
    """Line feeds, control and direction characters are written out, very long words cut short."""
    error = CorrelateError(f"'{quoted}' is not a number", where="run1.csv", remedy=f"correct '{quoted}'")
    assert str(error).startswith(f"run1.csv: '{shown}"[:90])
    assert str(error).isprintable()
    assert len(str(error)) < 500
    assert error.cause.isprintable()


def test_an_odd_path_is_written_out_and_never_cut() -> None:
    """The place of an error stays whole as far as it is a path, also where an outer layer adds its own."""
    path = "/".join(["x" * 200] * 10)
    error = CorrelateError("it is empty", where=f"a\nb/{path}")
    assert error.where == rf"a\nb/{path}"
    assert error.located("c\x00").where == rf"c\x00, a\nb/{path}"
    outer = error.located("the first, '" + "y" * 20_000)
    assert outer.where.startswith("the first, '" + "y" * 254 + "…")
    assert error.reworded("'a\nb' is odd").what == r"'a\nb' is odd"
