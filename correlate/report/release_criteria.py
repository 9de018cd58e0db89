"""Criteria and qualification windows of a load case, in its tests and in the model."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from correlate.criteria import Preparation, compare_recorded, qualify, recorded_criteria
from correlate.evaluation.coded_channel import coded_model

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.criteria import CriterionComparison, Device, Qualification, Window, WindowBook
    from correlate.evaluation.tables import LoadCase
    from correlate.formats import Recording


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseCriteria:
    """Criteria of a load case.

    Attributes
    ----------
    device
        Whose constants and limits are used.
    compared
        Those that the model and every repeat have.
    """

    device: Device
    compared: tuple[CriterionComparison, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CaseWindows:
    """Windows of a load case.

    Attributes
    ----------
    window
        Of one qualification test.
    tests
        One a repeat.
    model
        The model against the same windows.
    """

    window: Window
    tests: tuple[Qualification, ...]
    model: Qualification


def case_criteria(
    load_case: LoadCase, tests: Sequence[Recording], model: Recording, device: Device
) -> CaseCriteria:
    """Compute the criteria of a load case within its interval of evaluation.

    Parameters
    ----------
    load_case
        Its interval, and which channel of the model stands for which of the test.
    tests
        One a repeat.
    model
        As read.
    device
        Whose constants are used.

    Returns
    -------
    CaseCriteria
    """
    start_s, end_s = (value / 1e3 for value in load_case.interval_ms)
    asked = Preparation(start_s=start_s, end_s=end_s)
    repeats = [recorded_criteria(test, device, preparation=asked) for test in tests]
    ours = recorded_criteria(coded_model(load_case, model), device, preparation=asked)
    return CaseCriteria(device=device, compared=compare_recorded(repeats, ours))


def case_windows(
    load_case: LoadCase, tests: Sequence[Recording], model: Recording, window: Window, book: WindowBook
) -> CaseWindows:
    """Compare the tests and the model of a load case with the windows of a qualification test.

    Parameters
    ----------
    load_case
        Which channel of the model stands for which of the test.
    tests
        One a repeat.
    model
        As read.
    window, book
        What is measured and how.

    Returns
    -------
    CaseWindows
    """
    return CaseWindows(
        window=window,
        tests=tuple(qualify(test, window, book) for test in tests),
        model=qualify(coded_model(load_case, model), window, book),
    )
