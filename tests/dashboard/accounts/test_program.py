"""The command line of the accounts."""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from dashboard.accounts import AccountBook, AuditTrail, Identity, SecondFactors, open_accounts
from dashboard.accounts import __main__ as accounts_program
from dashboard.accounts.second_factor import one_time_code
from tests.dashboard.served import PASSWORD
from tests.dashboard.signing_in.clock import Clock

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


def test_the_second_factor_of_a_lost_device_is_removed(config: Path) -> None:
    """The list shows who has one; removing what is not there is a sentence."""
    run(config, "add", "lab", "--role", "lab", typed=f"{PASSWORD}\n")
    engine = open_accounts(str(config.parent / "accounts.sqlite"))
    clock = Clock()
    factors = SecondFactors(engine, "a key of the tests", now=clock)
    sealed = factors.new_secret("lab")
    code = one_time_code(base64.b32decode(factors.shown(sealed, "lab")), int(clock().timestamp()) // 30)
    assert factors.add("lab", sealed, code)
    assert run(config, "list").output.endswith(", second factor\n")
    assert run(config, "second-factor", "lab").exit_code == 2
    assert run(config, "second-factor", "LAB", "--remove").output == (
        "removed the second factor of the account lab\n"
    )
    assert AuditTrail(engine).last(1)[0].what == "removed the second factor of the account lab"
    again = run(config, "second-factor", "lab", "--remove")
    assert str(again.exception) == "the account 'lab' has no second factor"
    unknown = run(config, "second-factor", "nobody", "--remove")
    assert "there is no account 'nobody'" in str(unknown.exception)
    engine.dispose()


def test_an_account_is_linked_to_a_person_at_the_provider(config: Path) -> None:
    """Without password; a person has one account, and a server without provider says so."""
    run(config, "add", "lab", "--role", "lab", "--without-password")
    assert run(config, "list").output.endswith(", without password\n")
    refused = run(config, "link", "lab", "--subject", "8f2e")
    assert "the server has no identity provider; set [accounts.provider]" in str(refused.exception)
    with config.open("a") as file:
        file.write(
            '[accounts.provider]\nissuer = "https://id.example"\nclient_id = "ratings"\n'
            'client_secret_file = "client.secret"\n'
        )
    assert (
        run(config, "link", "lab", "--subject", "8f2e").output
        == "linked the account lab to the subject 8f2e\n"
    )
    run(config, "add", "office", "--role", "manager", "--without-password")
    twice = run(config, "link", "office", "--subject", "8f2e")
    assert "the subject '8f2e' is linked to another account" in str(twice.exception)
    engine = open_accounts(str(config.parent / "accounts.sqlite"))
    found = AccountBook(engine).find_identity(Identity("https://id.example", "8f2e"))
    assert found is not None
    assert found.name == "lab"
    assert AccountBook(engine).opened_with("lab", "") is None
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
