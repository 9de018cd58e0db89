"""The invented hardware: physics richer than the model, measured as a laboratory would."""

from demo_pairs.laboratory.recording import LOAD_CASES, record, repeats
from demo_pairs.laboratory.test_record import Conditions, RecordedChannel, TestRecord

__all__ = ["LOAD_CASES", "Conditions", "RecordedChannel", "TestRecord", "record", "repeats"]
