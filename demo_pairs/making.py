"""The jobs of a build, each writing one part into the folder it is given."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

from correlate.formats.iso13499 import write_test
from correlate.signal import Signal
from correlate.toml import toml_entry
from demo_pairs.laboratory import RecordedChannel, TestRecord, record
from demo_pairs.laboratory.faults import FAULTS, PlantedFault

SIGNIFICANT_DIGITS = 7
PROJECT = Path(__file__).parent.parent


def make_test(load_case: str, repeat: int, folder: Path) -> str:
    """Run one repeat in the laboratory and write its test folder; give its name."""
    test = record(load_case, repeat)
    place = folder / "laboratory" / load_case
    place.mkdir(parents=True, exist_ok=True)
    write_record(test, place / test.name)
    return f"test {test.name}"


def make_release(deck: Path, load_cases: tuple[str, ...], folder: Path) -> str:
    """Run the solver on one deck as a separate process; give the name of the release.

    Raises
    ------
    RuntimeError
        The solver refused or failed; with its message.
    """
    out = folder / "releases" / deck.stem
    limits = [word for case in load_cases for word in ("--case", case)]
    command = [sys.executable, "-P", "-m", "demo_pairs.solver", str(deck), "--out", str(out), *limits]
    environment = {**os.environ, "OMP_NUM_THREADS": "1"}
    run = subprocess.run(command, cwd=PROJECT, env=environment, capture_output=True, text=True, check=False)
    if run.returncode != 0:
        raise RuntimeError(run.stderr.strip() or f"the solver ended with code {run.returncode}")
    shutil.copyfile(deck, out / deck.name)
    return f"release {deck.stem}"


def make_faults(load_cases: tuple[str, ...], folder: Path) -> str:
    """Write the planted faults of the selected load cases and their manifest."""
    root = folder / "planted_faults"
    root.mkdir(parents=True, exist_ok=True)
    chosen = [fault for fault in FAULTS if fault.load_case in load_cases]
    entries = []
    for fault in chosen:
        healthy = record(fault.load_case, fault.repeat)
        place = root / fault.kind / healthy.name
        place.parent.mkdir(exist_ok=True)
        write_record(fault.plant(healthy), place)
        entries.append(_manifest_entry(fault, healthy))
    head = "# Each folder below is a copy of one healthy test with one fault; they never enter a rating.\n"
    (root / "manifest.toml").write_text("\n".join([head, *entries]), encoding="utf-8", newline="\n")
    return "planted faults"


def _manifest_entry(fault: PlantedFault, healthy: TestRecord) -> str:
    codes = [channel.code for channel in healthy.channels]
    spoilt = [fault.code] if fault.code else codes
    stem = f"{fault.kind}/{healthy.name}/Channel/{healthy.name}"
    files = [f"{stem}.{codes.index(code) + 1:03d}" for code in spoilt]
    values = {
        "kind": fault.kind,
        "load_case": fault.load_case,
        "test": f"{fault.kind}/{healthy.name}",
        "files": files,
        "channels": spoilt,
        "detail": fault.detail,
    }
    return toml_entry("[[fault]]", values)


def write_record(test: TestRecord, place: Path) -> None:
    """Write one test as an ISO/TS 13499 folder.

    Parameters
    ----------
    test
        The record.
    place
        The test folder to be made.
    """
    signals = [
        Signal(
            samples=channel.samples,
            start_s=test.first_time,
            step_s=test.sampling_step,
            unit=channel.unit,
            channel=channel.code,
        )
        for channel in test.channels
    ]
    write_test(
        place,
        name=test.name,
        description=_description(test),
        signals=signals,
        channel_headers={channel.code: _channel_header(channel) for channel in test.channels},
        channel_list={"Instrumentation standard": "SAE J211-1"},
        significant_digits=SIGNIFICANT_DIGITS,
    )


def _description(test: TestRecord) -> dict[str, str]:
    conditions = test.conditions
    return {
        "Data format edition number": "1.6",
        "Laboratory name": "Kelpwick Impact Laboratory",
        "Title": f"KELP-M {test.title}, repeat {test.repeat}",
        "Type of the test": test.load_case,
        "Date of the test": conditions.date,
        "Reference temperature": f"{conditions.temperature:.1f}",
        "Relative air humidity": f"{conditions.humidity:.0f}",
        "Number of test objects": "1",
        "Name of test object 1": f"KELP-M {conditions.serial}",
        "Velocity test object 1": f"{conditions.impact_speed:.3f}",
        "Mass test object 1": f"{conditions.moving_mass:g}",
        "Comment": "invented data; velocity (m/s) and mass (kg) are those of the striking body",
    }


def _channel_header(channel: RecordedChannel) -> dict[str, str]:
    return {
        "Test object number": "1",
        "Name of the channel": channel.description,
        "Channel amplitude class": f"{channel.full_scale:g}",
        "Channel frequency class": channel.frequency_class,
        "Bit resolution": "16",
    }
