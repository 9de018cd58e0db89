"""Dummies over time: register, qualification results and their history, headers against the register."""

from correlate.laboratory.change import Changes, Effect, StepFound, changes
from correlate.laboratory.control_chart import ControlChart, control_chart
from correlate.laboratory.due import DueList, DueSensor, DueTest, due_in
from correlate.laboratory.headers import check_with_register, header_findings
from correlate.laboratory.log import (
    Kept,
    KeptQualification,
    KeptQuantity,
    TestConditions,
    keep_qualification,
    kept_qualifications,
    log_folder,
)
from correlate.laboratory.overview import DummyState, LaboratoryOverview, laboratory_overview
from correlate.laboratory.register import (
    REGISTER_FILE,
    Dummy,
    Exchange,
    Register,
    Sensor,
    project_register,
    read_register,
)
from correlate.laboratory.timeline import ExchangeEffect, QuantityHistory, TestHistory, history

__all__ = [
    "REGISTER_FILE",
    "Changes",
    "ControlChart",
    "DueList",
    "DueSensor",
    "DueTest",
    "Dummy",
    "DummyState",
    "Effect",
    "Exchange",
    "ExchangeEffect",
    "Kept",
    "KeptQualification",
    "KeptQuantity",
    "LaboratoryOverview",
    "QuantityHistory",
    "Register",
    "Sensor",
    "StepFound",
    "TestConditions",
    "TestHistory",
    "changes",
    "check_with_register",
    "control_chart",
    "due_in",
    "header_findings",
    "history",
    "keep_qualification",
    "kept_qualifications",
    "laboratory_overview",
    "log_folder",
    "project_register",
    "read_register",
]
