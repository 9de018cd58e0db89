"""The curves of a pair as a file to download."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING, Any

from dash import no_update

from correlate import CorrelateError
from correlate.plots import step_words
from dashboard.access import record
from dashboard.pages.pair.address import PairAddress
from dashboard.pages.pair.layout import looked_at
from dashboard.selection import file_name

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from correlate import Signal
    from dashboard.pages.pair.analysis import PairAnalysis
    from dashboard.pages.pair.layout import Looked


def download(analysis: PairAnalysis, search: str | None) -> tuple[Any, str]:
    """Return the curves of the pair that is shown as a file."""
    try:
        campaign = analysis.project.campaign()
        looked = looked_at(analysis, campaign, PairAddress.from_search(search))
    except CorrelateError as error:
        return no_update, str(error)
    name, content = curves_file(looked, campaign_title=campaign.title, shown_path=analysis.project.shown_path)
    record("downloaded curves", pair_named(looked))
    return {"content": content, "filename": name, "type": "text/csv"}, ""


def pair_named(looked: Looked) -> str:
    """Return what is shown, as the audit trail names it."""
    pair = looked.selection.pair
    tests = ", ".join(one.repeat_words for one in looked.selection.pairs)
    releases = ", ".join([pair.release.name, *looked.others])
    return f"load case {pair.load_case.name}, channel {pair.channel.name}, release {releases}, test {tests}"


def curves_file(looked: Looked, *, campaign_title: str, shown_path: Callable[[str], str]) -> tuple[str, str]:
    """Return name and content of the file."""
    selection, rated = looked.selection, looked.rated
    pair = selection.pair
    models = {pair.release.name: rated, **looked.others}
    signals = {f"test {name}": score.reference for name, score in rated.scores.items()}
    signals |= {f"model {name}": one.first.candidate for name, one in models.items()}
    text = io.StringIO()
    text.write(f"# Campaign: {_one_line(campaign_title)}\n# Load case: {_one_line(pair.load_case.name)}\n")
    text.writelines(
        f"# {line}\n" for name, signal in signals.items() for line in _history(name, signal, shown_path)
    )
    rows = csv.writer(text, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\n")
    rows.writerow(["time [s]", *(f"{name} [{signal.unit}]" for name, signal in signals.items())])
    columns = [rated.time, *(signal.samples for signal in signals.values())]
    rows.writerows(zip(*(column.tolist() for column in columns), strict=True))
    name = file_name([pair.load_case.name, pair.channel.name, selection.repeat_words, *models])
    return f"{name}.csv", text.getvalue()


def _history(name: str, signal: Signal, shown_path: Callable[[str], str]) -> Iterator[str]:
    yield f"{_one_line(name)}, channel: {_one_line(signal.channel)}"
    yield f"{_one_line(name)}, file: {_one_line(shown_path(signal.source.file))}"
    yield f"{_one_line(name)}, SHA-256: {signal.source.sha256 or 'none'}"
    for number, step in enumerate(signal.history, start=1):
        said, settings = step_words(step)
        yield _one_line(f"{name}, step {number}: {said} {settings}".strip())


def _one_line(text: str) -> str:
    return " ".join(text.split())
