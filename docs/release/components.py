"""Writes the components of a wheel in the CycloneDX format: ``python -m docs.release.components WHEEL``."""

from __future__ import annotations

import re
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any, Final
from uuid import NAMESPACE_URL, uuid5

import click
from cyclonedx.model import ExternalReference, ExternalReferenceType, HashAlgorithm, HashType, XsUri
from cyclonedx.model.bom import Bom
from cyclonedx.model.component import Component, ComponentType
from cyclonedx.model.dependency import Dependency
from cyclonedx.model.license import DisjunctiveLicense, LicenseExpression
from cyclonedx.output.json import JsonV1Dot6
from cyclonedx.schema import SchemaVersion
from cyclonedx.validation.json import JsonStrictValidator
from license_expression import Licensing, get_spdx_licensing
from packageurl import PackageURL
from packaging.utils import InvalidWheelFilename, parse_wheel_filename

from correlate.files import write_text
from docs.release.installed import PROJECT, ROOT, SERVER, UNKNOWN, Library, Pin, libraries, pins
from docs.release.lock import LOCK

_INDEX: Final = "https://pypi.org/project"

VENDORED: Final = (
    (
        "plotly.js-cartesian-dist-min",
        "MIT",
        "dashboard/vendored/plotly-cartesian.min.js",
        re.compile(r"plotly\.js \(cartesian - minified\) v([\d.]+)"),
    ),
    ("archivo", "OFL-1.1", "correlate/plots/fonts/archivo-latin.woff2", None),
)
"""Third-party files in the wheel: name, licence, path, and the pattern of the version in the file."""


@click.command()
@click.argument("wheel", type=click.Path(path_type=Path, exists=True, dir_okay=False))
def main(wheel: Path) -> None:
    """Write the components of WHEEL, with the libraries of a server installation, beside it."""
    try:
        name, version = parse_wheel_filename(wheel.name)[:2]
    except InvalidWheelFilename:
        raise click.BadParameter(f"{wheel.name} is not a wheel: build one with python -m build") from None
    bom = components(str(version), wheel.read_bytes())
    text = JsonV1Dot6(bom).output_as_string(indent=2)
    if fault := JsonStrictValidator(SchemaVersion.V1_6).validate_str(text):
        raise click.ClickException(f"the list does not follow the schema of CycloneDX 1.6: {fault}")
    target = wheel.with_name(f"{name}-{version}.cdx.json")
    write_text(target, text + "\n")
    click.echo(f"{target}: {len(bom.components)} components")


def components(version: str, wheel: bytes) -> Bom:
    """Return the components of a wheel and what a server installation with it needs.

    Parameters
    ----------
    version
        Of the wheel.
    wheel
        Its bytes.
    """
    digest = sha256(wheel).hexdigest()
    root = Component(
        name=PROJECT,
        version=version,
        type=ComponentType.APPLICATION,
        bom_ref=PROJECT,
        licenses=[LicenseExpression("Apache-2.0")],
        purl=PackageURL("pypi", name=PROJECT, version=version),
        hashes=[_hash_of(digest)],
    )
    bom = Bom(serial_number=uuid5(NAMESPACE_URL, digest))
    bom.metadata.component = root
    known = {one.name: one for one in libraries(SERVER)}
    locked = {pin.name: _component(pin, _licence(known.get(pin.name), pin)) for pin in pins(LOCK)}
    vendored = [_vendored(*one) for one in VENDORED]
    for component in (*locked.values(), *vendored):
        bom.components.add(component)
    users: dict[str, set[str]] = {name: set() for name in (PROJECT, *locked)}
    for library in known.values():
        for user in library.needed_by:
            users[user].add(library.name)
    for user, needed in users.items():
        depends = [Dependency(locked[name].bom_ref) for name in sorted(needed)]
        if user == PROJECT:
            depends += [Dependency(one.bom_ref) for one in vendored]
        bom.dependencies.add(Dependency((root if user == PROJECT else locked[user]).bom_ref, depends))
    return bom


def _licence(library: Library | None, pin: Pin) -> str:
    """Return the licence of a library; unknown where this system needs none, or has another version."""
    return library.licence if library is not None and library.version == pin.version else UNKNOWN


def _component(pin: Pin, licence: str) -> Component:
    return Component(
        name=pin.name,
        version=pin.version,
        type=ComponentType.LIBRARY,
        bom_ref=f"{pin.name}@{pin.version}",
        purl=PackageURL("pypi", name=pin.name, version=pin.version),
        licenses=_licences(licence),
        # Several files may be installed, so that no hash is the one of the component.
        external_references=[
            ExternalReference(
                type=ExternalReferenceType.DISTRIBUTION,
                url=XsUri(f"{_INDEX}/{pin.name}/{pin.version}/#files"),
                comment="SHA-256 of every file that the lock permits.",
                hashes=[_hash_of(digest) for digest in pin.hashes],
            )
        ],
    )


@cache
def _spdx() -> Licensing:
    """Return the licences of the SPDX list; reading it takes a tenth of a second."""
    return get_spdx_licensing()


def _licences(stated: str) -> list[Any]:
    if stated == UNKNOWN:
        return []
    if not _spdx().validate(stated).errors:
        return [LicenseExpression(stated)]
    return [DisjunctiveLicense(name=stated)]


def _vendored(name: str, licence: str, place: str, states: re.Pattern[str] | None) -> Component:
    content = (ROOT / place).read_bytes()
    found = states.search(content[:2000].decode("utf-8", "replace")) if states else None
    digest = sha256(content).hexdigest()
    return Component(
        name=name,
        version=found[1] if found else None,
        type=ComponentType.FILE,
        bom_ref=place,
        description=f"{place}, part of the wheel",
        licenses=[LicenseExpression(licence)],
        hashes=[_hash_of(digest)],
    )


def _hash_of(digest: str) -> HashType:
    return HashType(alg=HashAlgorithm.SHA_256, content=digest)


if __name__ == "__main__":
    main(prog_name="python -m docs.release.components")
