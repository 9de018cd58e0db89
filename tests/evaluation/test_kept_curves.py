"""Curves kept between runs: the same bits, no file of a test read, and nothing believed that is damaged."""

from __future__ import annotations

import errno
import os
import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from correlate import CampaignReader, load_campaign
from correlate import file_hashes as file_hashes_module
from correlate.campaign import score_campaign
from correlate.evaluation import CaseEvaluation, Curve, definition, kept_curves
from correlate.evaluation.evidence import contents_of
from correlate.evaluation.kept_curves import KeptCurves, conditioning_text, key_of_test
from correlate.file_hashes import file_hashes
from correlate.private_folder import project_cache_folder
from tests.docs.demo_project import copy_of, shared_demo

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from correlate import Recording
    from correlate.campaign.scoring import CampaignScores
    from correlate.signal import Signal

_opened: list[Path] | None = None


def _hear(event: str, arguments: tuple[Any, ...]) -> None:
    if _opened is not None and event == "open" and isinstance(arguments[0], str | bytes | os.PathLike):
        _opened.append(Path(os.fsdecode(arguments[0])))


sys.addaudithook(_hear)


@contextmanager
def opened_files() -> Iterator[list[Path]]:
    """Collect the files that are opened meanwhile; a hook of the interpreter cannot be removed."""
    global _opened  # noqa: PLW0603
    found: list[Path] = []
    _opened = found
    try:
        yield found
    finally:
        _opened = None


@pytest.fixture(autouse=True)
def cache(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give each test a cache folder of its own, outside of the project."""
    folder = tmp_path_factory.mktemp("cache")
    monkeypatch.setenv("XDG_CACHE_HOME", str(folder))
    # Hashes of files this young are not recorded, and their bytes would be read again.
    monkeypatch.setattr(file_hashes_module, "RACY_NS", 0)
    return folder


def entries(cache: Path) -> list[Path]:
    """Return the entries of all projects."""
    return sorted(cache.rglob("*.curves"))


def scored(project: Path, *releases: str) -> CampaignScores:
    """Rate in this process."""
    return score_campaign(load_campaign(project), releases=releases, workers=1)


def everything(scores: CampaignScores) -> str:
    """Return all that came of scoring, written out."""
    return repr((scores.records, [str(one) for one in scores.unrated], scores.unpaired, scores.evidence))


def what_a_signal_is(signal: Signal) -> tuple[object, ...]:
    """Return everything about a signal, samples as bytes."""
    steps = [(step.name, repr(dict(step.settings))) for step in signal.history]
    base = (repr(signal.start_s), repr(signal.step_s), signal.unit, signal.channel, signal.source)
    return signal.samples.tobytes(), *base, steps


@pytest.mark.parametrize("repeats", ["each", "mean curve"])
def test_every_pair_of_the_demo_has_the_same_bits(
    repeats: str, tmp_path: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Ratings, evidence and conditioned curves are the same, kept or not; kept signals are frozen."""
    folder = copy_of(shared_demo(tmp_path_factory), tmp_path / "demo")
    file = folder / "campaign.toml"
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace('repeats = "each"', f'repeats = "{repeats}"'), encoding="utf-8")
    cold = scored(folder, "A3")
    assert cold.records
    own = project_cache_folder(folder)
    assert own is not None
    campaign = load_campaign(folder)
    assert len(entries(own)) == sum(len(campaign.tests(one)) for one in campaign.load_cases)
    assert everything(scored(folder, "A3")) == everything(cold)
    for load_case in campaign.load_cases:
        kept = CaseEvaluation(campaign, load_case)
        read = CaseEvaluation(campaign, load_case, change=lambda recipe: recipe)
        for channel in kept.channels:
            for repeat in kept.paths:
                one, other = kept.reference(channel, repeat), read.reference(channel, repeat)
                assert isinstance(one, Curve)
                assert isinstance(other, Curve)
                assert what_a_signal_is(one.signal) == what_a_signal_is(other.signal)
                assert (one.origins, one.words) == (other.origins, other.words)
                with pytest.raises(ValueError, match="read-only"):
                    one.signal.samples[0] = 1.0


def test_a_new_release_reads_only_its_own_files(project: Path) -> None:
    """No file of a test is opened, although every pair is rated against tests."""
    scored(project)
    with opened_files() as found:
        scores = scored(project)
    assert scores.new == 4
    inside = {path.relative_to(project).as_posix() for path in found if path.is_relative_to(project)}
    assert inside == {"campaign.toml", "model/push.csv"}


def test_a_single_pair_uses_what_scoring_kept(project: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Explanations, reports, curves and pages evaluate here; also the page, whose reader has read nothing."""
    scored(project)
    campaign = load_campaign(project)
    monkeypatch.setattr(CaseEvaluation, "test", _refused)
    for reader in (None, CampaignReader()):
        case = CaseEvaluation(campaign, campaign.load_cases[0], reader=reader)
        assert case.pair(campaign.releases[0], "force", "R2").score().rating.overall > 0
    changed = CaseEvaluation(campaign, campaign.load_cases[0], change=lambda recipe: recipe)
    with pytest.raises(AssertionError, match="a test is read"):
        changed.pair(campaign.releases[0], "force", "R2")


def test_a_rating_against_kept_curves_restores_no_signal(
    project: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Signals are created on request, once each; a rating uses the samples."""
    cold = everything(scored(project))
    with monkeypatch.context() as patch:
        patch.setattr(kept_curves, "signal_from", _refused)
        assert everything(scored(project)) == cold
    campaign = load_campaign(project)
    curve = CaseEvaluation(campaign, campaign.load_cases[0]).reference("force", "R1")
    assert isinstance(curve, Curve)
    assert curve.signal is curve.signal
    assert curve.signal.samples is curve.samples
    assert (curve.unit, curve.place, curve.end_s, len(curve)) == (
        curve.signal.unit,
        curve.signal.place,
        curve.signal.end_s,
        len(curve.signal),
    )


def _refused(*_: object) -> Recording:
    raise AssertionError("a test is read")


def test_what_a_reader_reads_in_another_way_is_neither_used_nor_kept(project: Path, cache: Path) -> None:
    """Results of unfinished runs are read with a reader of their own."""
    campaign = load_campaign(project)
    reader = CampaignReader(read=definition.read_so_far)
    CaseEvaluation(campaign, campaign.load_cases[0], reader=reader).condition_tests()
    assert not entries(cache)
    scored(project)
    again = CampaignReader(read=reader.read)
    CaseEvaluation(campaign, campaign.load_cases[0], reader=again).condition_tests()
    assert len(again.recordings) == 2


def test_reasons_and_unusable_channels_come_back(project: Path, cache: Path) -> None:
    """A channel that a test does not have, and one that has no numbers, give the same sentences."""
    file = project / "campaign.toml"
    more = '[[load_case.channel]]\nregion = "knee"\ntest = "torque"\nmodel = "force"\n'
    file.write_text(file.read_text(encoding="utf-8").replace("[[release]]", f"{more}[[release]]", 1))
    test = project / "tests" / "R1.csv"
    heading, *lines = test.read_text(encoding="utf-8").splitlines()
    rows = [
        f"{heading},spare [V]",
        *(f"{line},{'nan' if place == 5 else 1}" for place, line in enumerate(lines)),
    ]
    test.write_text("\n".join(rows) + "\n", encoding="utf-8")
    cold = scored(project)
    assert any("torque" in one.reason for one in cold.unrated)
    assert any(one.set_aside for one in cold.unpaired)
    assert len(entries(cache)) == 2
    with opened_files() as found:
        warm = scored(project)
    assert everything(warm) == everything(cold)
    assert test not in found


@pytest.mark.parametrize(
    "damage",
    [
        lambda content: content[:-1] + bytes([content[-1] ^ 1]),
        lambda content: content[:40] + bytes([content[40] ^ 1]) + content[41:],
        lambda content: bytes([content[0] ^ 1]) + content[1:],
        lambda content: content[: len(content) // 2],
        lambda _content: b"",
        lambda _content: b"anything else",
    ],
    ids=["sample", "length", "hash", "half", "empty", "foreign"],
)
def test_a_damaged_entry_is_not_believed_and_made_again(
    project: Path, cache: Path, damage: Callable[[bytes], bytes]
) -> None:
    """The ratings are those of the files, and the entry is whole afterwards."""
    cold = everything(scored(project))
    before = {path: path.read_bytes() for path in entries(cache)}
    for path, content in before.items():
        path.write_bytes(damage(content))
    assert everything(scored(project)) == cold
    assert {path: path.read_bytes() for path in entries(cache)} == before


def test_the_entry_of_another_test_is_not_believed(project: Path, cache: Path) -> None:
    """Its hash is right, but it is not the hash of these bytes for this key."""
    cold = everything(scored(project))
    first, second = entries(cache)
    second.write_bytes(first.read_bytes())
    assert everything(scored(project)) == cold


def test_an_odd_thing_in_the_place_of_an_entry_is_passed_over(project: Path, cache: Path) -> None:
    """A folder or a pipe there neither stops nor blocks the program."""
    cold = everything(scored(project))
    first, second = entries(cache)
    first.unlink()
    first.mkdir()
    second.unlink()
    os.mkfifo(second)
    assert everything(scored(project)) == cold


def test_scoring_works_without_a_folder(project: Path, cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """There is none that only this user can change, it is deleted meanwhile, or the disk is full."""
    cold = everything(scored(project))

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(kept_curves, "temporary_file", full)
        for path in entries(cache):
            path.unlink()
        assert everything(scored(project)) == cold
    with monkeypatch.context() as patch:
        patch.setattr(kept_curves, "project_cache_folder", lambda _project: None)
        assert everything(scored(project)) == cold
    assert not entries(cache)


def test_the_key_changes_with_everything_that_changes_a_curve(project: Path) -> None:
    """Bytes, path, layout, how a channel is conditioned, and the limits on reading."""
    campaign = load_campaign(project)
    test = project / "tests" / "R1.csv"
    plans = [
        (plan.test, campaign.load_cases[0].recipe(plan).for_reference(""))
        for plan in campaign.load_cases[0].channel
    ]
    layout: Any = "another layout"
    copy = project / "tests" / "R7.csv"
    copy.write_bytes(test.read_bytes())
    keys = [
        key_of_test(test, contents_of(campaign, test), None, conditioning_text(plans)).sha256,
        key_of_test(copy, contents_of(campaign, copy), None, conditioning_text(plans)).sha256,
        key_of_test(test, contents_of(campaign, test), layout, conditioning_text(plans)).sha256,
        key_of_test(test, contents_of(campaign, test), None, conditioning_text(plans[:1])).sha256,
        key_of_test(
            test,
            contents_of(campaign, test),
            None,
            conditioning_text([(name, how) for (name, _), (_, how) in zip(plans, plans[::-1], strict=True)]),
        ).sha256,
    ]
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CORRELATE_MOST_SAMPLES", "5000")
        keys.append(key_of_test(test, contents_of(campaign, test), None, conditioning_text(plans)).sha256)
    test.write_bytes(test.read_bytes() + b"\n")
    keys.append(key_of_test(test, contents_of(campaign, test), None, conditioning_text(plans)).sha256)
    assert len(set(keys)) == len(keys)


def test_a_test_that_changes_while_it_is_read_is_not_kept(project: Path, cache: Path) -> None:
    """Its curves may be those of other bytes than the key says."""
    campaign = load_campaign(project)
    case = CaseEvaluation(campaign, campaign.load_cases[0])
    path = case.paths["R1"]
    contents_of(campaign, path)
    for repeat in case.paths:
        case.test(repeat)
    seen = path.stat()
    content = path.read_bytes()
    # Same size, time and place: only the bytes tell.
    with path.open("r+b") as stream:
        stream.write(content.replace(b"1", b"2"))
    os.utime(path, ns=(seen.st_atime_ns, seen.st_mtime_ns))
    case.condition_tests()
    assert len(entries(cache)) == 1


def test_entries_that_were_not_used_for_longest_go_first(
    project: Path, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The size of all entries together is bounded; using an entry makes it young."""
    scored(project)
    first, second = entries(cache)
    used, unused = first, second
    for path in (used, unused):
        with path.open("ab") as stream:
            stream.truncate(600_000)
    os.utime(used, (2e9, 2e9))
    os.utime(unused, (1e9, 1e9))
    monkeypatch.setenv("CORRELATE_MOST_CACHE_MB", "1")
    KeptCurves(project).remove_oldest()
    assert entries(cache) == [used]
    monkeypatch.delenv("CORRELATE_MOST_CACHE_MB")
    used.unlink()
    scored(project)
    for path in entries(cache):
        os.utime(path, (1e9, 1e9))
    scored(project)
    assert all(path.stat().st_mtime > 1e9 for path in entries(cache))


def test_nothing_is_kept_in_the_project(project: Path, cache: Path) -> None:
    """A received project could bring forged curves."""
    before = sorted(project.rglob("*"))
    scored(project)
    assert sorted(project.rglob("*")) == before
    folder = project_cache_folder(project)
    assert folder is not None
    assert folder.is_relative_to(cache)
    assert {path.parent for path in entries(cache)} == {folder / "curves"}


def test_verifying_reads_the_tests(project: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """`--verify` believes nothing that an earlier run kept."""
    scored(project)
    monkeypatch.setattr(CaseEvaluation, "test", _refused)
    with file_hashes(project).verifying(), pytest.raises(AssertionError, match="a test is read"):
        scored(project)
    assert len(scored(project).records) == 4
