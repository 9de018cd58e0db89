"""Partners of test channels among the model's, one to one.

The odds of all pairs are brought together by the assignment that makes their sum largest; a channel whose
odds are too low stays alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.campaign.clues import View, WeighedPair, weigh
from correlate.display import short_repr

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    Pairs = Mapping[tuple[str, str], WeighedPair]
    """By name of the test channel and of the model channel."""


LEAST_ODDS: Final = -4.0
"""Below these a channel stays alone. Found on other projects, seeds 3000 to 3029: lower ones pair channels
that have no partner there, higher ones leave channels alone that have one."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A possible partner of a test channel.

    Attributes
    ----------
    test, model
        Names of the channels.
    score
        Confidence in [0, 1] that both measure the same, compared with the other possible partners.
    sign
        -1 when the model fits better with its sign inverted.
    sign_agrees
        False when it fits better so in one load case or release, and better otherwise in another.
    reasons
        Why, one clause each.
    unit
        Unit that the model's channel probably has, where its file gives none; else empty.
    odds
        Logarithm of the odds, from names and curves alone.
    size
        Natural logarithm of the size of the model's curve over that of the test.
    """

    test: str
    model: str
    score: float
    sign: int
    reasons: tuple[str, ...]
    unit: str = ""
    odds: float = 0.0
    size: float = 0.0
    sign_agrees: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Assignment:
    """Partners of the test channels of a load case.

    Attributes
    ----------
    partners
        In the order of the test channels, each model channel once.
    alone
        Test channels without a partner, and why.
    """

    partners: tuple[Proposal, ...]
    alone: Mapping[str, str]


def assign(cases: Mapping[str, Sequence[View]]) -> dict[str, Assignment]:
    """Assign model channels to test channels, one to one in each load case.

    Parameters
    ----------
    cases
        Views of each load case, of one release or several. Names that occur in several load cases are taken
        to mean the same in all, so what one of them says counts for the others.

    Returns
    -------
    dict of str to Assignment
    """
    every = [view for views in cases.values() for view in views]
    weighed = weigh(every, set(_test_names(every)))
    return {name: _assigned(_present(views, weighed), _test_names(views)) for name, views in cases.items()}


def ranked(
    cases: Mapping[str, Sequence[View]], taken: Mapping[str, tuple[Collection[str], Collection[str]]]
) -> dict[str, list[list[Proposal]]]:
    """Rank the model's channels for each test channel that has no partner.

    Parameters
    ----------
    cases
        As for `assign`.
    taken
        By load case: test channels and model channels that are paired already.

    Returns
    -------
    dict of str to list of list of Proposal
        By load case, one list per test channel, the assigned channel first. A test channel for which nothing
        is left that measures the same is left out, so no channel of the model is first twice.
    """
    alone = {
        name: [test for test in _test_names(views) if test not in taken.get(name, ((), ()))[0]]
        for name, views in cases.items()
    }
    # A pair of names is weighed by all load cases, so whatever is open in one is compared in all.
    wanted = {test for tests in alone.values() for test in tests}
    weighed = weigh([view for views in cases.values() for view in views], wanted)
    found = {}
    for name, views in cases.items():
        tests, models = taken.get(name, ((), ()))
        pairs = {
            (test, model): pair
            for (test, model), pair in _present(views, weighed).items()
            if test not in tests and model not in models
        }
        found[name] = _rankings(pairs, alone[name])
    return found


def _rankings(pairs: Pairs, tests: Sequence[str]) -> list[list[Proposal]]:
    """Return the proposals for each test channel: whoever the assignment leaves alone gets what is left."""
    sure = {one.test: one for one in _assigned(pairs, tests).partners}
    left = _assigned(
        _others(pairs, sure.values()), [test for test in tests if test not in sure], least=_NEVER / 2
    )
    first = sure | {one.test: one for one in left.partners}
    owner = {one.model: one.test for one in first.values()}
    found = []
    for test in tests:
        if test not in first:
            continue
        mine = {model: pair for (name, model), pair in pairs.items() if name == test}
        best = first[test]
        behind = [
            _proposal(test, model, pair, _behind(pairs, (test, model), best.model, owner))
            for model, pair in mine.items()
            if model != best.model
        ]
        behind = [replace(one, score=min(one.score, best.score)) for one in behind]
        found.append([best, *sorted(behind, key=lambda one: (-one.score, -mine[one.model].odds, one.model))])
    return found


def _others(pairs: Pairs, partners: Iterable[Proposal]) -> dict[tuple[str, str], WeighedPair]:
    """Return the pairs of which neither channel has a partner."""
    tests, models = set(), set()
    for one in partners:
        tests.add(one.test)
        models.add(one.model)
    return {pair: found for pair, found in pairs.items() if pair[0] not in tests and pair[1] not in models}


def _behind(pairs: Pairs, pair: tuple[str, str], best: str, owner: Mapping[str, str]) -> float:
    """Return by how much the odds would fall if a test channel went with another than its best one."""
    test, model = pair
    behind = pairs[pair].odds - pairs[test, best].odds
    if model in owner:
        behind -= max(0.0, pairs[owner[model], model].odds - LEAST_ODDS)
    return behind


def _test_names(views: Sequence[View]) -> list[str]:
    return list(dict.fromkeys(n for view in views for one in view.tests for n in one.channel_names))


def _present(views: Sequence[View], weighed: Pairs) -> dict[tuple[str, str], WeighedPair]:
    """Return the pairs that occur in the views of a load case."""
    names = dict.fromkeys(name for view in views for name in view.model.channel_names)
    found = {}
    for test in _test_names(views):
        for model in names:
            if (test, model) in weighed:
                found[test, model] = weighed[test, model]
    return found


class _Board:
    """The odds as a table, with a column for each test channel that stays alone."""

    def __init__(self, pairs: Pairs, tests: Sequence[str], least: float) -> None:
        self.tests = list(tests)
        self.models = list(dict.fromkeys(model for _, model in pairs))
        count = len(self.tests)
        self.gain = np.full((count, len(self.models) + count), _NEVER)
        for (test, model), pair in pairs.items():
            self.gain[self.tests.index(test), self.models.index(model)] = pair.odds
        for row in range(count):
            self.gain[row, len(self.models) + row] = least

    def solve(self) -> tuple[list[int], float]:
        """Return the column of each row, and the sum of the odds."""
        from scipy.optimize import linear_sum_assignment  # noqa: PLC0415 - slow to load

        rows, columns = linear_sum_assignment(self.gain, maximize=True)
        return columns.tolist(), float(self.gain[rows, columns].sum())

    def without(self, row: int, column: int) -> float:
        """Return the largest sum when two may not go together."""
        kept, self.gain[row, column] = self.gain[row, column], _NEVER
        total = self.solve()[1]
        self.gain[row, column] = kept
        return total


_NEVER: Final = -1e6


def _assigned(pairs: Pairs, tests: Sequence[str], least: float = LEAST_ODDS) -> Assignment:
    board = _Board(pairs, tests, least)
    columns, total = board.solve()
    partners: list[Proposal] = []
    alone: dict[str, str] = {}
    for row, (test, column) in enumerate(zip(board.tests, columns, strict=True)):
        if column >= len(board.models):
            alone[test] = _why_alone(test, pairs)
            continue
        model = board.models[column]
        ahead = min(total - board.without(row, column), pairs[test, model].odds - LEAST_ODDS)
        partners.append(_proposal(test, model, pairs[test, model], ahead))
    return Assignment(partners=tuple(partners), alone=alone)


def _why_alone(test: str, pairs: Pairs) -> str:
    mine = {model: pair for (name, model), pair in pairs.items() if name == test}
    if not mine:
        return "no channel of the model measures the same quantity"
    closest = max(mine, key=lambda model: mine[model].odds)
    return f"no model channel is similar enough; the closest is '{closest}'"


def _proposal(test: str, model: str, pair: WeighedPair, ahead: float) -> Proposal:
    return Proposal(
        test=test,
        model=model,
        score=1.0 / (1.0 + math.exp(-min(max(ahead, -500.0), 500.0))),
        sign=pair.sign,
        sign_agrees=pair.sign_agrees,
        reasons=pair.reasons,
        unit=pair.unit,
        odds=pair.odds,
        size=pair.size,
    )
