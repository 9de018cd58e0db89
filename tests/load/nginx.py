"""The reverse proxy of the documentation, on other ports and with a certificate of its own."""

from __future__ import annotations

import datetime as dt
import ipaddress
import os
import shutil
import socket
import ssl
import subprocess
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import Event
from typing import TYPE_CHECKING, Final

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from tests.load.real_server import HOST, free_port

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

SETTINGS: Final = Path(__file__).parents[2] / "docs" / "how-to" / "nginx.conf"
PROGRAM: Final = shutil.which("nginx") or "/usr/sbin/nginx"

_AROUND: Final = """{user}
daemon off;
pid {folder}/nginx.pid;
error_log {folder}/error.log;
events {{ worker_connections 1024; }}
http {{
    access_log off;
    client_body_temp_path {folder}/body;
    proxy_temp_path {folder}/proxy;
    fastcgi_temp_path {folder}/fastcgi;
    uwsgi_temp_path {folder}/uwsgi;
    scgi_temp_path {folder}/scgi;
    include {folder}/ratings.conf;
}}
"""


@dataclass(frozen=True, slots=True)
class Proxy:
    """A reverse proxy under test.

    Attributes
    ----------
    port, plain_port
        Of HTTPS and HTTP on this machine.
    trust
        Believes its certificate.
    """

    port: int
    plain_port: int
    trust: ssl.SSLContext


@contextmanager
def nginx(folder: Path, upstream: int, changes: Mapping[str, str] | None = None) -> Iterator[Proxy]:
    """Run nginx with the settings of the documentation until the block ends.

    Parameters
    ----------
    folder
        Empty, for its files.
    upstream
        Port of the server behind it.
    changes
        Further texts of the settings, and what stands there instead.
    """
    if not Path(PROGRAM).exists():
        words = "there is no nginx; install the package nginx-light"
        if os.environ.get("CORRELATE_NEED_NGINX") == "1":
            pytest.fail(words)
        pytest.skip(words)
    port, plain_port = free_port(), free_port()
    text = SETTINGS.read_text(encoding="utf-8")
    for old, new in {
        "listen 443 ": f"listen 127.0.0.1:{port} ",
        "listen 80;": f"listen 127.0.0.1:{plain_port};",
        "127.0.0.1:8050": f"127.0.0.1:{upstream}",
        "/etc/ssl/ratings.pem": f"{folder}/ratings.pem",
        "/etc/ssl/private/ratings.key": f"{folder}/ratings.key",
        **(changes or {}),
    }.items():
        assert old in text, old
        text = text.replace(old, new)
    _certify(folder)
    (folder / "ratings.conf").write_text(text, encoding="utf-8")
    user = "user root;" if os.geteuid() == 0 else ""
    (folder / "nginx.conf").write_text(_AROUND.format(folder=folder, user=user), encoding="utf-8")
    command = [PROGRAM, "-p", str(folder), "-c", str(folder / "nginx.conf")]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as process:
        try:
            _wait_for(port, process)
            yield Proxy(port, plain_port, ssl.create_default_context(cafile=str(folder / "ratings.pem")))
        finally:
            process.terminate()


def _wait_for(port: int, process: subprocess.Popen[str]) -> None:
    for _ in range(1000):
        if process.poll() is not None:
            assert process.stderr
            raise AssertionError(process.stderr.read())
        try:
            socket.create_connection(("127.0.0.1", port), timeout=5).close()
        except ConnectionRefusedError:
            Event().wait(0.01)
        else:
            return
    raise AssertionError("nginx does not listen")


def _certify(folder: Path) -> None:
    """Write a key and a certificate that it signs itself."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, HOST)])
    now = dt.datetime.now(dt.UTC)
    names = [x509.DNSName(HOST), x509.IPAddress(ipaddress.ip_address("127.0.0.1"))]
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .sign(key, hashes.SHA256())
    )
    (folder / "ratings.pem").write_bytes(certificate.public_bytes(serialization.Encoding.PEM))
    private = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    (folder / "ratings.key").write_bytes(private)
