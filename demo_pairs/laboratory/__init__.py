"""The invented hardware: physics richer than the model, measured as a laboratory would."""

from demo_pairs.laboratory.measuring_chain import Conditions, RecordedChannel, TestRecord
from demo_pairs.laboratory.recording import LOAD_CASES, mounted, record, repeats

__all__ = ["LOAD_CASES", "Conditions", "RecordedChannel", "TestRecord", "mounted", "record", "repeats"]
