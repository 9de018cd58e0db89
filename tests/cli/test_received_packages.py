"""``correlate packages``: from arrival to use in the campaign, without a page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from correlate import PackagePlan, load_campaign, make_package
from correlate.reference.package.keys import load_signer
from tests.campaign.test_package_use import CAMPAIGN, project
from tests.reference.folders import write_pulse
from tests.reference.package.key_files import PASSPHRASE, key_pair
from tests.reference.package.test_received import clipped

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    import pytest

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]

__all__ = ["project"]


def test_from_arrival_to_use(correlate: Run, project: Path, tmp_path: Path) -> None:
    """Quarantine is said with exit code 1; released with a reason, shown before it is written, used."""
    plan = PackagePlan(tests=[clipped(tmp_path / "lab")], checked_by="lab", despite="needed")
    make_package(plan, tmp_path / "clipped.zip")
    received = correlate("packages", "receive", project, tmp_path / "clipped.zip")
    assert received.code == 1
    assert "clipped: in quarantine, 1 error;" in received.out
    assert "clipped/data/tests/drop/T9" in received.out
    refused = correlate("packages", "use", project, "clipped", "--load-case", "drop")
    assert refused.code == 2
    assert "release it from quarantine first" in refused.err
    released = correlate("packages", "release", project, "clipped", "--who", "the lab", "--why", "not used")
    assert (released.code, "despite 1 open error by the lab" in released.out) == (0, True)
    shown = correlate("packages", "use", project, "clipped", "--load-case", "drop")
    assert '+   "received/clipped/data/tests/drop/*",' in shown.out
    assert "Nothing was written." in shown.out
    assert (project / "campaign.toml").read_text(encoding="utf-8") == CAMPAIGN
    assert correlate("packages", "use", project, "clipped", "--load-case", "drop", "--write").code == 0
    listed = correlate("packages", "list", project).out
    assert "used in drop: T9" in listed
    assert "more: received" in listed


def test_a_new_load_case_needs_its_interval(correlate: Run, project: Path) -> None:
    """Where the tests belong and the interval are asked for; then the load case is in the file."""
    neither = correlate("packages", "use", project, "more")
    assert (neither.code, "give either --load-case or --new" in neither.err) == (2, True)
    without = correlate("packages", "use", project, "more", "--new", "drop-2")
    assert (without.code, "give --interval FROM TO in ms" in without.err) == (2, True)
    words = ("packages", "use", project, "more", "--new", "drop-2", "--interval", "0", "40", "--write")
    assert correlate(*words).code == 0
    assert load_campaign(project).load_case("drop-2").interval_ms == (0, 40)


def test_the_trusted_keys_of_project_and_user(
    correlate: Run, project: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A revoked key leads to quarantine with the reason, which the record of the release keeps."""
    public = key_pair(tmp_path / "lab.key")
    signer = load_signer(tmp_path / "lab.key", PASSPHRASE)
    for name in ("one", "two"):
        tests = [write_pulse(tmp_path / name, f"T{name}", 11 if name == "one" else 12)]
        make_package(PackagePlan(tests=tests, checked_by="lab", signer=signer), tmp_path / f"{name}.zip")
    user = tmp_path / "user"
    user.mkdir()
    (user / "lab.pub").write_bytes((tmp_path / "lab.key.pub").read_bytes())
    monkeypatch.setenv("CORRELATE_TRUSTED_KEYS", str(user))
    received = correlate("packages", "receive", project, tmp_path / "one.zip")
    assert (received.code, "one: received; received/one" in received.out) == (0, True)
    assert f"the key is trusted, because it is in {user}/lab.pub" in received.out
    (project / "trusted_keys").mkdir()
    (project / "trusted_keys/revoked.toml").write_text(
        f'revoked = [{{ fingerprint = "{public.fingerprint}", date = 2026-11-30, reason = "lost" }}]\n',
        encoding="utf-8",
    )
    kept = correlate("packages", "receive", project, tmp_path / "two.zip")
    assert kept.code == 1
    assert (
        f"in quarantine, 0 errors, and its key {public.fingerprint} was revoked on 2026-11-30 (lost)"
        in kept.out
    )
    released = correlate("packages", "release", project, "two", "--who", "the lab", "--why", "telephoned")
    assert "with no open error and although its key" in released.out
    listed = correlate("packages", "list", project).out
    assert listed.count("the key is not trusted, because it is in the list of revoked keys") == 2
    (project / "trusted_keys/revoked.toml").write_text("x", encoding="utf-8")
    assert "revoked.toml: is not valid TOML" in correlate("packages", "list", project).out
