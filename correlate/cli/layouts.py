"""``correlate layout``, and the option ``--layout`` of the commands that read data."""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click
from click.core import ParameterSource

from correlate.errors import CorrelateError, FormatError, SettingsError

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from rich.console import Console

    from correlate.formats.columns import ColumnLayout
    from correlate.formats.columns.proposal import Answers, LayoutProposal, Question


layouts_option = click.option(
    "--layout",
    "layout_files",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Layout file for text that no format recognises, see `correlate layout`.  May be repeated.",
)


def loaded_layouts(files: Iterable[Path]) -> tuple[ColumnLayout, ...]:
    """Read the layout files of ``--layout``."""
    from correlate.formats.columns.layout_file import load_layout

    return tuple(load_layout(file) for file in files)


NOT_WRITTEN: Final = 1
"""Exit code when questions are open; 2 is wrong input."""


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--units", metavar="SYSTEM", default="", help="Unit system of columns without a unit, such as mm-ms-kg."
)
@click.option("--time", metavar="NAME", default="", help="Name of the time column.")
@click.option(
    "--column",
    "columns",
    multiple=True,
    metavar="NAME=WHAT",
    help="Quantity or unit of a column, or 'ignore'.  May be repeated.",
)
@click.option("--rename", multiple=True, metavar="NAME=NEW", help="New name for a column.  May be repeated.")
@click.option(
    "--missing",
    multiple=True,
    metavar="TEXT",
    help="Text or number that stands for a missing value, or 'none'.  May be repeated.",
)
@click.option("--normal-end", metavar="TEXT", help="Line that marks the normal end of a run, or 'none'.")
@click.option(
    "--normal-end-file",
    metavar="NAME",
    default="",
    help="File beside FILE that contains this line; {stem} is the name of FILE without suffix.",
)
@click.option(
    "--files",
    multiple=True,
    metavar="PATTERN",
    help="Names of the files it applies to.  May be repeated.  [default: all with the suffix of FILE]",
)
@click.option("--accept", is_flag=True, help="Accept all proposals instead of asking.")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="LAYOUT",
    help="Layout file to write.  [default: layouts/NAME.toml in the project that contains FILE]",
)
@layouts_option
def layout_command(
    *,
    file: Path,
    units: str,
    time: str,
    columns: tuple[str, ...],
    rename: tuple[str, ...],
    missing: tuple[str, ...],
    normal_end: str | None,
    normal_end_file: str,
    files: tuple[str, ...],
    accept: bool,
    out: Path | None,
    layout_files: tuple[Path, ...],
) -> None:
    """Examine FILE, a text file that no format recognises, and write a layout for it.

    Prints title, header, first rows and a sketch of every column. In a terminal, the command asks for what
    the file does not state; otherwise it lists the options that answer these questions, and the exit code
    is 1. A file that can be read without a layout is only shown. With --layout, FILE is read with that
    layout and shown. In both cases nothing is written.
    """
    from rich.console import Console

    from correlate.formats.columns.proposal import NONE, Answers

    console = Console(highlight=False)
    if layout_files:
        _try(console, file, layout_files)
        return
    context = click.get_current_context()
    if not _is_given(context, "layout_files", "file") and _is_read_without(console, file):
        return
    answers = Answers(
        time=time,
        units=units,
        columns=dict(_pairs(columns, "--column")),
        names=dict(_pairs(rename, "--rename")),
        missing=tuple(mark for mark in missing if mark != NONE) if missing else None,
        normal_end=normal_end,
        normal_end_file=normal_end_file,
        files=files,
    )
    _describe(console, file, answers, accept=accept, out=out)


def _pairs(texts: Sequence[str], option: str) -> Iterable[tuple[str, str]]:
    for text in texts:
        name, equals, value = text.rpartition("=")
        if not (name and equals and value):
            raise SettingsError(
                f"{option} '{text}' is not NAME=VALUE", remedy="give the name of a column and a value"
            )
        yield name, value


def _is_given(context: click.Context, *others: str) -> bool:
    """Say whether the command line has any option but the others."""
    given = (name for name in context.params if name not in others)
    return any(context.get_parameter_source(name) is ParameterSource.COMMANDLINE for name in given)


def _is_read_without(console: Console, file: Path) -> bool:
    """Show a file that can be read without a layout, and say whether it is one."""
    from correlate.formats import read
    from correlate.report.layout import print_recording

    try:
        recording = read(file)
    except CorrelateError:
        return False
    print_recording(console, recording)
    click.echo(f"{file} can be read as {recording.format}, without a layout. To write one anyway, use --out.")
    return True


def _try(console: Console, file: Path, layout_files: Sequence[Path]) -> None:
    """Read a file with existing layouts, and show its channels."""
    from correlate.formats.columns import layout_for, read_columns_so_far
    from correlate.report.layout import print_recording

    layout = layout_for(file, loaded_layouts(layout_files))
    if layout is None:
        raise SettingsError(
            "no layout applies to a file of this name",
            where=str(file),
            remedy="correct 'files' in the layout",
        )
    print_recording(console, read_columns_so_far(file, layout))


def _describe(console: Console, file: Path, answers: Answers, *, accept: bool, out: Path | None) -> None:
    """Show the file, find out what it does not say, write the layout and read the file by it."""
    from correlate.files import write_text
    from correlate.formats.columns import read_columns_so_far
    from correlate.formats.columns.layout_file import layout_of
    from correlate.formats.columns.proposal import propose_layout
    from correlate.report.layout import layout_toml, print_look, print_questions, print_recording

    target = out or _place_for(file)
    if target.exists():
        raise FormatError(
            "already exists", where=str(target), remedy="choose another file with --out, or remove it"
        )
    proposal = propose_layout(file, answers)
    print_look(console, proposal)
    if accept:
        proposal = _accepted(proposal)
    elif sys.stdin.isatty() and sys.stdout.isatty():
        proposal = _asked(proposal)
    if proposal.questions:
        print_questions(console, proposal.questions)
        sys.exit(NOT_WRITTEN)
    words = proposal.table()
    # Read first: a layout that does not read its own example is not written.
    recording = read_columns_so_far(file, layout_of(words, target.stem))
    print_recording(console, recording)
    target.parent.mkdir(parents=True, exist_ok=True)
    write_text(target, layout_toml(words, file.name))
    click.echo(f"written: {target}")


def _place_for(file: Path) -> Path:
    """Return the layout file of the nearest project around a file, else of its own folder."""
    folders = Path(os.path.realpath(file)).parents
    project = next((one for one in folders if (one / "campaign.toml").exists()), file.parent)
    name = re.sub(r"[^\w.+-]+", "-", file.stem)
    return project / "layouts" / f"{name}.toml"


def _accepted(proposal: LayoutProposal) -> LayoutProposal:
    """Answer every question that has a proposal by it."""
    for question in proposal.questions:
        if question.proposal:
            proposal = _with_answer(proposal, question, question.proposal)
    return proposal


def _asked(proposal: LayoutProposal) -> LayoutProposal:
    """Ask one question after the other; an answer may settle the next."""
    while proposal.questions:
        question = proposal.questions[0]
        reason = f" ({question.reason})" if question.reason else ""
        said = click.prompt(
            f"{question.text[:1].upper()}{question.text[1:]}{reason}", question.proposal or None
        )
        try:
            answered = _with_answer(proposal, question, said)
            answered.table()
        except SettingsError as error:
            click.echo(str(error), err=True)
            continue
        proposal = answered
    return proposal


def _with_answer(proposal: LayoutProposal, question: Question, said: str) -> LayoutProposal:
    from dataclasses import replace

    from correlate.formats.columns.proposal import NONE, LayoutProposal

    answers = proposal.answers
    if question.about == "units":
        answers = replace(answers, units=said)
    elif question.about == "time":
        answers = replace(answers, time=said)
    elif question.about == "missing":
        marks = (mark.strip() for mark in said.split(","))
        answers = replace(answers, missing=tuple(mark for mark in marks if mark and mark != NONE))
    elif question.about == "normal end":
        answers = replace(answers, normal_end=said)
    else:
        answers = replace(answers, columns={**answers.columns, question.about: said})
    return LayoutProposal(proposal.look, answers)
