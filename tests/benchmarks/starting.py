"""How often ``correlate start`` is right on invented projects: partners, signs, groups, lines.

python -m tests.benchmarks.starting 20 5000      # projects of each shape, first seed
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from correlate.campaign.first_file import LEAST, FirstCampaign, Told
from correlate.campaign.first_text import campaign_text
from correlate.errors import CorrelateError
from tests.projects.shapes import REPEATS, SHAPES, fixed_name

if TYPE_CHECKING:
    from tests.projects.shapes import Drawn


@dataclass
class Tally:
    """Counts over projects of one shape.

    Attributes
    ----------
    counts
        By word.
    lines
        Of each campaign file.
    wrong
        What was wrong, a line each.
    """

    counts: Counter[str] = field(default_factory=Counter)
    lines: list[int] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)

    def share(self, part: str, whole: str) -> float:
        """Return a part of a whole; 1 where there is nothing to be right about."""
        return self.counts[part] / self.counts[whole] if self.counts[whole] else 1.0


def measure(shape: str, seed: int, folder: Path, tally: Tally) -> None:
    """Draw a project, let it be started, and count what is right."""
    project = SHAPES[shape](folder, seed)
    try:
        first = FirstCampaign(folder, Told())
        text = campaign_text(first)
    except CorrelateError as error:
        tally.counts["groupings"] += 1
        tally.wrong.append(f"{shape} {seed}: {error}")
        return
    tally.lines.append(len(text.splitlines()))
    _count_groups(project, first, tally, f"{shape} {seed}")
    for case in project.cases:
        _count_partners(project, case, first, tally, f"{shape} {seed}")


def _count_groups(project: Drawn, first: FirstCampaign, tally: Tally, place: str) -> None:
    """Count a grouping as right when every load case has its own repeats and one run of each release."""
    tally.counts["groupings"] += 1
    places = [
        _case_in(project, [one.recording.title or one.relative for one in case.tests])
        for case in first.grouping.cases
    ]
    runs = [
        _case_in(project, [_words_of(one.relative) for one in files])
        for case in first.grouping.cases
        for files in case.results.values()
    ]
    is_right = (
        sorted(places) == sorted(project.cases)
        and all(len(case.tests) == REPEATS for case in first.grouping.cases)
        and all(len(case.results) == len(project.releases) for case in first.grouping.cases)
        and runs == [name for name in places for _ in project.releases]
        and all(
            release.endswith(told)
            for case in first.grouping.cases
            for release, told in zip(sorted(case.results), sorted(project.releases), strict=True)
        )
    )
    tally.counts["groupings right"] += is_right
    if not is_right:
        tally.wrong.append(f"{place}: groups {places} {runs} {first.grouping.releases}")


def _words_of(relative: str) -> str:
    return relative.replace("_", "-").replace("4p3", "4.3").replace("6p7", "6.7")


def _case_in(project: Drawn, texts: list[str]) -> str:
    """Return the load case that all texts name; empty when they do not agree."""
    named = {case for text in texts for case in project.cases if case in _words_of(text).replace(" ", "-")}
    return named.pop() if len(named) == 1 else ""


def _count_partners(project: Drawn, case: str, first: FirstCampaign, tally: Tally, place: str) -> None:
    own = next(
        (
            one
            for one in first.grouping.cases
            if _case_in(project, [test.recording.title or test.relative for test in one.tests]) == case
        ),
        None,
    )
    assigned = first.assignments.get(own.name) if own else None
    found = {one.test: one for one in assigned.partners} if assigned else {}
    for test, (model, sign) in project.truth(case).items():
        tally.counts["partners"] += 1
        one = found.get(test)
        is_right = one is not None and one.model in {model, fixed_name(model)}
        tally.counts["partners right"] += is_right
        if one is not None and one.score >= LEAST:
            tally.counts["accepted"] += 1
            tally.counts["accepted right"] += is_right and one.sign == sign
        if is_right and one is not None:
            tally.counts["signs right"] += one.sign == sign
        else:
            tally.wrong.append(f"{place} {case}: {test} is '{model}', found {one.model if one else 'none'}")
    for test in project.alone(case):
        tally.counts["alone"] += 1
        tally.counts["alone right"] += test not in found
        if test in found and found[test].score >= LEAST:
            tally.counts["accepted"] += 1


def main(count: int, first_seed: int) -> dict[str, Tally]:
    """Measure every shape and print a table."""
    tallies = {}
    heads = ("partners", "right", "signs", "accepted", "right", "alone", "right", "groups", "lines")
    print(f"{'shape':12}", *(f"{head:>8}" for head in heads))
    for number, shape in enumerate(SHAPES):
        tally = tallies[shape] = Tally()
        for seed in range(first_seed + 1000 * number, first_seed + 1000 * number + count):
            with tempfile.TemporaryDirectory() as folder:
                measure(shape, seed, Path(folder) / "project", tally)
        counts = tally.counts
        shares = (
            counts["partners"],
            tally.share("partners right", "partners"),
            tally.share("signs right", "partners right"),
            counts["accepted"],
            tally.share("accepted right", "accepted"),
            counts["alone"],
            tally.share("alone right", "alone"),
            tally.share("groupings right", "groupings"),
            max(tally.lines, default=0),
        )
        print(f"{shape:12}", *(f"{one:8}" if isinstance(one, int) else f"{one:8.3f}" for one in shares))
        print("\n".join(f"    {line}" for line in tally.wrong[:12]), file=sys.stderr)
    return tallies


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
