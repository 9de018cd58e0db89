"""A PostgreSQL server for the tests: the one that is named, or a private one on a socket of its own."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import uuid4

import pytest
from sqlalchemy import create_engine, make_url, text
from sqlalchemy.schema import CreateSchema, DropSchema

if TYPE_CHECKING:
    from collections.abc import Iterator

PROGRAMS = Path("/usr/lib/postgresql")


@contextmanager
def postgres_server() -> Iterator[str]:
    """Give the URL of a server; skip the test where there is none, or fail where one is promised."""
    if given := os.environ.get("CORRELATE_POSTGRES_URL"):
        yield given
        return
    folder = _programs()
    if folder is None:
        if os.environ.get("CORRELATE_NEED_POSTGRES") == "1":
            pytest.fail(f"CORRELATE_NEED_POSTGRES=1, but {PROGRAMS} has no server: install postgresql")
        pytest.skip("no PostgreSQL server on this machine: install postgresql, or set CORRELATE_POSTGRES_URL")
    with _private_server(folder) as url:
        yield url


@contextmanager
def empty_schema(server: str) -> Iterator[str]:
    """Give the URL of an empty schema of its own on a server; it is removed afterwards."""
    url, name = make_url(server).set(drivername="postgresql+psycopg"), f"correlate_test_{uuid4().hex}"
    engine = create_engine(url)
    with engine.begin() as connection:
        connection.execute(CreateSchema(name))
    inside = url.update_query_dict({"options": f"-csearch_path={name}"})
    try:
        yield inside.set(drivername="postgresql").render_as_string(hide_password=False)
    finally:
        with engine.begin() as connection:
            connection.execute(text("SET client_min_messages = warning"))
            connection.execute(DropSchema(name, cascade=True))
        engine.dispose()


def _programs() -> Path | None:
    """Return the folder of the newest server's programs."""
    found = sorted(PROGRAMS.glob("*/bin/initdb"), key=lambda path: float(path.parent.parent.name))
    return found[-1].parent if found else None


@contextmanager
def _private_server(programs: Path) -> Iterator[str]:
    # Directly under the system's folder: the path of a socket may not be longer than about 100 characters.
    folder = Path(tempfile.mkdtemp(prefix="correlate-pg-"))
    user = _unprivileged_user()
    try:
        if user is not None:
            shutil.chown(folder, user)
        data = str(folder / "data")
        _run(
            [
                programs / "initdb",
                "-D",
                data,
                "-U",
                "tester",
                "-A",
                "trust",
                "-E",
                "UTF8",
                "--locale=C",
                "-N",
            ],
            folder,
            user,
        )
        # No network, and no waiting for the disk: the data are thrown away.
        options = f"-c listen_addresses='' -c unix_socket_directories='{folder}' -c fsync=off"
        control = programs / "pg_ctl"
        _run([control, "-D", data, "-w", "-l", folder / "log", "-o", options, "start"], folder, user)
        try:
            yield f"postgresql://tester@/postgres?host={folder}"
        finally:
            _run([control, "-D", data, "-w", "-m", "immediate", "stop"], folder, user)
    finally:
        shutil.rmtree(folder)


def _unprivileged_user() -> str | None:
    """Return the account to change to, as the server refuses to run as root; None for the present one."""
    if os.geteuid() != 0:
        return None
    accounts = {account.pw_name for account in pwd.getpwall()}
    return "postgres" if "postgres" in accounts else "nobody"


def _run(command: list[str | Path], folder: Path, user: str | None) -> None:
    """Run a program of the server; what it says is shown when it fails."""
    with tempfile.TemporaryFile() as said:
        # A file, not a pipe: the server that pg_ctl leaves behind would keep a pipe open.
        done = subprocess.run(
            command,
            cwd=folder,
            user=user,
            group=None if user is None else pwd.getpwnam(user).pw_gid,
            extra_groups=None if user is None else [],
            stdin=subprocess.DEVNULL,
            stdout=said,
            stderr=said,
            check=False,
        )
        said.seek(0)
        words = said.read().decode(errors="replace")
    if done.returncode != 0:
        pytest.fail(f"{command[0]} failed: {words}")
