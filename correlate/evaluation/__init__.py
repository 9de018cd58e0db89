"""The campaign file, and the only code that turns one of its pairs into a rating with its evidence."""

from correlate.evaluation.case import CampaignReader, CaseEvaluation, CasePair
from correlate.evaluation.conditioned import ConditionedCurves, PairCurves, conditioned_curves
from correlate.evaluation.curves import Curve, Missing
from correlate.evaluation.definition import Campaign, load_campaign
from correlate.evaluation.evidence import CaseEvidence, ChannelEvidence, Unpaired, Unrated, inputs_state
from correlate.evaluation.pairs import CampaignPair, PairScore, campaign_pairs, case_pairs, score_pair
from correlate.evaluation.record import PairNames, PairRecord
from correlate.evaluation.tables import ChannelPlan, LoadCase, Release, ResultantPlan

__all__ = [
    "Campaign",
    "CampaignPair",
    "CampaignReader",
    "CaseEvaluation",
    "CaseEvidence",
    "CasePair",
    "ChannelEvidence",
    "ChannelPlan",
    "ConditionedCurves",
    "Curve",
    "LoadCase",
    "Missing",
    "PairCurves",
    "PairNames",
    "PairRecord",
    "PairScore",
    "Release",
    "ResultantPlan",
    "Unpaired",
    "Unrated",
    "campaign_pairs",
    "case_pairs",
    "conditioned_curves",
    "inputs_state",
    "load_campaign",
    "score_pair",
]
