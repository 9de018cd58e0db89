"""Records of the laboratory as ISO/TS 13499 folders, with the sensors of its register in their headers."""

import tomllib
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from correlate.formats.iso13499 import write_test
from correlate.signal import Signal
from demo_pairs.laboratory import RecordedChannel, TestRecord

SIGNIFICANT_DIGITS = 7
REGISTER = Path(__file__).with_name("laboratory.toml")


def write_record(test: TestRecord, place: Path) -> None:
    """Write one test as an ISO/TS 13499 folder."""
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
        channel_headers={channel.code: _channel_header(channel, test) for channel in test.channels},
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
        # a key with several lines is written once a line
        "Comment": "invented data; velocity (m/s) and mass (kg) are those of the striking body\n"
        f"{test.time_zero}",
    }


def _channel_header(channel: RecordedChannel, test: TestRecord) -> dict[str, str]:
    return {
        "Test object number": "1",
        "Name of the channel": channel.description,
        "Channel amplitude class": f"{channel.full_scale:g}",
        "Channel frequency class": channel.frequency_class,
        "Bit resolution": "16",
        **_sensor_lines(channel.code, date.fromisoformat(test.conditions.date)),
        "Comment": str(test.time_zero),
    }


def _sensor_lines(code: str, day: date) -> dict[str, str]:
    """Give the sensor of a channel and its sensitivity by the last calibration until the day."""
    sensor = _sensors()[code]
    calibration = max(
        (one for one in sensor["calibration"] if one["date"] <= day), key=lambda one: one["date"]
    )
    return {
        "Transducer ID": sensor["serial"],
        "Transducer sensitivity": f"{calibration['sensitivity']:g} {sensor['sensitivity_unit']}",
    }


@cache
def _sensors() -> dict[str, dict[str, Any]]:
    """Give the sensors of the register of the laboratory by channel code."""
    content = tomllib.loads(REGISTER.read_text(encoding="utf-8"))
    return {sensor["channel"]: sensor for sensor in content["sensor"]}
