"""The results store: ratings, who made them when, notes and sign-offs, in SQLite or PostgreSQL."""

from correlate.store.overview import RatedPair
from correlate.store.ratings import RatedRelease
from correlate.store.remarks import Note, SignOff
from correlate.store.rows import RunInfo
from correlate.store.scored import (
    SavedRatings,
    StoredRatings,
    StoredScores,
    newest_rated,
    saved_ratings,
    score_into,
    stored_channel,
    stored_findings,
    stored_ratings,
)
from correlate.store.store import Store, open_store, store_is_read_only

__all__ = [
    "Note",
    "RatedPair",
    "RatedRelease",
    "RunInfo",
    "SavedRatings",
    "SignOff",
    "Store",
    "StoredRatings",
    "StoredScores",
    "newest_rated",
    "open_store",
    "saved_ratings",
    "score_into",
    "store_is_read_only",
    "stored_channel",
    "stored_findings",
    "stored_ratings",
]
