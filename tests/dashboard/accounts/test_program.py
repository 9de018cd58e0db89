"""The command line of the accounts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from dashboard.accounts import AccountBook, AuditTrail, open_accounts
from dashboard.accounts import __main__ as accounts_program
from tests.dashboard.served import PASSWORD

if TYPE_CHECKING:
    from pathlib import Path

    from click.testing import Result


@pytest.fixture
def config(tmp_path: Path) -> Path:
    """Write the settings of a server."""
    (tmp_path / "kelp").mkdir()
    file = tmp_path / "server.toml"
    file.write_text('project = "kelp"\n[public]\nurl = "https://ratings.example"\n')
    return file


def run(config: Path, *arguments: str, typed: str = "") -> Result:
    """Run the program as a terminal does that hands over a line."""
    return CliRunner().invoke(accounts_program.program, [*arguments, "--config", str(config)], input=typed)


def test_an_account_is_added_changed_and_closed(config: Path) -> None:
    """Each step is said, is seen in the list, and is in the trail."""
    assert run(config, "add", "lab", "--role", "lab", typed=f"{PASSWORD}\n").output == (
        "added the account lab, role lab\n"
    )
    run(config, "role", "lab", "--role", "viewer")
    run(config, "password", "lab", typed="another long password\n")
    assert run(config, "list").output.startswith("lab: viewer, since 20")
    run(config, "close", "lab")
    assert run(config, "list").output.endswith(", closed\n")
    run(config, "reopen", "lab")
    engine = open_accounts(str(config.parent / "accounts.sqlite"))
    assert AccountBook(engine).opened_with("lab", "another long password")
    assert [entry.what for entry in AuditTrail(engine).last(9)] == [
        "added the account lab, role lab",
        "changed the role of the account lab to viewer",
        "changed the password of the account lab",
        "closed the account lab",
        "reopened the account lab",
    ]
    assert run(config, "trail", "--last", "1").output.endswith("reopened the account lab\n")
    engine.dispose()


def test_there_is_no_option_for_a_password(config: Path) -> None:
    """It would be seen in the list of processes and kept by the shell."""
    done = run(config, "add", "lab", "--role", "lab", "--password", PASSWORD)
    assert done.exit_code == 2
    assert "No such option '--password'" in done.output


def test_a_mistake_is_one_sentence(
    config: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """An unknown account ends with exit code 2 and no traceback."""
    arguments = ["correlate account", "close", "nobody", "--config", str(config)]
    monkeypatch.setattr("sys.argv", arguments)
    with pytest.raises(SystemExit, match="2"):
        accounts_program.main()
    assert capsys.readouterr().err == (
        "correlate: there is no account 'nobody'; see: correlate account list\n"
    )
