"""The command line of the accounts."""

from __future__ import annotations

import base64
import sqlite3
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from dashboard.accounts import AccountBook, AuditTrail, Identity, SecondFactors, open_accounts
from dashboard.accounts import __main__ as accounts_program
from dashboard.accounts.second_factor import one_time_code
from tests.dashboard.clock import Clock
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


def test_the_trail_is_checked_and_exported(config: Path) -> None:
    """An export is written once, a later trail continues it, and a shorter one does not."""
    file = config.parent / "trail.jsonl"
    run(config, "add", "lab", "--role", "lab", typed=f"{PASSWORD}\n")
    assert run(config, "trail", "--verify").output.startswith("1 line, unbroken since 20")
    run(config, "close", "lab")
    assert run(config, "trail", "--export", str(file)).output == "exported 2 lines of the audit trail\n"
    done = run(config, "trail", "--verify", "--against", str(file))
    assert (done.exit_code, done.output.splitlines()[1:]) == (0, [f"continues {file}"])
    _change(config, "DELETE FROM audit_trail WHERE id > 1")
    done = run(config, "trail", "--verify", "--against", str(file))
    assert done.exit_code == 1
    assert done.output.splitlines()[1:] == [
        "line 2 of the export is not in the audit trail: lines at its end were removed"
    ]


def test_a_changed_trail_ends_with_exit_code_1(config: Path) -> None:
    """The first line that does not fit is named; an export is written all the same, as proof."""
    for name in ("lab", "office"):
        run(config, "add", name, "--role", "lab", typed=f"{PASSWORD}\n")
    _change(config, "UPDATE audit_trail SET what = 'nothing' WHERE id = 1")
    said = "broken at line 1: it was changed, or lines before it were removed or inserted\n"
    done = run(config, "trail", "--verify")
    assert (done.exit_code, done.output) == (1, said)
    done = run(config, "trail", "--export", str(config.parent / "trail.jsonl"))
    assert (done.exit_code, done.output) == (1, f"exported 2 lines of the audit trail\n{said}")


def test_what_is_being_counted_is_shown(config: Path) -> None:
    """It becomes a line later; who looks now sees it now."""
    engine = open_accounts(str(config.parent / "accounts.sqlite"))
    for _ in range(3):
        AuditTrail(engine).count(who="no\nbody", what="could not sign in", address="192.0.2.1")
    engine.dispose()
    shown = run(config, "trail").output
    assert shown.startswith("being counted since 20")
    assert shown.endswith(": 'no\\nbody' from 192.0.2.1 could not sign in, 3 attempts\n")


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--against", "x"], "--against needs --verify."),
        (["--verify", "--export", "x"], "Use either --verify or --export."),
    ],
)
def test_options_that_exclude_each_other_are_refused(config: Path, options: list[str], words: str) -> None:
    """Nothing is done."""
    done = run(config, "trail", *options)
    assert done.exit_code == 2
    assert words in done.output


def _change(config: Path, statement: str) -> None:
    """Change the trail as the owner of its file can, after removing what protects it."""
    with sqlite3.connect(config.parent / "accounts.sqlite") as connection:
        for deed in ("update", "delete", "insert"):
            connection.execute(f"DROP TRIGGER IF EXISTS audit_trail_no_{deed}")
        connection.execute(statement)
    connection.close()


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
