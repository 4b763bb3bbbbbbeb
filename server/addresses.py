"""Which addresses and names this computer has, and which of them mean the computer itself.

The addresses are asked of the system, not found by sending anything anywhere.
"""

from __future__ import annotations

import socket
import time
from collections.abc import Callable
from ipaddress import IPv4Address, IPv6Address, ip_address

import ifaddr

Address = IPv4Address | IPv6Address

EVERY_ADDRESS = ("0.0.0.0", "::")
LOOK_AGAIN_S = 60.0
LOOK_AGAIN_FOR_A_STRANGER_S = 2.0


def own_addresses() -> list[Address]:
    """Every address of this computer that another one could reach: no loopback, none that holds on one cable only."""
    found: list[Address] = []
    for adapter in ifaddr.get_adapters():
        for each in adapter.ips:
            address = ip_address(each.ip if isinstance(each.ip, str) else each.ip[0])
            if not (address.is_loopback or address.is_link_local or address in found):
                found.append(address)
    return found


def own_names() -> set[str]:
    """The names this computer answers to on its network: its addresses, its host name, and that under `.local`."""
    host = socket.gethostname().lower().rstrip(".")
    host = host if host.isascii() else ""  # a browser would ask for it in another spelling
    first = host.partition(".")[0]
    names = {str(address) for address in own_addresses()}
    return names | ({host, first, f"{first}.local"} if first else set())


def is_loopback(host: str) -> bool:
    """Whether an address (or `localhost`) means this computer itself. An IPv4 address may stand inside an IPv6 one."""
    if host == "localhost":
        return True
    try:
        address = ip_address(host)
    except ValueError:
        return False
    mapped = address.ipv4_mapped if isinstance(address, IPv6Address) else None
    return (mapped or address).is_loopback


def shop_addresses(host: str) -> list[str]:
    """IPv4 addresses at which a device in the shop can reach a server that listens on `host`, the likeliest first."""
    if is_loopback(host):
        return []
    if host not in EVERY_ADDRESS:
        return [host]
    reachable = [each for each in own_addresses() if isinstance(each, IPv4Address)]
    return [str(each) for each in sorted(reachable, key=lambda each: (not each.is_private, each))]


class OwnNames:
    """The computer's own names, looked up again as time goes by: a router hands out a new address without saying so."""

    def __init__(self, look: Callable[[], set[str]] = own_names, clock: Callable[[], float] = time.monotonic) -> None:
        self._look, self._clock = look, clock
        self._names: set[str] = set()
        self._looked_at = -LOOK_AGAIN_S

    def __contains__(self, name: object) -> bool:
        age = self._clock() - self._looked_at
        if age >= LOOK_AGAIN_S or (age >= LOOK_AGAIN_FOR_A_STRANGER_S and name not in self._names):
            self._names = self._look()
            self._looked_at = self._clock()
        return name in self._names
