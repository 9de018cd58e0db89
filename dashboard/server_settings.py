"""The settings file of a server, ``server.toml``."""

from __future__ import annotations

import os
from dataclasses import replace
from ipaddress import ip_address
from pathlib import Path
from typing import Annotated, Final, Self
from urllib.parse import urlsplit

from pydantic import Field, field_validator, model_validator

from correlate import CorrelateError
from correlate.addresses import address_of
from correlate.limits import MEGABYTE, Limits
from correlate.object_storage import PLACES_VARIABLE
from correlate.private_folder import refuse_inside
from correlate.toml import Table, read_toml
from dashboard.account_settings import AccountsTable
from dashboard.connections import ConnectionLimits
from dashboard.private_files import private_text, refuse_readable_password

SECRET_VARIABLE: Final = "CORRELATE_SECRET_KEY"  # noqa: S105 - the name of a variable, not a secret
"""Variable of the environment that may hold the secret key instead of a file."""

LEAST_SECRET: Final = 32
"""Characters of a secret key."""

_RAISE: Final = "raise uploads.{} in the settings of the server"

Text = Annotated[str, Field(min_length=1)]


def _address(text: str) -> str:
    """Return the address of a network interface as it is usually written."""
    try:
        return str(ip_address(text))
    except ValueError:
        message = f"'{text}' is not the address of a network interface; use for instance 127.0.0.1"
        raise ValueError(message) from None


class ListenTable(Table):
    """Where the server listens.

    Attributes
    ----------
    address, port
        Of the network card. Behind a reverse proxy on the same machine, leave it at 127.0.0.1.
    threads
        Requests answered at a time.
    connections, connections_per_address
        Connections at a time, in total and from one address; proxies are not counted by address. At the
        limit, the connection that has waited longest is closed.
    """

    address: str = "127.0.0.1"
    port: Annotated[int, Field(ge=1, le=65535)] = 8050
    threads: Annotated[int, Field(ge=1, le=256)] = 8
    connections: Annotated[int, Field(ge=10, le=20_000)] = 500
    connections_per_address: Annotated[int, Field(ge=6, le=20_000)] = 100

    @field_validator("address")
    @classmethod
    def _address_is_one(cls, address: str) -> str:
        return _address(address)


class PublicTable(Table):
    """How the world reaches the server.

    Attributes
    ----------
    url
        That users type, beginning with ``https://``; ``http://localhost`` is for trying things out.
    proxies
        Reverse proxies in front whose forwarded addresses are believed.
    proxy_addresses
        Addresses of the proxy that connects to this server; its connections are not counted by address.
    """

    url: Text
    proxies: Annotated[int, Field(ge=0, le=5)] = 0
    proxy_addresses: tuple[str, ...] = ("127.0.0.1", "::1")

    @field_validator("proxy_addresses")
    @classmethod
    def _proxies_have_addresses(cls, given: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(_address(one) for one in given)

    @property
    def host(self) -> str:
        """Name under which the server may be asked."""
        return urlsplit(self.url).hostname or ""

    @field_validator("url")
    @classmethod
    def _browser_may_keep_a_session(cls, url: str) -> str:
        parts = urlsplit(url)
        trying = parts.scheme == "http" and parts.hostname == "localhost"
        if not parts.hostname or (parts.scheme != "https" and not trying):
            raise ValueError(f"'{url}' does not begin with https://; signing in requires encryption")
        if parts.path not in {"", "/"} or parts.query or parts.fragment or parts.username:
            raise ValueError(f"'{url}' must end after host name and port; use a dedicated host name")
        return url


class UploadsTable(Table):
    """How much may be sent in at once.

    Attributes
    ----------
    largest_mb
        Of one upload, in 10⁶ bytes.
    most_files
        In one upload.
    largest_unpacked_mb
        Size of all files after unpacking, on disk and in memory, in 10⁶ bytes.
    most_samples
        Samples of one channel.
    """

    largest_mb: Annotated[float, Field(gt=0, le=4000)] = 100
    most_files: Annotated[int, Field(ge=1, le=10_000)] = 50
    largest_unpacked_mb: Annotated[float, Field(gt=0, le=1_000_000)] = 2000
    most_samples: Annotated[int, Field(ge=2, le=10**10)] = 20_000_000

    @property
    def largest_bytes(self) -> int:
        """Of one upload."""
        return round(self.largest_mb * MEGABYTE)

    @property
    def limits(self) -> Limits:
        """What the files in an upload may contain."""
        unpacked = round(self.largest_unpacked_mb * MEGABYTE)
        return replace(
            Limits.of_environment(),
            samples=self.most_samples,
            bytes=unpacked,
            unpacked=unpacked,
            samples_setting=_RAISE.format("most_samples"),
            bytes_setting=_RAISE.format("largest_unpacked_mb"),
        )


class JobsTable(Table):
    """Background job.

    Attributes
    ----------
    folder
        Folder for jobs and uploads, on a local disk and outside the project; nobody else may write to it.
    at_once
        Jobs that run at a time.
    processes
        That one job may use for rating.
    """

    folder: Text = "jobs"
    at_once: Annotated[int, Field(ge=1, le=32)] = 2
    processes: Annotated[int, Field(ge=1, le=256)] = 1


class ObjectStorageTable(Table):
    """Object storage that the campaign may name.

    Attributes
    ----------
    places
        Addresses below which tests and results may be read, such as ``s3://bucket/tests``; none when empty.
        The variable CORRELATE_OBJECT_STORAGE has no effect on a server with this file.
    """

    places: tuple[str, ...] = ()

    @field_validator("places")
    @classmethod
    def _places_are_addresses(cls, given: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(str(address_of(one)) for one in given)


class ServerTable(Table):
    """The whole file.

    Attributes
    ----------
    project
        Folder that holds ``campaign.toml``.
    store
        Results store: a file, or ``postgresql://USER@HOST/DATABASE``; the file beside the campaign when
        empty.
    """

    project: Text
    store: str = ""
    listen: ListenTable = ListenTable()
    public: PublicTable
    accounts: AccountsTable = AccountsTable()
    uploads: UploadsTable = UploadsTable()
    jobs: JobsTable = JobsTable()
    object_storage: ObjectStorageTable = ObjectStorageTable()

    @model_validator(mode="after")
    def _nothing_open_is_unencrypted(self) -> Self:
        if not ip_address(self.listen.address).is_loopback and self.public.proxies == 0:
            raise ValueError(
                f"listen.address {self.listen.address} is reachable from other machines without "
                "encryption; put a reverse proxy in front and set public.proxies, or listen on 127.0.0.1"
            )
        return self

    @model_validator(mode="after")
    def _a_header_comes_from_a_proxy(self) -> Self:
        if self.accounts.header is not None and self.public.proxies == 0:
            raise ValueError(
                "[accounts.header] needs a reverse proxy that sets the header; set public.proxies"
            )
        return self


class ServerSettings:
    """A settings file; its paths are relative to its folder.

    Attributes
    ----------
    path
        Path of the file.
    listen, public, uploads
        As in the file.
    sign_in
        How people sign in: the table ``[accounts]``.
    project, jobs_folder
        Folders.
    store, accounts
        File or URL; the store may be empty.
    jobs_at_once, job_processes
        Jobs that run at a time, and processes of one.
    object_places
        Addresses below which tests and results may be read.
    """

    def __init__(self, path: Path, table: ServerTable) -> None:
        self.path = path
        self.listen, self.public, self.uploads = table.listen, table.public, table.uploads
        self.sign_in = table.accounts
        self.project = self._inside(table.project)
        self.jobs_folder = self._inside(table.jobs.folder)
        self.jobs_at_once, self.job_processes = table.jobs.at_once, table.jobs.processes
        self.object_places = table.object_storage.places
        self.store = self._file_or_url(table.store)
        self.accounts = self._file_or_url(table.accounts.database)

    def allow_objects(self) -> None:
        """Let this process, and those that it starts, read what the administrator allows and nothing else."""
        os.environ[PLACES_VARIABLE] = " ".join(self.object_places)

    def connection_limits(self) -> ConnectionLimits:
        """Return how many connections there may be."""
        proxies = self.public.proxy_addresses if self.public.proxies else ()
        return ConnectionLimits(
            total=self.listen.connections,
            per_address=self.listen.connections_per_address,
            exempt=frozenset(proxies),
        )

    @property
    def written_folders(self) -> list[Path]:
        """Folders that the server itself writes in; a project may be one that can only be read."""
        file = [] if "://" in self.accounts else [Path(self.accounts).parent]
        return [self.jobs_folder, *file]

    def secret_key(self) -> str:
        """Return the key that sessions are signed with.

        All programs that serve together need the same one, and a new one signs everybody out.
        """
        name = self.sign_in.secret_key_file
        if not name:
            return self._long_enough(os.environ.get(SECRET_VARIABLE, ""), SECRET_VARIABLE)
        file = self._inside(name)
        return self._long_enough(private_text(file, "secret key", _HOW_TO_MAKE), str(file))

    def client_secret(self) -> str:
        """Return the secret of this server at its identity provider; empty where it has none."""
        if self.sign_in.provider is None:
            return ""
        file = self._inside(self.sign_in.provider.client_secret_file)
        secret = private_text(file, "client secret", _HOW_TO_SAVE)
        if not secret:
            raise CorrelateError("the client secret is empty", where=str(file), remedy=_HOW_TO_SAVE)
        return secret

    def _long_enough(self, key: str, where: str) -> str:
        if len(key) < LEAST_SECRET:
            found = f"the secret key has {len(key)} characters" if key else "there is no secret key"
            raise CorrelateError(
                f"{found}, at least {LEAST_SECRET} are needed", where=where, remedy=_HOW_TO_MAKE
            )
        return key

    def _inside(self, name: str) -> Path:
        # Without "..", so that messages name folders as people know them.
        found = (self.path.parent / name).absolute()
        return found.resolve() if ".." in found.parts else found

    def _file_or_url(self, name: str) -> str:
        return name if not name or "://" in name else str(self._inside(name))


_HOW_TO_MAKE: Final = (
    "make one with: (umask 077; python -c 'import secrets; print(secrets.token_urlsafe(48))' > secret.key), "
    f"and name it under [accounts] as secret_key_file, or put it into {SECRET_VARIABLE}"
)


_HOW_TO_SAVE: Final = "save in it the secret that the identity provider shows for this server"


def load_settings(path: Path) -> ServerSettings:
    """Read the settings file of a server."""
    settings = ServerSettings(
        path, read_toml(path, ServerTable, kind="the settings file of the server with --config").table
    )
    refuse_readable_password(path, {"store": settings.store, "accounts.database": settings.accounts})
    if not settings.project.is_dir():
        raise CorrelateError(
            f"the project folder, {settings.project}, does not exist",
            where=str(path),
            remedy="correct 'project', which is relative to this file",
        )
    refuse_inside(settings.jobs_folder, settings.project)
    return settings
