"""The results store: one object that keeps ratings and remarks, and gives them back."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Self

from correlate.database import (
    Migrations,
    address,
    connect,
    connect_reading,
    file_of,
    place_of,
    reading,
    server_is_read_only,
    writing,
)
from correlate.errors import StoreError
from correlate.files import may_write
from correlate.store import aggregates, ceilings, evidence, overview, ratings, remarks
from correlate.store.ratings import BlockRows
from correlate.store.remarks import Note, SignOff
from correlate.store.tables import NEWEST_FORMAT, RATINGS

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence
    from datetime import date
    from types import TracebackType

    from sqlalchemy import URL, Engine

    from correlate.campaign.ceilings import ChannelCeiling
    from correlate.campaign.release_evidence import TestFindings
    from correlate.evaluation.evidence import CaseEvidence
    from correlate.evaluation.record import PairRecord
    from correlate.store.aggregates import BlockRow, NumberPair
    from correlate.store.overview import RatedKey, RatedPair, RatedRepeat
    from correlate.store.ratings import RatedRelease
    from correlate.store.rows import RunInfo

MIGRATIONS: Final = Migrations(Path(__file__).with_name("migrations"), NEWEST_FORMAT, "store_format")
_WAIT_FOR_WRITER_S: Final = 60


def open_store(url_or_path: str | Path) -> Store:
    """Open a results store; a new one is made, an old one is upgraded.

    Where its file or the folder of the file may not be written, the store is opened for reading: see
    `Store.is_read_only`. Nothing is then written, locked or created.

    Parameters
    ----------
    url_or_path
        An SQLite file, or a PostgreSQL database as ``postgresql://USER@HOST/DATABASE``.

    Returns
    -------
    Store
        To be used in a ``with`` statement, or closed.

    Raises
    ------
    StoreError
        The address is wrong, the server does not answer, the file is no store or is kept busy by another
        program, a newer version of the program wrote it; or there is no file, or one of an older version,
        and nothing may be written.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder, open_store(f"{folder}/ratings.sqlite") as store:
    ...     store.campaigns()
    []
    """
    url = address(url_or_path, "store")
    file = file_of(url)
    if file is not None and is_read_only(file):
        return _open_reading(url, file)
    engine = connect(url, noun="store", wait_s=_WAIT_FOR_WRITER_S)
    try:
        with writing(engine) as connection:
            MIGRATIONS.bring_up_to_date(connection)
            read_only = server_is_read_only(connection, RATINGS.name)
    except BaseException:
        engine.dispose()
        raise
    return Store(engine, read_only=read_only)


def store_is_read_only(url_or_path: str | Path) -> bool:
    """Tell whether a results store can only be read; a file need not exist and is not opened.

    Parameters
    ----------
    url_or_path
        As for `open_store`.

    Returns
    -------
    bool

    Raises
    ------
    StoreError
        The address is wrong, or the server does not answer.
    """
    file = file_of(address(url_or_path, "store"))
    if file is not None:
        return is_read_only(file)
    with open_store(url_or_path) as store:
        return store.is_read_only


def check_store(url_or_path: str | Path) -> None:
    """Read which format a results store has, as the smallest sign that it can be used; nothing is written.

    Parameters
    ----------
    url_or_path
        As for `open_store`. A file that does not exist holds no ratings, and is accepted.

    Raises
    ------
    StoreError
        The address is wrong, the server does not answer, or the database cannot be read.
    """
    url = address(url_or_path, "store")
    file = file_of(url)
    if file is not None and not file.exists():
        return
    if file is not None and is_read_only(file):
        engine, _ = connect_reading(url, file, noun="store")
    else:
        engine = connect(url, noun="store", wait_s=1)
    try:
        with reading(engine) as connection:
            MIGRATIONS.present(connection)
    finally:
        engine.dispose()


def is_read_only(file: Path) -> bool:
    """Tell whether a store in a file can only be read, even before it exists; SQLite writes beside it."""
    return not may_write(file.parent) or (file.exists() and not may_write(file))


def _open_reading(url: URL, file: Path) -> Store:
    """Open a store that can only be read, and write nothing."""
    if not file.exists():
        raise StoreError(
            "there are no saved ratings, and there is no permission to create this file",
            where=str(file),
            remedy="name another results store with --store FILE",
        )
    seen = _stamp(file)
    engine, unchanging = connect_reading(url, file, noun="store")
    try:
        with reading(engine) as connection:
            MIGRATIONS.require_newest(connection)
    except StoreError as error:
        engine.dispose()
        if unchanging or "cannot be opened" not in str(error):
            raise
        raise StoreError(
            f"copied while a program wrote to it: the data in '{file.name}-wal' cannot be read here",
            where=str(file),
            remedy="copy the project to a folder where you may write",
        ) from error
    return Store(engine, read_only=True, unchanging=(file, seen) if unchanging else None)


def _stamp(file: Path) -> tuple[int, int, int]:
    """Return what changes when a file does."""
    seen = file.stat()
    return seen.st_ino, seen.st_size, seen.st_mtime_ns


class Store:
    """An open results store; made by `open_store`.

    It may be used by several threads. A process that was forked opens its own.

    Every method raises `StoreError` when the database refuses: one sentence with the place and the remedy.

    Parameters
    ----------
    engine
        Of a database whose tables are up to date.
    read_only
        Whether nothing can be saved in it.
    unchanging
        A file that is read as one that nobody changes, and what it was when it was opened.
    """

    def __init__(
        self,
        engine: Engine,
        *,
        read_only: bool = False,
        unchanging: tuple[Path, tuple[int, int, int]] | None = None,
    ) -> None:
        self._engine = engine
        self._read_only = read_only
        self._unchanging = unchanging

    def __enter__(self) -> Self:
        """Return the store itself."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close the store; what was read while somebody else changed the file is refused."""
        self.close()
        if self._unchanging is not None and _stamp(self._unchanging[0]) != self._unchanging[1]:
            raise StoreError(
                "this store was changed by another program while it was read",
                where=self.place,
                remedy="try again",
            ) from error

    @property
    def is_read_only(self) -> bool:
        """Whether nothing can be saved: the file, its folder or the database may not be written."""
        return self._read_only

    @property
    def place(self) -> str:
        """File or server, without password."""
        return place_of(self._engine.url)

    @property
    def address(self) -> str:
        """Address from which another program can open the same store; it may contain a password."""
        return self._engine.url.render_as_string(hide_password=False)

    @property
    def is_file(self) -> bool:
        """Whether it is a file, which only one program at a time can write."""
        return self._engine.dialect.name == "sqlite"

    def close(self) -> None:
        """Let go of the file or server."""
        self._engine.dispose()

    def known(self, keys: Iterable[str]) -> dict[str, PairRecord]:
        """Look up ratings that need not be made again.

        Parameters
        ----------
        keys
            Of `rating_key`; any number, asked for in chunks.

        Returns
        -------
        dict
            Records by key; keys without a rating are left out. A rating that several pairs share has the
            names and inputs of the pair kept last: whoever uses it for another pair puts that pair's in
            their place.
        """
        with reading(self._engine) as connection:
            return {record.key: record for record in ratings.known(connection, keys)}

    def keep(self, records: Iterable[PairRecord], *, run: RunInfo) -> None:
        """Keep ratings.

        Records are taken from the iterable in chunks, each written in one transaction: whoever reads, even
        after a writer was stopped halfway, sees whole ratings only. Memory does not grow with their number.

        A rating is kept once a key: where the store has it, its numbers stay. In any case the pair of the
        record gets an entry that it has this rating in this run. Keeping the same again changes nothing.

        Parameters
        ----------
        records
            Settings, inputs and ingredients are plain data as JSON knows it; a tuple comes back as a list.
        run
            Who rates, when and with what; may be used for many calls.

        Raises
        ------
        StoreError
            A record cannot be kept as it is (a score outside 0 to 1, for instance), or the database refuses.
            Chunks before that one are kept.
        """
        ratings.keep(self._engine, records, run)

    def keep_block(self, records: Iterable[PairRecord], evidence: CaseEvidence, *, run: RunInfo) -> None:
        """Save ratings of one load case of one release together with their evidence, in one transaction.

        Parameters
        ----------
        records
            As for `keep`; none if all of them are saved already.
        evidence
            Evidence of that load case and release; it replaces earlier evidence.
        run
            Who rates, when and with what.

        Raises
        ------
        StoreError
            As for `keep`; then nothing is saved.
        """
        ratings.keep_blocks(self._engine, [BlockRows.of(records, evidence)], run)

    def keep_rows(self, blocks: Sequence[BlockRows], *, run: RunInfo) -> None:
        """Keep blocks whose rows have been made already, in one transaction; see `keep_block`.

        Raises
        ------
        StoreError
            The database reports an error; then nothing is saved.
        """
        ratings.keep_blocks(self._engine, blocks, run)

    def ratings(
        self, *, campaign: str | None = None, release: str | None = None, load_case: str | None = None
    ) -> list[PairRecord]:
        """Return the present rating of every pair: the one kept last.

        Parameters
        ----------
        campaign, release, load_case
            Only of these, when given.

        Returns
        -------
        list of PairRecord
            In the order in which they were kept.
        """
        with reading(self._engine) as connection:
            return list(ratings.ratings(connection, campaign=campaign, release=release, load_case=load_case))

    def rated_pairs(self, campaign: str, **only: str) -> list[RatedPair]:
        """Return the present rating of every pair of a campaign, without inputs and settings.

        Parameters
        ----------
        campaign
            Its name.
        only
            Names that a pair must have: ``release``, ``load_case``, ``channel`` or ``repeat``.

        Returns
        -------
        list of RatedPair
        """
        with reading(self._engine) as connection:
            return list(overview.rated_pairs(connection, campaign, **only))

    def rated_keys(self, campaign: str, **only: str) -> list[RatedKey]:
        """Return which rating every pair of a campaign has now, in no particular order.

        Parameters
        ----------
        campaign
            Its name.
        only
            Names that a pair must have: ``release``, ``load_case``, ``channel`` or ``repeat``.

        Returns
        -------
        list of RatedKey
        """
        with reading(self._engine) as connection:
            return overview.rated_keys(connection, campaign, **only)

    def rated_repeats(self, campaign: str) -> list[RatedRepeat]:
        """Return the repeats that any release of a campaign was rated with, in no particular order."""
        with reading(self._engine) as connection:
            return overview.rated_repeats(connection, campaign)

    def number_pairs(self, campaign: str, **only: str) -> tuple[list[NumberPair], dict[tuple[str, str], str]]:
        """Return the values that the results of a campaign are computed from: the pairs that count.

        Parameters
        ----------
        campaign
            Its name.
        only
            Names that a pair must have: ``release``, ``load_case`` or ``channel``.

        Returns
        -------
        tuple
            Pairs, those of one channel in the order in which they were saved; and by release and load case
            their hash, which equals that of `blocks` unless they were saved again between the two calls.
        """
        with reading(self._engine) as connection:
            return aggregates.number_pairs(connection, campaign, **only)

    def number_pairs_at(
        self, campaign: str, *, releases: Collection[str], places: Iterable[tuple[str, str]]
    ) -> list[NumberPair]:
        """Return what the numbers of some channels are made of, in some releases.

        Parameters
        ----------
        campaign
            Its name.
        releases
            Names.
        places
            Load case and channel of each.

        Returns
        -------
        list of NumberPair
            Those of one channel in the order in which they were kept.
        """
        with reading(self._engine) as connection:
            return aggregates.number_pairs_at(connection, campaign, releases, places)

    def blocks(self, campaign: str) -> list[BlockRow]:
        """Return what is saved of each load case of each release: counts, hashes and gaps."""
        with reading(self._engine) as connection:
            return aggregates.blocks(connection, campaign)

    def keep_ceilings(self, found: Iterable[ChannelCeiling]) -> None:
        """Keep how well repeats agree with each other, in the place of what was kept of these channels.

        Raises
        ------
        StoreError
            A ceiling cannot be kept as it is, or the database refuses; then none is kept.
        """
        with writing(self._engine) as connection:
            ceilings.keep(connection, found)

    def ceilings(self, campaign: str) -> list[ChannelCeiling]:
        """Return the ceilings of a campaign, sorted by load case and channel."""
        with reading(self._engine) as connection:
            return ceilings.read(connection, campaign)

    def save_evidence(self, found: Iterable[CaseEvidence]) -> None:
        """Save the evidence behind ratings; it replaces earlier evidence of these load cases and releases.

        Raises
        ------
        StoreError
            The database refuses; then nothing is saved.
        """
        with writing(self._engine) as connection:
            evidence.save_evidence(connection, found)

    def evidence(self, campaign: str, **only: str) -> list[CaseEvidence]:
        """Return the evidence behind the ratings of a campaign, sorted by release and load case.

        Parameters
        ----------
        campaign
            Its name.
        only
            The ``release`` or ``load_case`` that is wanted.

        Returns
        -------
        list of CaseEvidence
        """
        with reading(self._engine) as connection:
            return evidence.read_evidence(connection, campaign, **only)

    def save_findings(
        self, campaign: str, load_case: str, *, state: str, content: list[dict[str, Any]]
    ) -> None:
        """Save what the data check found in the tests of a load case.

        Parameters
        ----------
        campaign, load_case
            Whose tests.
        state
            From `state_of_check`, when they were checked.
        content
            The findings as plain values.

        Raises
        ------
        StoreError
            The database refuses.
        """
        with writing(self._engine) as connection:
            evidence.save_findings(connection, campaign, load_case, state=state, content=content)

    def findings(self, campaign: str) -> dict[str, TestFindings]:
        """Return the latest findings of the data check in the tests of a campaign, by load case."""
        with reading(self._engine) as connection:
            return evidence.read_findings(connection, campaign)

    def ratings_sha256(self, *, campaign: str, release: str) -> str:
        """Return the hash of the present ratings of a release: which pair has which rating.

        Raises
        ------
        StoreError
            None is rated.
        """
        with reading(self._engine) as connection:
            found = ratings.ratings_sha256(connection, campaign, release)
        return self._rated(found, campaign, release)

    def _rated(self, found: str | None, campaign: str, release: str) -> str:
        if found is None:
            raise StoreError(
                f"campaign '{campaign}' has no ratings of a release '{release}'",
                where=self.place,
                remedy="correct the name, or rate the release first",
            )
        return found

    def campaigns(self) -> list[str]:
        """Return the names of the campaigns that have ratings, first kept first."""
        with reading(self._engine) as connection:
            return ratings.campaigns(connection)

    def releases(self, campaign: str) -> list[RatedRelease]:
        """Return the releases of a campaign that have ratings, first kept first."""
        with reading(self._engine) as connection:
            return ratings.releases(connection, campaign)

    def runs(self, campaign: str) -> list[RunInfo]:
        """Return who rated the campaign when, oldest first."""
        with reading(self._engine) as connection:
            return ratings.runs(connection, campaign)

    def last_run(self, campaign: str) -> RunInfo | None:
        """Return the last run over the campaign; None if there is none."""
        with reading(self._engine) as connection:
            return ratings.last_run(connection, campaign)

    def add_note(
        self,
        text: str,
        *,
        campaign: str,
        who: str,
        release: str = "",
        load_case: str = "",
        channel: str = "",
    ) -> Note:
        """Write a note.

        Parameters
        ----------
        text
            The note.
        campaign, release, load_case, channel
            What it speaks of; what is left out means all of them.
        who
            Writes it.

        Returns
        -------
        Note

        Raises
        ------
        StoreError
            Text, campaign or writer is empty.
        """
        names = {"campaign": campaign, "release": release, "load_case": load_case, "channel": channel}
        with writing(self._engine) as connection:
            return remarks.add_note(connection, text=text, who=who, **names)

    def notes(self, *, campaign: str | None = None, release: str | None = None) -> list[Note]:
        """Return notes, oldest first; only of a campaign or release, when given."""
        with reading(self._engine) as connection:
            return remarks.read(connection, Note, campaign, release)

    def sign_off(
        self,
        *,
        campaign: str,
        release: str,
        role: str,
        date: date,
        who: str,
        text: str = "",
        scope: str = "",
        inputs_sha256: str = "",
    ) -> SignOff:
        """Write that somebody answers for the present ratings of a release.

        `sign_release` also records the state of the inputs.

        Parameters
        ----------
        campaign, release
            What is signed.
        role
            In which the signer answers, for instance lab, analyst or manager.
        date
            The signer gives.
        who
            Enters it.
        text
            Remark of the signer.
        scope
            What the release may be used for; empty for everything the campaign covers.
        inputs_sha256
            Hash of tests, results and settings, where it is known.

        Returns
        -------
        SignOff
            With the hash of the ratings, taken in the same transaction.

        Raises
        ------
        StoreError
            The release has no ratings; role or `who` is empty.
        """
        with writing(self._engine) as connection:
            signed = self._rated(ratings.ratings_sha256(connection, campaign, release), campaign, release)
            names = {"campaign": campaign, "release": release, "role": role, "text": text, "who": who}
            names |= {"scope": scope, "inputs_sha256": inputs_sha256}
            return remarks.sign_off(connection, day=date, ratings_sha256=signed, **names)

    def sign_offs(self, *, campaign: str | None = None, release: str | None = None) -> list[SignOff]:
        """Return sign-offs, oldest first; only of a campaign or release, when given."""
        with reading(self._engine) as connection:
            return remarks.read(connection, SignOff, campaign, release)
