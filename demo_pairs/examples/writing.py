"""Write the two example pairs: a cut of one laboratory test, and the solver's output beside it.

Layout::

    <name>/test/<TEST>/               ISO/TS 13499 test folder
    <name>/model/<load-case>.csv      output of the solver, with its deck and run log
"""

import shutil
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from correlate.temporary import temporary_folder
from demo_pairs.build import DECKS, make_release
from demo_pairs.laboratory import TestRecord, record
from demo_pairs.writing import write_record

RELEASE = "A3"
REPEAT = 1


@dataclass(frozen=True, kw_only=True)
class Example:
    """One example.

    Attributes
    ----------
    name
        Folder.
    load_case
        What was run.
    start, end
        Kept part of the record [s]; it holds the 35 ms whose mean the campaign takes off as offset,
        and more than the filter needs after the interval of evaluation.
    """

    name: str
    load_case: str
    start: float
    end: float


EXAMPLES = (
    Example(name="thorax", load_case="thorax-impact", start=-0.045, end=0.100),
    Example(name="neck", load_case="neck-flexion", start=-0.045, end=0.180),
)


def cut(test: TestRecord, start: float, end: float) -> TestRecord:
    """Keep a part of a record, and say so in its title."""
    first = round((start - test.first_time) / test.sampling_step)
    last = round((end - test.first_time) / test.sampling_step)
    return replace(
        test,
        title=f"{test.title}, record cut to {1e3 * start:g} to {1e3 * end:g} ms",
        first_time=start,
        channels=tuple(
            replace(channel, samples=channel.samples[first : last + 1]) for channel in test.channels
        ),
    )


def write_examples(into: Path, examples: Iterable[Example] = EXAMPLES) -> None:
    """Write the examples, each folder replaced only once its successor is complete."""
    into.mkdir(parents=True, exist_ok=True)
    with temporary_folder(into / "examples") as scratch:
        for example in examples:
            made = scratch / example.name
            _write(example, made)
            if (into / example.name).exists():
                (into / example.name).replace(scratch / f"{example.name}-before")
            made.replace(into / example.name)


def _write(example: Example, made: Path) -> None:
    test = cut(record(example.load_case, REPEAT), example.start, example.end)
    (made / "test").mkdir(parents=True)
    write_record(test, made / "test" / test.name)
    make_release(DECKS / f"{RELEASE}.deck", (example.load_case,), made)
    (made / "releases" / RELEASE).replace(made / "model")
    shutil.rmtree(made / "releases")
