"""The data check on the invented laboratory: silent on clean repeats, loud on every planted fault."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest

from correlate import Recording, Signal
from correlate.reference.check import check, load_case_of
from demo_pairs.laboratory import LOAD_CASES, TestRecord, record, repeats
from demo_pairs.laboratory.faults import FAULTS, PlantedFault

KINDS = {
    "saturation": "saturation",
    "spike": "spike",
    "dropout": "dropout",
    "swapped-sign": "polarity",
    "wrong-unit": "unit",
    "offset-drift": "drift",
    "wrong-sample-rate": "sample rate",
}


def as_recording(test: TestRecord, folder: str) -> Recording:
    """Return a test of the laboratory as the reader of its files would."""
    return Recording(
        signals=tuple(
            Signal(
                samples=[float(f"{value:.7g}") for value in channel.samples.tolist()],
                start_s=test.first_time,
                step_s=test.sampling_step,
                unit=channel.unit,
                channel=channel.code,
            )
            for channel in test.channels
        ),
        path=Path(folder) / test.name,
        format="computed",
        details={"Type of the test": test.load_case, "Mass test object 1": "23.4"},
        channel_headers={
            channel.code: {
                "Channel amplitude class": f"{channel.full_scale:g}",
                "Channel frequency class": "0",
            }
            for channel in test.channels
        },
    )


@dataclass(frozen=True)
class Laboratory:
    """Every test of the laboratory, run once."""

    records: dict[tuple[str, int], TestRecord]

    def repeats(self, load_case: str) -> list[Recording]:
        """Return the clean repeats of a load case."""
        return [
            as_recording(test, f"laboratory/{load_case}")
            for (case, _), test in self.records.items()
            if case == load_case
        ]

    def spoilt(self, fault: PlantedFault) -> tuple[Recording, list[Recording]]:
        """Return the test with the fault, and the other repeats as they should be."""
        healthy = self.records[fault.load_case, fault.repeat]
        bad = as_recording(fault.plant(healthy), "planted_faults")
        others = [test for test in self.repeats(fault.load_case) if test.path.name != healthy.name]
        return bad, others


@pytest.fixture(scope="module")
def laboratory() -> Laboratory:
    """Run all repeats of all load cases."""
    return Laboratory(
        {
            (load_case, repeat): record(load_case, repeat)
            for load_case in LOAD_CASES
            for repeat in range(1, repeats(load_case) + 1)
        }
    )


@pytest.mark.parametrize("load_case", LOAD_CASES)
def test_clean_repeats_have_no_finding(laboratory: Laboratory, load_case: str) -> None:
    """The repeats of a load case, compared with each other, give neither error nor warning."""
    outcome = check(laboratory.repeats(load_case))
    assert [finding for finding in outcome.findings if finding.severity != "note"] == []


@pytest.mark.parametrize("load_case", LOAD_CASES)
def test_a_single_clean_test_has_no_error(laboratory: Laboratory, load_case: str) -> None:
    """Without other repeats physics may look odd (a swinging pendulum), but nothing is called an error."""
    for test in laboratory.repeats(load_case):
        assert check([test]).count("error") == 0


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.kind)
def test_every_planted_fault_is_found_and_nothing_else(laboratory: Laboratory, fault: PlantedFault) -> None:
    """The right kind is an error in the right channel, and no other kind is."""
    bad, others = laboratory.spoilt(fault)
    errors = [f for f in check([bad], against=others).findings if f.severity == "error"]
    spoilt = {fault.code} if fault.code else set(bad.channel_names)
    assert {(finding.kind, finding.channel) for finding in errors} == {
        (KINDS[fault.kind], code) for code in spoilt
    }


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.kind)
def test_the_healthy_repeats_are_not_accused(laboratory: Laboratory, fault: PlantedFault) -> None:
    """With the spoilt test among the repeats, every error is about the spoilt test."""
    bad, others = laboratory.spoilt(fault)
    errors = [f for f in check([bad, *others]).findings if f.severity == "error"]
    assert {finding.file for finding in errors} == {str(bad.path)}


def test_the_demo_has_all_kinds_of_fault() -> None:
    """The planted faults cover the kinds that the scenario names."""
    assert {fault.kind for fault in FAULTS} == set(KINDS)


def test_spans_say_where_the_fault_is(laboratory: Laboratory) -> None:
    """The spike of 35 ms and the dropout from 42 to 54 ms are reported at these times."""
    by_kind = {fault.kind: fault for fault in FAULTS}
    spans = {}
    for kind in ("spike", "dropout"):
        bad, others = laboratory.spoilt(by_kind[kind])
        (finding,) = (f for f in check([bad], against=others).findings if f.severity == "error")
        assert finding.start_s is not None
        assert finding.end_s is not None
        spans[kind] = (finding.start_s * 1e3, finding.end_s * 1e3)
    assert spans["spike"] == pytest.approx((35, 35.05), abs=0.06)
    assert spans["dropout"] == pytest.approx((42, 54), abs=0.1)


def test_the_load_case_comes_from_the_test_or_its_folder(tmp_path: Path) -> None:
    """A test that states its type belongs there; else the folder names the load case."""
    signal = Signal(samples=[0, 1], start_s=0, step_s=1, unit="g", channel="a")
    silent = Recording(signals=(signal,), path=tmp_path / "sled" / "run1.csv", format="computed")
    assert load_case_of(silent) == "sled"
    details = {"Type of the test": "knee-impact"}
    stated = Recording(signals=(signal,), path=silent.path, format="computed", details=details)
    assert load_case_of(stated) == "knee-impact"
