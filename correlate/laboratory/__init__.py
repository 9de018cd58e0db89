"""Dummies over time: register, qualification results and their history, headers against the register.

Each part is loaded on first access: every command looks for a register, but few projects have one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from correlate.lazy import loader

if TYPE_CHECKING:
    from correlate.laboratory.change import Changes as Changes
    from correlate.laboratory.change import Effect as Effect
    from correlate.laboratory.change import StepFound as StepFound
    from correlate.laboratory.change import changes as changes
    from correlate.laboratory.control_chart import ControlChart as ControlChart
    from correlate.laboratory.due import DueList as DueList
    from correlate.laboratory.due import DueSensor as DueSensor
    from correlate.laboratory.due import DueTest as DueTest
    from correlate.laboratory.due import due_in as due_in
    from correlate.laboratory.headers import check_with_register as check_with_register
    from correlate.laboratory.headers import header_findings as header_findings
    from correlate.laboratory.log import Kept as Kept
    from correlate.laboratory.log import KeptQualification as KeptQualification
    from correlate.laboratory.log import KeptQuantity as KeptQuantity
    from correlate.laboratory.log import TestConditions as TestConditions
    from correlate.laboratory.log import keep_qualification as keep_qualification
    from correlate.laboratory.log import kept_qualifications as kept_qualifications
    from correlate.laboratory.log import log_folder as log_folder
    from correlate.laboratory.overview import DummyState as DummyState
    from correlate.laboratory.overview import LaboratoryOverview as LaboratoryOverview
    from correlate.laboratory.overview import laboratory_overview as laboratory_overview
    from correlate.laboratory.register import REGISTER_FILE as REGISTER_FILE
    from correlate.laboratory.register import Dummy as Dummy
    from correlate.laboratory.register import Exchange as Exchange
    from correlate.laboratory.register import Register as Register
    from correlate.laboratory.register import Sensor as Sensor
    from correlate.laboratory.register import project_register as project_register
    from correlate.laboratory.register import read_register as read_register
    from correlate.laboratory.timeline import ExchangeEffect as ExchangeEffect
    from correlate.laboratory.timeline import QuantityHistory as QuantityHistory
    from correlate.laboratory.timeline import TestHistory as TestHistory
    from correlate.laboratory.timeline import history as history

_HOMES = {
    "REGISTER_FILE": "correlate.laboratory.register",
    "Changes": "correlate.laboratory.change",
    "ControlChart": "correlate.laboratory.control_chart",
    "DueList": "correlate.laboratory.due",
    "DueSensor": "correlate.laboratory.due",
    "DueTest": "correlate.laboratory.due",
    "Dummy": "correlate.laboratory.register",
    "DummyState": "correlate.laboratory.overview",
    "Effect": "correlate.laboratory.change",
    "Exchange": "correlate.laboratory.register",
    "ExchangeEffect": "correlate.laboratory.timeline",
    "Kept": "correlate.laboratory.log",
    "KeptQualification": "correlate.laboratory.log",
    "KeptQuantity": "correlate.laboratory.log",
    "LaboratoryOverview": "correlate.laboratory.overview",
    "QuantityHistory": "correlate.laboratory.timeline",
    "Register": "correlate.laboratory.register",
    "Sensor": "correlate.laboratory.register",
    "StepFound": "correlate.laboratory.change",
    "TestConditions": "correlate.laboratory.log",
    "TestHistory": "correlate.laboratory.timeline",
    "changes": "correlate.laboratory.change",
    "check_with_register": "correlate.laboratory.headers",
    "due_in": "correlate.laboratory.due",
    "header_findings": "correlate.laboratory.headers",
    "history": "correlate.laboratory.timeline",
    "keep_qualification": "correlate.laboratory.log",
    "kept_qualifications": "correlate.laboratory.log",
    "laboratory_overview": "correlate.laboratory.overview",
    "log_folder": "correlate.laboratory.log",
    "project_register": "correlate.laboratory.register",
    "read_register": "correlate.laboratory.register",
}

__all__ = [*_HOMES]  # noqa: PLE0604 - the keys are the names

__getattr__ = loader(__name__, _HOMES)
