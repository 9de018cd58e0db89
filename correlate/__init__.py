"""Rates how well a virtual crash-test dummy agrees with the physical one.

Names are imported as ``from correlate import …`` and loaded when they are first asked for, so that importing
the package costs next to nothing. Those in ``__all__`` are stable: they are described on the page "Python
interface" and change only with a notice in the list of changes. The others can be imported in the same way,
without that promise.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from correlate import version
from correlate.lazy import loader, register

if TYPE_CHECKING:
    from correlate.campaign import BoardLine as BoardLine
    from correlate.campaign import Campaign as Campaign
    from correlate.campaign import CampaignPair as CampaignPair
    from correlate.campaign import CampaignReader as CampaignReader
    from correlate.campaign import CampaignScores as CampaignScores
    from correlate.campaign import Change as Change
    from correlate.campaign import ChannelCeiling as ChannelCeiling
    from correlate.campaign import ChannelPlan as ChannelPlan
    from correlate.campaign import Check as Check
    from correlate.campaign import Decision as Decision
    from correlate.campaign import LoadCase as LoadCase
    from correlate.campaign import MatrixCell as MatrixCell
    from correlate.campaign import Objection as Objection
    from correlate.campaign import PairScore as PairScore
    from correlate.campaign import Proposal as Proposal
    from correlate.campaign import RatedPlace as RatedPlace
    from correlate.campaign import Release as Release
    from correlate.campaign import ReleaseLine as ReleaseLine
    from correlate.campaign import ReleaseMatrix as ReleaseMatrix
    from correlate.campaign import ReleaseScore as ReleaseScore
    from correlate.campaign import ReleaseTable as ReleaseTable
    from correlate.campaign import Score as Score
    from correlate.campaign import Scoreboard as Scoreboard
    from correlate.campaign import TrendPoint as TrendPoint
    from correlate.campaign import aggregate as aggregate
    from correlate.campaign import campaign_ceilings as campaign_ceilings
    from correlate.campaign import campaign_pairs as campaign_pairs
    from correlate.campaign import ceiling_scores as ceiling_scores
    from correlate.campaign import compare as compare
    from correlate.campaign import compare_releases as compare_releases
    from correlate.campaign import decide as decide
    from correlate.campaign import load_campaign as load_campaign
    from correlate.campaign import propose as propose
    from correlate.campaign import release_matrix as release_matrix
    from correlate.campaign import release_scores as release_scores
    from correlate.campaign import score_campaign as score_campaign
    from correlate.campaign import score_pair as score_pair
    from correlate.campaign.channel_rating import ChannelRating as ChannelRating
    from correlate.campaign.channel_rating import MeanRating as MeanRating
    from correlate.campaign.channel_rating import channel_pairs as channel_pairs
    from correlate.campaign.channel_rating import channel_rating as channel_rating
    from correlate.campaign.explanation import Explanation as Explanation
    from correlate.campaign.explanation import explain as explain
    from correlate.campaign.gate import gap_lines as gap_lines
    from correlate.campaign.gate import gate as gate
    from correlate.campaign.matrix import CELL_STATES as CELL_STATES
    from correlate.campaign.matrix import SORTS as SORTS
    from correlate.campaign.package_use import PackageUse as PackageUse
    from correlate.campaign.package_use import plan_load_case as plan_load_case
    from correlate.campaign.package_use import plan_repeats as plan_repeats
    from correlate.campaign.package_use import use_package as use_package
    from correlate.campaign.package_use import uses_of_package as uses_of_package
    from correlate.campaign.package_use import waive_in_package as waive_in_package
    from correlate.campaign.pair_explanation import PairExplanation as PairExplanation
    from correlate.campaign.pair_explanation import explain_campaign_pair as explain_campaign_pair
    from correlate.campaign.pair_explanation import explain_pair as explain_pair
    from correlate.campaign.proposals import proposals_of as proposals_of
    from correlate.campaign.received_results import ReceivedResults as ReceivedResults
    from correlate.campaign.received_results import receive_results as receive_results
    from correlate.campaign.reference_health import CaseHealth as CaseHealth
    from correlate.campaign.reference_health import case_health as case_health
    from correlate.campaign.reference_health import unhealthy_case as unhealthy_case
    from correlate.campaign.release_evidence import ReleaseEvidence as ReleaseEvidence
    from correlate.campaign.release_evidence import TestFindings as TestFindings
    from correlate.campaign.release_evidence import checked_tests as checked_tests
    from correlate.campaign.rewriting import accept_partner as accept_partner
    from correlate.campaign.scatter import case_scatter as case_scatter
    from correlate.campaign.scoreboard import scoreboard as scoreboard
    from correlate.campaign.unrated_words import unrated_lines as unrated_lines
    from correlate.conditioning import FREQUENCY_CLASSES as FREQUENCY_CLASSES
    from correlate.conditioning import Recipe as Recipe
    from correlate.conditioning import align as align
    from correlate.conditioning import align_signals as align_signals
    from correlate.conditioning import crop as crop
    from correlate.conditioning import derivative as derivative
    from correlate.conditioning import filter_cfc as filter_cfc
    from correlate.conditioning import integral as integral
    from correlate.conditioning import remove_offset as remove_offset
    from correlate.conditioning import resample as resample
    from correlate.conditioning import resultant as resultant
    from correlate.conditioning import shift_time as shift_time
    from correlate.conditioning import turn_sign as turn_sign
    from correlate.criteria import CRITERIA as CRITERIA
    from correlate.criteria import ChannelName as ChannelName
    from correlate.criteria import CriterionComparison as CriterionComparison
    from correlate.criteria import CriterionResult as CriterionResult
    from correlate.criteria import Device as Device
    from correlate.criteria import DurationLimit as DurationLimit
    from correlate.criteria import ExceedanceCurve as ExceedanceCurve
    from correlate.criteria import ExceedanceResult as ExceedanceResult
    from correlate.criteria import NeckIntercepts as NeckIntercepts
    from correlate.criteria import Preparation as Preparation
    from correlate.criteria import Qualification as Qualification
    from correlate.criteria import QuantityVerdict as QuantityVerdict
    from correlate.criteria import RecordedCriteria as RecordedCriteria
    from correlate.criteria import RecordedCriterion as RecordedCriterion
    from correlate.criteria import Window as Window
    from correlate.criteria import WindowBook as WindowBook
    from correlate.criteria import bric as bric
    from correlate.criteria import chest_deflection as chest_deflection
    from correlate.criteria import chest_deflection_rate as chest_deflection_rate
    from correlate.criteria import compare_criterion as compare_criterion
    from correlate.criteria import compare_recorded as compare_recorded
    from correlate.criteria import contiguous_clip as contiguous_clip
    from correlate.criteria import cumulative_clip as cumulative_clip
    from correlate.criteria import damage as damage
    from correlate.criteria import devices as devices
    from correlate.criteria import exceedance as exceedance
    from correlate.criteria import exceedance_curve as exceedance_curve
    from correlate.criteria import femur_force as femur_force
    from correlate.criteria import find_device as find_device
    from correlate.criteria import hic as hic
    from correlate.criteria import nic as nic
    from correlate.criteria import nij as nij
    from correlate.criteria import peak as peak
    from correlate.criteria import qualify as qualify
    from correlate.criteria import recorded_criteria as recorded_criteria
    from correlate.criteria import severity_index as severity_index
    from correlate.criteria import tibia_index as tibia_index
    from correlate.criteria import viscous_criterion as viscous_criterion
    from correlate.criteria import window_book as window_book
    from correlate.criteria import with_codes as with_codes
    from correlate.diagnosis.accounting import LossAccount as LossAccount
    from correlate.diagnosis.accounting import LossBins as LossBins
    from correlate.diagnosis.accounting import Stretch as Stretch
    from correlate.diagnosis.accounting import account_for_loss as account_for_loss
    from correlate.diagnosis.accounting import largest_stretches as largest_stretches
    from correlate.diagnosis.differences import FeatureDifference as FeatureDifference
    from correlate.diagnosis.differences import feature_differences as feature_differences
    from correlate.diagnosis.features import CurvePeak as CurvePeak
    from correlate.diagnosis.features import Features as Features
    from correlate.diagnosis.features import features as features
    from correlate.diagnosis.hints import Hint as Hint
    from correlate.diagnosis.hints import hints as hints
    from correlate.diagnosis.suspects import FrameRotation as FrameRotation
    from correlate.diagnosis.suspects import Suspect as Suspect
    from correlate.diagnosis.suspects import frame_rotation as frame_rotation
    from correlate.diagnosis.suspects import sensor_suspects as sensor_suspects
    from correlate.diagnosis.suspects import suspects as suspects
    from correlate.diagnosis.what_if import CurveChange as CurveChange
    from correlate.diagnosis.what_if import Improvement as Improvement
    from correlate.diagnosis.what_if import WhatIf as WhatIf
    from correlate.diagnosis.what_if import apply_change as apply_change
    from correlate.diagnosis.what_if import what_if as what_if
    from correlate.errors import ChannelError as ChannelError
    from correlate.errors import CorrelateError as CorrelateError
    from correlate.errors import FormatError as FormatError
    from correlate.errors import SettingsError as SettingsError
    from correlate.errors import SignalError as SignalError
    from correlate.errors import StoreError as StoreError
    from correlate.errors import UnitError as UnitError
    from correlate.evaluation import CaseEvaluation as CaseEvaluation
    from correlate.evaluation import CasePair as CasePair
    from correlate.evaluation import ConditionedCurves as ConditionedCurves
    from correlate.evaluation import Curve as Curve
    from correlate.evaluation import PairCurves as PairCurves
    from correlate.evaluation import ResultantPlan as ResultantPlan
    from correlate.evaluation import case_pairs as case_pairs
    from correlate.evaluation import conditioned_curves as conditioned_curves
    from correlate.extras import MissingExtraError as MissingExtraError
    from correlate.extras import need_extra as need_extra
    from correlate.files import may_write as may_write
    from correlate.formats import Recording as Recording
    from correlate.formats import read as read
    from correlate.formats.registry import list_formats as list_formats
    from correlate.interrupt import interruptible as interruptible
    from correlate.interrupt import run_program as run_program
    from correlate.laboratory import REGISTER_FILE as REGISTER_FILE
    from correlate.laboratory import Changes as Changes
    from correlate.laboratory import ControlChart as ControlChart
    from correlate.laboratory import DueList as DueList
    from correlate.laboratory import DueSensor as DueSensor
    from correlate.laboratory import DueTest as DueTest
    from correlate.laboratory import Dummy as Dummy
    from correlate.laboratory import DummyState as DummyState
    from correlate.laboratory import Effect as Effect
    from correlate.laboratory import Exchange as Exchange
    from correlate.laboratory import ExchangeEffect as ExchangeEffect
    from correlate.laboratory import KeptQualification as KeptQualification
    from correlate.laboratory import KeptQuantity as KeptQuantity
    from correlate.laboratory import LaboratoryOverview as LaboratoryOverview
    from correlate.laboratory import QuantityHistory as QuantityHistory
    from correlate.laboratory import Register as Register
    from correlate.laboratory import Sensor as Sensor
    from correlate.laboratory import TestConditions as TestConditions
    from correlate.laboratory import TestHistory as TestHistory
    from correlate.laboratory import check_with_register as check_with_register
    from correlate.laboratory import due_in as due_in
    from correlate.laboratory import header_findings as header_findings
    from correlate.laboratory import history as history
    from correlate.laboratory import keep_qualification as keep_qualification
    from correlate.laboratory import kept_qualifications as kept_qualifications
    from correlate.laboratory import laboratory_overview as laboratory_overview
    from correlate.laboratory import log_folder as log_folder
    from correlate.laboratory import project_register as project_register
    from correlate.laboratory import read_register as read_register
    from correlate.metrics import METRICS as METRICS
    from correlate.metrics import Evaluation as Evaluation
    from correlate.metrics import Measure as Measure
    from correlate.metrics import evaluate_measures as evaluate_measures
    from correlate.metrics import measure as measure
    from correlate.metrics.area import area_between as area_between
    from correlate.metrics.iso18571 import Rating as Rating
    from correlate.metrics.iso18571 import RatingSettings as RatingSettings
    from correlate.metrics.iso18571 import Weights as Weights
    from correlate.metrics.iso18571 import rate as rate
    from correlate.metrics.iso18571 import rate_many as rate_many
    from correlate.metrics.repeats import AlignedRepeats as AlignedRepeats
    from correlate.metrics.repeats import align_repeats as align_repeats
    from correlate.pair import AlignedPair as AlignedPair
    from correlate.pair import aligned_pairs as aligned_pairs
    from correlate.reference.arc_length import CrossPlot as CrossPlot
    from correlate.reference.channel_repeats import ChannelRepeats as ChannelRepeats
    from correlate.reference.channel_repeats import channel_repeats as channel_repeats
    from correlate.reference.check import CheckOutcome as CheckOutcome
    from correlate.reference.check import check as check
    from correlate.reference.corridor import Corridor as Corridor
    from correlate.reference.corridor import inside_corridor as inside_corridor
    from correlate.reference.corridor import prediction_corridor as prediction_corridor
    from correlate.reference.corridor import range_corridor as range_corridor
    from correlate.reference.corridor import spread_corridor as spread_corridor
    from correlate.reference.cross_plot import ChannelCrossPlot as ChannelCrossPlot
    from correlate.reference.cross_plot import CrossPlotCorridor as CrossPlotCorridor
    from correlate.reference.cross_plot import channel_cross_plot as channel_cross_plot
    from correlate.reference.cross_plot import cross_plot_corridor as cross_plot_corridor
    from correlate.reference.expectations import Expectations as Expectations
    from correlate.reference.expectations import load_expectations as load_expectations
    from correlate.reference.finding import Finding as Finding
    from correlate.reference.finding import RepairProposal as RepairProposal
    from correlate.reference.finding import WaivedFinding as WaivedFinding
    from correlate.reference.finding import Waiver as Waiver
    from correlate.reference.finding import WaiverBook as WaiverBook
    from correlate.reference.finding import counted as counted
    from correlate.reference.finding import equal_findings as equal_findings
    from correlate.reference.finding import load_waivers as load_waivers
    from correlate.reference.finding import places_of as places_of
    from correlate.reference.finding import with_waivers as with_waivers
    from correlate.reference.package.create import PackagePlan as PackagePlan
    from correlate.reference.package.create import make_package as make_package
    from correlate.reference.package.document import verify_document as verify_document
    from correlate.reference.package.media import PackageMedia as PackageMedia
    from correlate.reference.package.media import media_file as media_file
    from correlate.reference.package.media import package_media as package_media
    from correlate.reference.package.received import PackageRelease as PackageRelease
    from correlate.reference.package.received import ReceivedPackage as ReceivedPackage
    from correlate.reference.package.received import checked_package as checked_package
    from correlate.reference.package.received import media_of_test as media_of_test
    from correlate.reference.package.received import package_of_test as package_of_test
    from correlate.reference.package.received import package_tests as package_tests
    from correlate.reference.package.received import receive_package as receive_package
    from correlate.reference.package.received import received_package as received_package
    from correlate.reference.package.received import received_packages as received_packages
    from correlate.reference.package.received import release_of_test as release_of_test
    from correlate.reference.package.received import signing_chain as signing_chain
    from correlate.reference.package.releasing import refuse_unreadable as refuse_unreadable
    from correlate.reference.package.releasing import release_package as release_package
    from correlate.reference.package.trust import trust_in as trust_in
    from correlate.reference.package.trust import trust_of_key as trust_of_key
    from correlate.reference.package.verify import unpack as unpack
    from correlate.reference.package.verify import verify as verify
    from correlate.reference.path_deviation import path_deviation as path_deviation
    from correlate.reference.published_corridor import PublishedCorridor as PublishedCorridor
    from correlate.reference.published_corridor import load_published_corridor as load_published_corridor
    from correlate.reference.registration import features_along_arc as features_along_arc
    from correlate.reference.registration import registered_by_features as registered_by_features
    from correlate.reference.registration import warped_along_arc as warped_along_arc
    from correlate.reference.repair import repair as repair
    from correlate.reference.repair import repair_recording as repair_recording
    from correlate.reference.repeat_numbers import OneRepeat as OneRepeat
    from correlate.reference.repeat_numbers import RepeatNumbers as RepeatNumbers
    from correlate.reference.repeat_numbers import repeat_numbers as repeat_numbers
    from correlate.reference.repeatability import Ceiling as Ceiling
    from correlate.reference.repeatability import RatedAgainstRepeats as RatedAgainstRepeats
    from correlate.reference.repeatability import ceiling_of as ceiling_of
    from correlate.reference.repeatability import loss_ratio as loss_ratio
    from correlate.reference.repeatability import loss_ratio_words as loss_ratio_words
    from correlate.reference.repeatability import rate_against_repeats as rate_against_repeats
    from correlate.reference.repeats import RepeatSet as RepeatSet
    from correlate.reference.repeats import repeat_set as repeat_set
    from correlate.reference.scatter import HardwareScatter as HardwareScatter
    from correlate.reference.waiving import waive as waive
    from correlate.reference.whole_curve import UnlikeRepeats as UnlikeRepeats
    from correlate.reference.whole_curve import unlike_repeats as unlike_repeats
    from correlate.reference.whole_curve import whole_curve_corridor as whole_curve_corridor
    from correlate.selfcheck import run_selfcheck as run_selfcheck
    from correlate.signal import Signal as Signal
    from correlate.signal import Source as Source
    from correlate.signal import Step as Step
    from correlate.spelling import one_spelling as one_spelling
    from correlate.spelling import unclear as unclear
    from correlate.store import Note as Note
    from correlate.store import RatedPair as RatedPair
    from correlate.store import RunInfo as RunInfo
    from correlate.store import SavedRatings as SavedRatings
    from correlate.store import SignOff as SignOff
    from correlate.store import SignOffToday as SignOffToday
    from correlate.store import Store as Store
    from correlate.store import StoredBoard as StoredBoard
    from correlate.store import StoredNumbers as StoredNumbers
    from correlate.store import StoredRatings as StoredRatings
    from correlate.store import StoredResults as StoredResults
    from correlate.store import StoredScores as StoredScores
    from correlate.store import StoredTrend as StoredTrend
    from correlate.store import check_store as check_store
    from correlate.store import newest_rated as newest_rated
    from correlate.store import open_store as open_store
    from correlate.store import present_findings as present_findings
    from correlate.store import saved_ratings as saved_ratings
    from correlate.store import score_into as score_into
    from correlate.store import sign_offs_today as sign_offs_today
    from correlate.store import sign_release as sign_release
    from correlate.store import store_is_read_only as store_is_read_only
    from correlate.store import stored_board as stored_board
    from correlate.store import stored_channel as stored_channel
    from correlate.store import stored_numbers as stored_numbers
    from correlate.store import stored_ratings as stored_ratings
    from correlate.store.scored import HeldLoadCase as HeldLoadCase
    from correlate.store.scored import HeldRelease as HeldRelease
    from correlate.store.scored import Holdings as Holdings
    from correlate.store.scored import holdings as holdings
    from correlate.store.scored import rated_pairs_of as rated_pairs_of
    from correlate.tuning.calibration import KeptPrediction as KeptPrediction
    from correlate.tuning.calibration import kept_predictions as kept_predictions
    from correlate.tuning.calibration import record_of as record_of
    from correlate.tuning.cards import CardsPosterior as CardsPosterior
    from correlate.tuning.cards import read_cards as read_cards
    from correlate.tuning.cards import tuning_cards as tuning_cards
    from correlate.tuning.curve_sensitivity import CurveSensitivity as CurveSensitivity
    from correlate.tuning.definition import Tuning as Tuning
    from correlate.tuning.definition import load_tuning as load_tuning
    from correlate.tuning.emulated import EmulatedCurve as EmulatedCurve
    from correlate.tuning.emulated import emulated_curve as emulated_curve
    from correlate.tuning.emulated import predicted_ratings as predicted_ratings
    from correlate.tuning.fitting import TuningFit as TuningFit
    from correlate.tuning.overview import TuningOverview as TuningOverview
    from correlate.tuning.overview import add_design_points as add_design_points
    from correlate.tuning.overview import fit_tuning as fit_tuning
    from correlate.tuning.overview import proposals_csv as proposals_csv
    from correlate.tuning.overview import runs_for_a_fit as runs_for_a_fit
    from correlate.tuning.overview import tuning_overview as tuning_overview
    from correlate.tuning.parameters import ParameterSpace as ParameterSpace
    from correlate.tuning.runs import RunTable as RunTable
    from correlate.tuning.saved_emulator import SavedEmulator as SavedEmulator
    from correlate.tuning.saved_emulator import emulator_of_project as emulator_of_project
    from correlate.tuning.surrogate import Surrogate as Surrogate

__version__ = version.VERSION

_STABLE = {
    "AlignedPair": "correlate.pair",
    "Campaign": "correlate.campaign",
    "CorrelateError": "correlate.errors",
    "METRICS": "correlate.metrics",
    "PairScore": "correlate.campaign",
    "Rating": "correlate.metrics.iso18571",
    "RatingSettings": "correlate.metrics.iso18571",
    "Recipe": "correlate.conditioning",
    "Recording": "correlate.formats",
    "ReleaseScore": "correlate.campaign",
    "RunInfo": "correlate.store",
    "Signal": "correlate.signal",
    "aggregate": "correlate.campaign",
    "check": "correlate.reference.check",
    "compare": "correlate.campaign",
    "compare_releases": "correlate.campaign",
    "conditioned_curves": "correlate.evaluation",
    "crop": "correlate.conditioning",
    "evaluate_measures": "correlate.metrics",
    "explain": "correlate.campaign.explanation",
    "explain_pair": "correlate.campaign.pair_explanation",
    "filter_cfc": "correlate.conditioning",
    "fit_tuning": "correlate.tuning.overview",
    "gate": "correlate.campaign",
    "hic": "correlate.criteria",
    "load_campaign": "correlate.campaign",
    "load_tuning": "correlate.tuning.definition",
    "open_store": "correlate.store",
    "qualify": "correlate.criteria",
    "rate": "correlate.metrics.iso18571",
    "rate_many": "correlate.metrics.iso18571",
    "read": "correlate.formats",
    "recorded_criteria": "correlate.criteria",
    "remove_offset": "correlate.conditioning",
    "release_scores": "correlate.campaign",
    "repeat_set": "correlate.reference.repeats",
    "resample": "correlate.conditioning",
    "resultant": "correlate.conditioning",
    "score_campaign": "correlate.campaign",
    "score_into": "correlate.store",
    "score_pair": "correlate.campaign",
    "scoreboard": "correlate.campaign",
    "spread_corridor": "correlate.reference.corridor",
    "stored_ratings": "correlate.store",
    "tuning_overview": "correlate.tuning.overview",
}

_OTHERS = {
    "AlignedRepeats": "correlate.metrics.repeats",
    "BoardLine": "correlate.campaign",
    "CELL_STATES": "correlate.campaign.matrix",
    "CRITERIA": "correlate.criteria",
    "CampaignPair": "correlate.campaign",
    "CampaignReader": "correlate.campaign",
    "CampaignScores": "correlate.campaign",
    "CardsPosterior": "correlate.tuning.cards",
    "CaseEvaluation": "correlate.evaluation",
    "CaseHealth": "correlate.campaign.reference_health",
    "CasePair": "correlate.evaluation",
    "Ceiling": "correlate.reference.repeatability",
    "Change": "correlate.campaign",
    "Changes": "correlate.laboratory",
    "ChannelCeiling": "correlate.campaign",
    "ChannelCrossPlot": "correlate.reference.cross_plot",
    "ChannelError": "correlate.errors",
    "ChannelName": "correlate.criteria",
    "ChannelPlan": "correlate.campaign",
    "ChannelRating": "correlate.campaign.channel_rating",
    "ChannelRepeats": "correlate.reference.channel_repeats",
    "Check": "correlate.campaign",
    "CheckOutcome": "correlate.reference.check",
    "ConditionedCurves": "correlate.evaluation",
    "ControlChart": "correlate.laboratory",
    "Corridor": "correlate.reference.corridor",
    "CriterionComparison": "correlate.criteria",
    "CriterionResult": "correlate.criteria",
    "CrossPlot": "correlate.reference.arc_length",
    "CrossPlotCorridor": "correlate.reference.cross_plot",
    "Curve": "correlate.evaluation",
    "CurveChange": "correlate.diagnosis.what_if",
    "CurvePeak": "correlate.diagnosis.features",
    "CurveSensitivity": "correlate.tuning.curve_sensitivity",
    "Decision": "correlate.campaign",
    "Device": "correlate.criteria",
    "DueList": "correlate.laboratory",
    "DueSensor": "correlate.laboratory",
    "DueTest": "correlate.laboratory",
    "Dummy": "correlate.laboratory",
    "DummyState": "correlate.laboratory",
    "Effect": "correlate.laboratory",
    "EmulatedCurve": "correlate.tuning.emulated",
    "Evaluation": "correlate.metrics",
    "Exchange": "correlate.laboratory",
    "ExchangeEffect": "correlate.laboratory",
    "DurationLimit": "correlate.criteria",
    "ExceedanceCurve": "correlate.criteria",
    "ExceedanceResult": "correlate.criteria",
    "Expectations": "correlate.reference.expectations",
    "Explanation": "correlate.campaign.explanation",
    "FREQUENCY_CLASSES": "correlate.conditioning",
    "FeatureDifference": "correlate.diagnosis.differences",
    "Features": "correlate.diagnosis.features",
    "Finding": "correlate.reference.finding",
    "FormatError": "correlate.errors",
    "FrameRotation": "correlate.diagnosis.suspects",
    "HardwareScatter": "correlate.reference.scatter",
    "HeldLoadCase": "correlate.store.scored",
    "HeldRelease": "correlate.store.scored",
    "Hint": "correlate.diagnosis.hints",
    "Holdings": "correlate.store.scored",
    "Improvement": "correlate.diagnosis.what_if",
    "KeptPrediction": "correlate.tuning.calibration",
    "KeptQualification": "correlate.laboratory",
    "KeptQuantity": "correlate.laboratory",
    "LaboratoryOverview": "correlate.laboratory",
    "LoadCase": "correlate.campaign",
    "LossAccount": "correlate.diagnosis.accounting",
    "LossBins": "correlate.diagnosis.accounting",
    "MatrixCell": "correlate.campaign",
    "MeanRating": "correlate.campaign.channel_rating",
    "Measure": "correlate.metrics",
    "MissingExtraError": "correlate.extras",
    "NeckIntercepts": "correlate.criteria",
    "Note": "correlate.store",
    "Objection": "correlate.campaign",
    "OneRepeat": "correlate.reference.repeat_numbers",
    "PackageMedia": "correlate.reference.package.media",
    "PackagePlan": "correlate.reference.package.create",
    "PackageRelease": "correlate.reference.package.received",
    "PackageUse": "correlate.campaign.package_use",
    "PairCurves": "correlate.evaluation",
    "PairExplanation": "correlate.campaign.pair_explanation",
    "ParameterSpace": "correlate.tuning.parameters",
    "Preparation": "correlate.criteria",
    "Proposal": "correlate.campaign",
    "PublishedCorridor": "correlate.reference.published_corridor",
    "Qualification": "correlate.criteria",
    "QuantityHistory": "correlate.laboratory",
    "QuantityVerdict": "correlate.criteria",
    "REGISTER_FILE": "correlate.laboratory",
    "RatedAgainstRepeats": "correlate.reference.repeatability",
    "RatedPair": "correlate.store",
    "RatedPlace": "correlate.campaign",
    "ReceivedPackage": "correlate.reference.package.received",
    "ReceivedResults": "correlate.campaign.received_results",
    "RecordedCriteria": "correlate.criteria",
    "RecordedCriterion": "correlate.criteria",
    "Register": "correlate.laboratory",
    "Release": "correlate.campaign",
    "ReleaseEvidence": "correlate.campaign.release_evidence",
    "ReleaseLine": "correlate.campaign",
    "ReleaseMatrix": "correlate.campaign",
    "ReleaseTable": "correlate.campaign",
    "RepairProposal": "correlate.reference.finding",
    "RepeatNumbers": "correlate.reference.repeat_numbers",
    "RepeatSet": "correlate.reference.repeats",
    "ResultantPlan": "correlate.evaluation",
    "RunTable": "correlate.tuning.runs",
    "SORTS": "correlate.campaign.matrix",
    "SavedEmulator": "correlate.tuning.saved_emulator",
    "SavedRatings": "correlate.store",
    "Score": "correlate.campaign",
    "Scoreboard": "correlate.campaign",
    "Sensor": "correlate.laboratory",
    "SettingsError": "correlate.errors",
    "SignOff": "correlate.store",
    "SignOffToday": "correlate.store",
    "SignalError": "correlate.errors",
    "Source": "correlate.signal",
    "Step": "correlate.signal",
    "Store": "correlate.store",
    "StoreError": "correlate.errors",
    "StoredBoard": "correlate.store",
    "StoredNumbers": "correlate.store",
    "present_findings": "correlate.store",
    "StoredResults": "correlate.store",
    "StoredTrend": "correlate.store",
    "StoredRatings": "correlate.store",
    "StoredScores": "correlate.store",
    "Stretch": "correlate.diagnosis.accounting",
    "Surrogate": "correlate.tuning.surrogate",
    "Suspect": "correlate.diagnosis.suspects",
    "TestConditions": "correlate.laboratory",
    "TestHistory": "correlate.laboratory",
    "TrendPoint": "correlate.campaign",
    "Tuning": "correlate.tuning.definition",
    "TuningFit": "correlate.tuning.fitting",
    "TuningOverview": "correlate.tuning.overview",
    "UnitError": "correlate.errors",
    "UnlikeRepeats": "correlate.reference.whole_curve",
    "WaivedFinding": "correlate.reference.finding",
    "Waiver": "correlate.reference.finding",
    "WaiverBook": "correlate.reference.finding",
    "Weights": "correlate.metrics.iso18571",
    "WhatIf": "correlate.diagnosis.what_if",
    "Window": "correlate.criteria",
    "WindowBook": "correlate.criteria",
    "accept_partner": "correlate.campaign.rewriting",
    "account_for_loss": "correlate.diagnosis.accounting",
    "add_design_points": "correlate.tuning.overview",
    "align": "correlate.conditioning",
    "align_repeats": "correlate.metrics.repeats",
    "align_signals": "correlate.conditioning",
    "aligned_pairs": "correlate.pair",
    "apply_change": "correlate.diagnosis.what_if",
    "area_between": "correlate.metrics.area",
    "bric": "correlate.criteria",
    "campaign_ceilings": "correlate.campaign",
    "campaign_pairs": "correlate.campaign",
    "case_health": "correlate.campaign.reference_health",
    "checked_tests": "correlate.campaign.release_evidence",
    "TestFindings": "correlate.campaign.release_evidence",
    "case_pairs": "correlate.evaluation",
    "case_scatter": "correlate.campaign.scatter",
    "ceiling_of": "correlate.reference.repeatability",
    "ceiling_scores": "correlate.campaign",
    "channel_cross_plot": "correlate.reference.cross_plot",
    "channel_pairs": "correlate.campaign.channel_rating",
    "channel_rating": "correlate.campaign.channel_rating",
    "check_store": "correlate.store",
    "check_with_register": "correlate.laboratory",
    "channel_repeats": "correlate.reference.channel_repeats",
    "checked_package": "correlate.reference.package.received",
    "chest_deflection": "correlate.criteria",
    "chest_deflection_rate": "correlate.criteria",
    "compare_criterion": "correlate.criteria",
    "compare_recorded": "correlate.criteria",
    "contiguous_clip": "correlate.criteria",
    "counted": "correlate.reference.finding",
    "cross_plot_corridor": "correlate.reference.cross_plot",
    "cumulative_clip": "correlate.criteria",
    "damage": "correlate.criteria",
    "decide": "correlate.campaign",
    "derivative": "correlate.conditioning",
    "devices": "correlate.criteria",
    "due_in": "correlate.laboratory",
    "emulated_curve": "correlate.tuning.emulated",
    "emulator_of_project": "correlate.tuning.saved_emulator",
    "equal_findings": "correlate.reference.finding",
    "exceedance": "correlate.criteria",
    "exceedance_curve": "correlate.criteria",
    "explain_campaign_pair": "correlate.campaign.pair_explanation",
    "feature_differences": "correlate.diagnosis.differences",
    "features": "correlate.diagnosis.features",
    "features_along_arc": "correlate.reference.registration",
    "femur_force": "correlate.criteria",
    "find_device": "correlate.criteria",
    "frame_rotation": "correlate.diagnosis.suspects",
    "gap_lines": "correlate.campaign.gate",
    "header_findings": "correlate.laboratory",
    "hints": "correlate.diagnosis.hints",
    "history": "correlate.laboratory",
    "holdings": "correlate.store.scored",
    "inside_corridor": "correlate.reference.corridor",
    "integral": "correlate.conditioning",
    "interruptible": "correlate.interrupt",
    "keep_qualification": "correlate.laboratory",
    "kept_predictions": "correlate.tuning.calibration",
    "kept_qualifications": "correlate.laboratory",
    "laboratory_overview": "correlate.laboratory",
    "largest_stretches": "correlate.diagnosis.accounting",
    "list_formats": "correlate.formats.registry",
    "load_expectations": "correlate.reference.expectations",
    "load_published_corridor": "correlate.reference.published_corridor",
    "load_waivers": "correlate.reference.finding",
    "log_folder": "correlate.laboratory",
    "loss_ratio": "correlate.reference.repeatability",
    "loss_ratio_words": "correlate.reference.repeatability",
    "make_package": "correlate.reference.package.create",
    "may_write": "correlate.files",
    "measure": "correlate.metrics",
    "media_file": "correlate.reference.package.media",
    "media_of_test": "correlate.reference.package.received",
    "need_extra": "correlate.extras",
    "newest_rated": "correlate.store",
    "nic": "correlate.criteria",
    "nij": "correlate.criteria",
    "one_spelling": "correlate.spelling",
    "package_media": "correlate.reference.package.media",
    "package_of_test": "correlate.reference.package.received",
    "package_tests": "correlate.reference.package.received",
    "path_deviation": "correlate.reference.path_deviation",
    "peak": "correlate.criteria",
    "places_of": "correlate.reference.finding",
    "plan_load_case": "correlate.campaign.package_use",
    "plan_repeats": "correlate.campaign.package_use",
    "predicted_ratings": "correlate.tuning.emulated",
    "project_register": "correlate.laboratory",
    "prediction_corridor": "correlate.reference.corridor",
    "proposals_csv": "correlate.tuning.overview",
    "proposals_of": "correlate.campaign.proposals",
    "propose": "correlate.campaign",
    "range_corridor": "correlate.reference.corridor",
    "rate_against_repeats": "correlate.reference.repeatability",
    "rated_pairs_of": "correlate.store.scored",
    "read_cards": "correlate.tuning.cards",
    "read_register": "correlate.laboratory",
    "receive_package": "correlate.reference.package.received",
    "receive_results": "correlate.campaign.received_results",
    "received_package": "correlate.reference.package.received",
    "received_packages": "correlate.reference.package.received",
    "record_of": "correlate.tuning.calibration",
    "refuse_unreadable": "correlate.reference.package.releasing",
    "registered_by_features": "correlate.reference.registration",
    "release_matrix": "correlate.campaign",
    "release_of_test": "correlate.reference.package.received",
    "release_package": "correlate.reference.package.releasing",
    "repair": "correlate.reference.repair",
    "repair_recording": "correlate.reference.repair",
    "repeat_numbers": "correlate.reference.repeat_numbers",
    "run_program": "correlate.interrupt",
    "run_selfcheck": "correlate.selfcheck",
    "runs_for_a_fit": "correlate.tuning.overview",
    "saved_ratings": "correlate.store",
    "sensor_suspects": "correlate.diagnosis.suspects",
    "severity_index": "correlate.criteria",
    "shift_time": "correlate.conditioning",
    "sign_offs_today": "correlate.store",
    "sign_release": "correlate.store",
    "signing_chain": "correlate.reference.package.received",
    "store_is_read_only": "correlate.store",
    "stored_board": "correlate.store",
    "stored_channel": "correlate.store",
    "stored_numbers": "correlate.store",
    "suspects": "correlate.diagnosis.suspects",
    "tibia_index": "correlate.criteria",
    "trust_in": "correlate.reference.package.trust",
    "trust_of_key": "correlate.reference.package.trust",
    "tuning_cards": "correlate.tuning.cards",
    "turn_sign": "correlate.conditioning",
    "unclear": "correlate.spelling",
    "unhealthy_case": "correlate.campaign.reference_health",
    "unlike_repeats": "correlate.reference.whole_curve",
    "unpack": "correlate.reference.package.verify",
    "unrated_lines": "correlate.campaign.unrated_words",
    "use_package": "correlate.campaign.package_use",
    "uses_of_package": "correlate.campaign.package_use",
    "verify": "correlate.reference.package.verify",
    "verify_document": "correlate.reference.package.document",
    "viscous_criterion": "correlate.criteria",
    "waive": "correlate.reference.waiving",
    "waive_in_package": "correlate.campaign.package_use",
    "warped_along_arc": "correlate.reference.registration",
    "what_if": "correlate.diagnosis.what_if",
    "whole_curve_corridor": "correlate.reference.whole_curve",
    "window_book": "correlate.criteria",
    "with_codes": "correlate.criteria",
    "with_waivers": "correlate.reference.finding",
}

__all__ = ["__version__", *_STABLE]  # noqa: PLE0604 - the keys are the names

# What lower layers offer and upper ones do, see docs/architecture.md.
register(
    crop="correlate.conditioning",
    pair_figure="correlate.plots",
    signal_figure="correlate.plots",
    signal_html="correlate.plots.signal_html",
)

__getattr__ = loader(__name__, {**_STABLE, **_OTHERS})


def __dir__() -> list[str]:
    """List the stable names."""
    return sorted(__all__)
