"""Changing a campaign file: checked before it counts, completely or not at all."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

import pytest

from correlate.campaign import Proposal
from correlate.campaign.rewriting import accept_partner, rewrite_campaign
from correlate.errors import CorrelateError, FormatError, SettingsError

if TYPE_CHECKING:
    from pathlib import Path


def proposal(test: str, model: str) -> Proposal:
    """Return a partner with its sign turned."""
    return Proposal(test=test, model=model, score=1.0, sign=-1, reasons=("by hand",))


def test_a_change_is_written_and_the_rest_stays(project: Path) -> None:
    """Comments and order of the file stay, its mode too, and the campaign is as the text says."""
    path = project / "campaign.toml"
    path.write_text("# ours\n" + path.read_text(encoding="utf-8"), encoding="utf-8")
    path.chmod(0o640)
    campaign = rewrite_campaign(path, lambda text: text.replace("Two repeats", "Renamed"))
    assert campaign.title == "Renamed"
    assert path.read_text(encoding="utf-8").startswith("# ours\n")
    assert path.stat().st_mode & 0o777 == 0o640


def test_a_text_with_mistakes_is_refused_and_nothing_is_left(project: Path) -> None:
    """The message names the file that people know, which is as it was, and no other file is there."""
    path = project / "campaign.toml"
    before, files = path.read_bytes(), sorted(project.iterdir())
    with pytest.raises(FormatError, match=r"/campaign\.toml: with the change, .*interval_ms"):
        rewrite_campaign(path, lambda text: text.replace("[0, 50]", "[50]"))
    with pytest.raises(FormatError, match="with the change, is not valid TOML"):
        rewrite_campaign(path, lambda text: text + "\n[[")
    assert path.read_bytes() == before
    assert sorted(project.iterdir()) == files


def test_of_changes_at_once_none_is_lost(project: Path) -> None:
    """Eight threads add a release each to the same file; all eight are there."""
    path = project / "campaign.toml"

    def add(number: int) -> None:
        entry = f'\n[[release]]\nname = "N{number}"\nfolder = "model"\n'
        rewrite_campaign(path, lambda text: text + entry)

    threads = [threading.Thread(target=add, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    names = {one.name for one in rewrite_campaign(path, str).releases}
    assert names == {"B1", *(f"N{number}" for number in range(8))}


def test_a_partner_is_written_into_the_file(project: Path) -> None:
    """A channel that is not planned is added to its load case with the model and the turned sign."""
    campaign = accept_partner(project / "campaign.toml", "push", proposal("speed", "probe speed"))
    plan = campaign.load_case("push").channel[-1]
    assert (plan.test, plan.model, plan.model_sign) == ("speed", "probe speed", -1)


def test_a_channel_that_has_a_model_is_refused(project: Path) -> None:
    """The message names file, load case and channel."""
    with pytest.raises(SettingsError, match=r"campaign\.toml, load case 'push': channel 'force' has a model"):
        accept_partner(project / "campaign.toml", "push", proposal("force", "other"))


def test_an_absent_file_is_one_sentence(tmp_path: Path) -> None:
    """No file, no folder: said in a sentence."""
    with pytest.raises(CorrelateError, match=r"campaign\.toml: cannot be read"):
        rewrite_campaign(tmp_path / "campaign.toml", str)
    with pytest.raises(CorrelateError, match="this cannot be written"):
        rewrite_campaign(tmp_path / "nowhere" / "campaign.toml", str)
