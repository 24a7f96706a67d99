"""How often a password may be tried: a few times at once, then seldom, by each address and by all together.

Each has a bucket of attempts that fills again with time. It is asked before anything is hashed.
"""

import math
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from ipaddress import IPv6Address, ip_address, ip_network

MOST_ADDRESSES = 256
"""What is remembered is bounded: past this the address unheard for longest is forgotten, and only the
bucket of all together holds it back."""


@dataclass(slots=True)
class _Bucket:
    left: float
    at_s: float


@dataclass(frozen=True, slots=True)
class Pace:
    at_once: int
    every_s: float
    """After so long there is one more."""

    def filled(self, bucket: _Bucket, now_s: float) -> None:
        bucket.left = min(self.at_once, bucket.left + max(0.0, now_s - bucket.at_s) / self.every_s)
        bucket.at_s = now_s

    def wait_s(self, bucket: _Bucket) -> float:
        return max(0.0, 1 - bucket.left) * self.every_s


EACH, ALL = Pace(5, 30.0), Pace(20, 6.0)
"""Somebody who has forgotten it tries five times. All together at most 20 and then 600 an hour: a
list of a million words takes ten weeks."""


class Attempts:
    """`now_s` never jumps."""

    def __init__(self, now_s: Callable[[], float]) -> None:
        self._now_s = now_s
        self._all = _Bucket(ALL.at_once, now_s())
        self._each: OrderedDict[str, _Bucket] = OrderedDict()

    def __len__(self) -> int:
        """How many addresses are remembered."""
        return len(self._each)

    def wait_s(self, address: str) -> int:
        """Whole seconds until this address may try; 0 where it may, and then the attempt is counted."""
        now_s = self._now_s()
        key = network_of(address)
        own = self._each.pop(key, None) or _Bucket(EACH.at_once, now_s)
        self._each[key] = own
        if len(self._each) > MOST_ADDRESSES:
            self._each.popitem(last=False)
        EACH.filled(own, now_s)
        ALL.filled(self._all, now_s)
        wait_s = max(EACH.wait_s(own), ALL.wait_s(self._all))
        if wait_s > 0:
            return math.ceil(wait_s)
        own.left -= 1
        self._all.left -= 1
        return 0

    def succeeded(self, address: str) -> None:
        """The password was right: this address starts afresh, and all have one attempt back."""
        self._each.pop(network_of(address), None)
        self._all.left += 1


def network_of(address: str) -> str:
    """Who counts as one: an IPv4 address, or an IPv6 network of 64 bits, all of which one host may use."""
    try:
        ip = ip_address(address.partition("%")[0])
    except ValueError:
        return ""
    if isinstance(ip, IPv6Address):
        return str(ip.ipv4_mapped or ip_network((ip, 64), strict=False))
    return str(ip)
