"""Present ratings, and aggregates of them, so that no page reads every rating."""

import hashlib
import json
from collections import defaultdict
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "6"
down_revision = "5"

NUMBER = sa.BigInteger().with_variant(sa.Integer, "sqlite")
BLOCK = ("campaign", "release", "load_case")

EVIDENCE_KEYS = ("channel", "expected", "found", "rated", "missing", "pairs", "flags", "causes", "earlier")

PRESENT = """
INSERT INTO present (campaign, release, load_case, channel, repeat, entry_id)
SELECT campaign, release, load_case, channel, repeat, max(id) FROM entries
GROUP BY campaign, release, load_case, channel, repeat
"""
BLOCKS = """
INSERT INTO blocks (campaign, release, load_case, first_entry)
SELECT campaign, release, load_case, min(id) FROM entries GROUP BY campaign, release, load_case
"""
BLOCKS_OF_EVIDENCE = """
INSERT INTO blocks (campaign, release, load_case)
SELECT campaign, release, load_case FROM evidence WHERE true ON CONFLICT DO NOTHING
"""
RUNS = """
UPDATE blocks SET {column} = (
    SELECT runs.id FROM entries JOIN runs ON runs.id = entries.run_id
    WHERE entries.campaign = blocks.campaign AND entries.release = blocks.release
        AND entries.load_case = blocks.load_case
    ORDER BY runs.started {order}, runs.id {order} LIMIT 1)
"""
PAIRS = sa.text("""
SELECT present.channel, present.repeat, ratings.overall, ratings.ingredients
FROM present JOIN entries ON entries.id = present.entry_id JOIN ratings ON ratings.key = entries.rating_key
WHERE present.campaign = :campaign AND present.release = :release AND present.load_case = :load_case
ORDER BY present.entry_id
""")
EVIDENCE = sa.text("""
SELECT state, content FROM evidence
WHERE campaign = :campaign AND release = :release AND load_case = :load_case
""")
SAVE_CHANNEL = sa.text("""
INSERT INTO aggregates (campaign, release, load_case, channel, numbers, left_out)
VALUES (:campaign, :release, :load_case, :channel, :numbers, :left_out)
""")
SAVE_BLOCK = sa.text("""
UPDATE blocks SET pairs = :pairs, counted = :counted, digest = :digest,
    state = :state, channels = :channels, lacking = :lacking
WHERE campaign = :campaign AND release = :release AND load_case = :load_case
""")


def upgrade() -> None:
    """Add the tables, and fill them from existing data, one load case of one release after the other."""
    _make_tables()
    connection = op.get_bind()
    for statement in (PRESENT, BLOCKS, BLOCKS_OF_EVIDENCE):
        connection.execute(sa.text(statement))
    for column, order in (("first_run", "ASC"), ("last_run", "DESC")):
        connection.execute(sa.text(RUNS.format(column=column, order=order)))
    names = sa.text("SELECT campaign, release, load_case FROM blocks")
    for row in connection.execute(names).all():
        _fill(connection, dict(zip(BLOCK, row, strict=True)))


def _names(*more: str) -> list[sa.Column[str]]:
    return [sa.Column(name, sa.Text, primary_key=True) for name in (*BLOCK, *more)]


def _make_tables() -> None:
    op.create_table(
        "present",
        *_names("channel", "repeat"),
        sa.Column("entry_id", NUMBER, sa.ForeignKey("entries.id"), nullable=False),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "aggregates",
        *_names("channel"),
        sa.Column("numbers", sa.Text, nullable=False),
        sa.Column("left_out", sa.Text, nullable=False),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "blocks",
        *_names(),
        sa.Column("pairs", sa.Integer, nullable=False, server_default="0"),
        sa.Column("counted", sa.Integer, nullable=False, server_default="0"),
        sa.Column("digest", sa.Text, nullable=False, server_default=""),
        sa.Column("first_entry", NUMBER),
        sa.Column("first_run", NUMBER, sa.ForeignKey("runs.id")),
        sa.Column("last_run", NUMBER, sa.ForeignKey("runs.id")),
        sa.Column("state", sa.Text),
        sa.Column("channels", sa.Text, nullable=False, server_default="[]"),
        sa.Column("lacking", sa.Text, nullable=False, server_default="[]"),
    )


def _fill(connection: sa.Connection, block: dict[str, str]) -> None:
    evidence = connection.execute(EVIDENCE, block).one_or_none()
    channels: list[dict[str, Any]] = [] if evidence is None else json.loads(evidence.content)
    counted = {one["channel"]: set(one["pairs"]) for one in channels}
    numbers: dict[str, list[Any]] = defaultdict(list)
    left_out: dict[str, list[str]] = defaultdict(list)
    pairs = 0
    for channel, repeat, overall, ingredients in connection.execute(PAIRS, block):
        pairs += 1
        if evidence is None or repeat in counted.get(channel, ()):
            numbers[channel].append([repeat, overall, *_peak_and_also(json.loads(ingredients))])
        else:
            left_out[channel].append(repeat)
    rows = [
        {"channel": name, "numbers": _text(numbers[name]), "left_out": _text(left_out[name])}
        for name in sorted({*numbers, *left_out})
    ]
    if rows:
        connection.execute(SAVE_CHANNEL, [block | row for row in rows])
    earlier = {name: {*(one[0] for one in numbers[name]), *left_out[name]} for name in {*numbers, *left_out}}
    lacking = [
        {"causes": {}} | one | {"earlier": sorted(earlier.get(one["channel"], ()))}
        for one in channels
        if _lacks(one, earlier.get(one["channel"], set()))
    ]
    saved = {
        "pairs": pairs,
        "counted": sum(map(len, numbers.values())),
        "digest": hashlib.sha256(
            _text([[row["channel"], row["numbers"], row["left_out"]] for row in rows]).encode()
        ).hexdigest(),
        "state": None if evidence is None else evidence.state,
        "channels": _text([one["channel"] for one in channels]),
        "lacking": _text([{name: one[name] for name in EVIDENCE_KEYS} for one in lacking]),
    }
    connection.execute(SAVE_BLOCK, block | saved)


def _peak_and_also(ingredients: dict[str, Any]) -> tuple[Any, dict[str, Any]]:
    corridor = ingredients.get("corridor") or {}
    also = ingredients.get("also") or {}
    return corridor.get("reference_peak"), {name: one["value"] for name, one in also.items()}


def _lacks(channel: dict[str, Any], earlier: set[str]) -> bool:
    named = {*channel["found"], *channel["missing"]}
    gone = any(not name.startswith("mean of ") for name in earlier - named)
    return bool(
        channel["missing"] or gone or not channel["rated"] or len(channel["rated"]) < channel["expected"]
    )


def _text(content: Any) -> str:
    return json.dumps(content, ensure_ascii=True, separators=(",", ":"))
