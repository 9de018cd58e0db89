"""Addresses in the network, as attempts are counted."""

from __future__ import annotations

from ipaddress import IPv6Address, IPv6Network, ip_address
from typing import Final

_HOST_BITS: Final = 64


def network_of(address: str) -> str:
    """Return what an address counts as: itself, or of IPv6 its network of 64 bits.

    Whoever has an IPv6 address usually has the whole network and can use a new address for every attempt
    (RFC 4291, section 2.5.1: interface identifiers have 64 bits). An IPv4 address written as IPv6 is the same
    address.

    Parameters
    ----------
    address
        As text; what is no address is returned as it is.

    Examples
    --------
    >>> network_of("192.0.2.1"), network_of("::ffff:192.0.2.1"), network_of("2001:db8:1:2:3:4:5:6")
    ('192.0.2.1', '192.0.2.1', '2001:db8:1:2::/64')
    """
    try:
        found = ip_address(address)
    except ValueError:
        return address
    if not isinstance(found, IPv6Address):
        return str(found)
    if found.ipv4_mapped is not None:
        return str(found.ipv4_mapped)
    return str(IPv6Network((int(found) >> _HOST_BITS << _HOST_BITS, _HOST_BITS)))
