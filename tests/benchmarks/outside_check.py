"""The data check on load cases of laboratories outside: ``python -m tests.benchmarks.outside_check``.

``--final`` takes the seeds that no limit was chosen with. ``--details`` lists every miss and false alarm.
"""

from __future__ import annotations

import sys
from collections import Counter
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.reference.check import check
from tests.reference.outside_faults import FAULTS, plant
from tests.reference.outside_laboratory import load_cases

if TYPE_CHECKING:
    from correlate.reference.check import CheckOutcome
    from tests.reference.outside_faults import Planted
    from tests.reference.outside_laboratory import LoadCase

SEEDS: Final = range(8)
"""The limits were chosen with these …"""
FINAL_SEEDS: Final = range(11000, 11005)
"""… and are measured with these."""


class Tally:
    """What was found, what was not, and what was found where nothing is."""

    def __init__(self, *, details: bool) -> None:
        self._details = details
        self.planted: Counter[str] = Counter()
        self.found: Counter[str] = Counter()
        self.named: Counter[str] = Counter()
        self.accused: Counter[str] = Counter()
        self.channels: Counter[str] = Counter()
        self.alarms: Counter[str] = Counter()
        self.cases = self.refused = 0

    def note_fault(self, kind: str, case: Planted, outcome: CheckOutcome) -> None:
        """Count one planted fault."""
        findings = [one for one in outcome.findings if one.severity != "note"]
        here = {
            one.kind
            for one in findings
            if one.file == str(case.bad.path) and (one.channel in case.channels or not one.channel)
        }
        self.planted[kind] += 1
        self.found[kind] += bool(here)
        self.named[kind] += bool(here & case.names)
        wrong = [
            one
            for one in findings
            if one.severity == "error"
            and not (one.file == str(case.bad.path) and one.channel in case.channels)
        ]
        self.accused[kind] += bool(wrong)
        if self._details and not here & case.names:
            print("missed", kind, case.bad.path, sorted(case.channels)[:3], sorted(here))
        if self._details:
            for one in wrong:
                print("accused", kind, sorted(case.channels)[:3], one.file, one.channel, one.kind, one.what)

    def note_clean(self, case: LoadCase, outcome: CheckOutcome) -> None:
        """Count the false alarms of an honest load case."""
        findings = [one for one in outcome.findings if one.severity != "note"]
        self.cases += 1
        self.refused += outcome.has_errors
        for role, codes in (("main", case.main), ("minor", case.minor)):
            self.channels[role] += len(codes) * len(case.tests)
            self.alarms[role] += sum(one.channel in codes for one in findings)
        self.alarms["test"] += sum(not one.channel for one in findings)
        if self._details:
            for one in findings:
                role = "minor" if one.channel in case.minor else "main"
                print("alarm", role, one.severity, one.kind, one.file, one.channel, one.what)

    def report(self) -> str:
        """Return both tables."""
        lines = [
            "| planted | cases | found | right name | errors elsewhere |",
            "| --- | --- | --- | --- | --- |",
        ]
        for kind, count in self.planted.items():
            shares = [self.found[kind] / count, self.named[kind] / count, self.accused[kind] / count]
            lines.append(f"| {kind} | {count} | " + " | ".join(f"{share:.3f}" for share in shares) + " |")
        lines += ["", "| honest channels | count | false alarms a channel |", "| --- | --- | --- |"]
        for role, count in self.channels.items():
            lines.append(f"| {role} axes | {count} | {self.alarms[role] / count:.4f} |")
        lines.append(
            f"\n{self.refused} of {self.cases} honest load cases would be refused by `pack`; "
            f"{self.alarms['test']} findings of whole tests"
        )
        return "\n".join(lines)


def measure(seeds: range, *, details: bool) -> Tally:
    """Check every load case as it is, and once with each fault."""
    tally = Tally(details=details)
    for case in load_cases(seeds):
        tally.note_clean(case, check(case.tests))
        for kind in FAULTS:
            random = np.random.default_rng([seeds.start, *str(case.tests[0].path).encode(), *kind.encode()])
            planted = plant(kind, case, random)
            if planted is not None:
                outcome = check([planted.bad], against=planted.others)
                tally.note_fault(kind, planted, outcome)
    return tally


def main() -> None:
    """Measure and print."""
    seeds = FINAL_SEEDS if "--final" in sys.argv else SEEDS
    print(f"seeds {seeds.start} to {seeds.stop - 1}")
    print(measure(seeds, details="--details" in sys.argv).report())


if __name__ == "__main__":
    main()
