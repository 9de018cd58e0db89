"""The curves of a pair as a download: conditioned, on one grid, with their history."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from correlate.plots import step_words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from correlate import Signal
    from dashboard.pages.pair_parts import Looked


def curves_file(looked: Looked, *, campaign_title: str, shown_path: Callable[[str], str]) -> tuple[str, str]:
    """Return name and content of the file.

    Parameters
    ----------
    looked
        The pair, with the releases that are drawn over it.
    campaign_title
        Of the campaign.
    shown_path
        Shortens the path of a file for showing.

    Returns
    -------
    name, content : str
        Delimited text that :func:`correlate.read` reads: comments with file, hash and every step of each
        curve, then time in s and the curves in their unit, with all digits. A change that was tried is not
        in it.
    """
    pair = looked.selection.pair
    models = {pair.release.name: looked.score, **looked.others}
    signals = {f"test {pair.repeat_words}": looked.score.reference}
    signals |= {f"model {name}": score.candidate for name, score in models.items()}
    text = io.StringIO()
    text.write(f"# Campaign: {_one_line(campaign_title)}\n# Load case: {_one_line(pair.load_case.name)}\n")
    text.writelines(
        f"# {line}\n" for name, signal in signals.items() for line in _history(name, signal, shown_path)
    )
    rows = csv.writer(text, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\n")
    rows.writerow(["time [s]", *(f"{name} [{signal.unit}]" for name, signal in signals.items())])
    columns = [looked.score.rating.pair.time, *(signal.samples for signal in signals.values())]
    rows.writerows(zip(*(column.tolist() for column in columns), strict=True))
    name = "-".join([pair.load_case.name, pair.channel.name, pair.repeat_words, *models])
    return f"{_file_name(name)}.csv", text.getvalue()


def _history(name: str, signal: Signal, shown_path: Callable[[str], str]) -> Iterator[str]:
    yield f"{_one_line(name)}, channel: {_one_line(signal.channel)}"
    yield f"{_one_line(name)}, file: {_one_line(shown_path(signal.source.file))}"
    yield f"{_one_line(name)}, SHA-256: {signal.source.sha256 or 'none'}"
    for number, step in enumerate(signal.history, start=1):
        said, settings = step_words(step)
        yield _one_line(f"{name}, step {number}: {said} {settings}".strip())


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _file_name(text: str) -> str:
    """Keep letters, digits and what no file system minds."""
    return "".join(letter if letter.isalnum() or letter in "-_." else "_" for letter in text)[:120]
