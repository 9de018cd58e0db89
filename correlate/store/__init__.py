"""The results store: ratings, who made them when, notes and sign-offs, in SQLite or PostgreSQL."""

from correlate.store.board import (
    StoredBoard,
    StoredNumbers,
    StoredResults,
    StoredTrend,
    stored_board,
    stored_numbers,
)
from correlate.store.overview import RatedPair
from correlate.store.ratings import RatedRelease
from correlate.store.remarks import Note, SignOff
from correlate.store.rows import RunInfo
from correlate.store.scored import (
    SavedRatings,
    StoredRatings,
    StoredScores,
    newest_rated,
    present_findings,
    saved_ratings,
    score_into,
    stored_channel,
    stored_ratings,
)
from correlate.store.signing import SignOffToday, compared_sign_offs, sign_offs_today, sign_release
from correlate.store.store import Store, check_store, open_store, store_is_read_only

__all__ = [
    "Note",
    "RatedPair",
    "RatedRelease",
    "RunInfo",
    "SavedRatings",
    "SignOff",
    "SignOffToday",
    "Store",
    "StoredBoard",
    "StoredNumbers",
    "StoredRatings",
    "StoredResults",
    "StoredScores",
    "StoredTrend",
    "check_store",
    "compared_sign_offs",
    "newest_rated",
    "open_store",
    "present_findings",
    "saved_ratings",
    "score_into",
    "sign_offs_today",
    "sign_release",
    "store_is_read_only",
    "stored_board",
    "stored_channel",
    "stored_numbers",
    "stored_ratings",
]
