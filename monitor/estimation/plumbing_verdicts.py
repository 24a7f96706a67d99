"""What can be wrong with a pressure system, and how likely each fault shows each sign.

A naive Bayes over a few signs: P(verdict | signs) ~ prior * product of P(sign | verdict). A sign that is not
known yet says nothing. The figures are judgement, set from how each fault works (common practice), rounded;
what matters is which sign a fault can hardly show.
"""

from collections.abc import Mapping
from math import exp, log
from typing import NamedTuple

TIGHT, DOWNSTREAM, ABOVE = "tight", "leak downstream", "leak above the pump"
CHECK_VALVE, FLAT, RELIEF = "check valve leaks back", "accumulator flat", "relief valve weeps"
COOLING, TAP, BURST = "cooling heater", "tap left open", "burst"
DRY, STUCK, STRAINER, SILENT = "pump dry", "pump switch stuck", "strainer clogging", "pump silent"
UNKNOWN = "not enough known yet"

LEAK, FEW, NONE = "leak", "few", "none"
YES, NO = "yes", "no"


class Fault(NamedTuple):
    """One verdict: how common it is, and the signs that set it apart from a tight, healthy system."""

    prior: float
    shows: Mapping[tuple[str, str], float] = {}
    """P(sign has this value | this verdict) where it differs from that of a healthy system."""
    explains: bool = False
    """Its refills are its own: a leak that was suspected for them is not another one."""


HEALTHY: Mapping[tuple[str, str], float] = {
    ("refills", LEAK): 0.002, ("refills", FEW): 0.25, ("refills", NONE): 0.75,
    ("stream", YES): 0.0005, ("stream", NO): 1.0,
    ("falls alone", YES): 0.0005, ("falls alone", NO): 1.0,
    ("with heating", YES): 0.001, ("with heating", NO): 0.05,
    ("cooling explains", YES): 0.02, ("cooling explains", NO): 0.98,
    ("short refills", YES): 0.001, ("short refills", NO): 1.0,
    ("flow low", YES): 0.002, ("flow low", NO): 1.0,
    ("no start", YES): 0.001, ("no start", NO): 1.0,
    ("run", BURST): 1e-6, ("run", DRY): 1e-6, ("run", STUCK): 1e-6, ("run", SILENT): 1e-6,
    ("run", "usual"): 1.0,
}  # fmt: skip
"""P(sign has this value | tight)."""

VERDICTS: dict[str, Fault] = {
    TIGHT: Fault(0.8),
    DOWNSTREAM: Fault(0.05, {
        ("refills", LEAK): 0.9, ("refills", FEW): 0.3, ("refills", NONE): 0.02, ("with heating", NO): 0.6,
    }),
    TAP: Fault(0.02, {
        ("stream", YES): 0.95, ("stream", NO): 0.02, ("refills", LEAK): 0.7, ("with heating", NO): 0.6,
    }),
    ABOVE: Fault(0.01, {("falls alone", YES): 0.9, ("falls alone", NO): 0.05}),
    CHECK_VALVE: Fault(0.015, {
        ("refills", LEAK): 0.9, ("refills", FEW): 0.3, ("refills", NONE): 0.02, ("with heating", NO): 0.6,
        ("flow low", YES): 0.3, ("flow low", NO): 0.7, ("cooling explains", YES): 0.02,
    }, explains=True),
    RELIEF: Fault(0.01, {
        ("with heating", YES): 0.9, ("with heating", NO): 0.005, ("refills", LEAK): 0.3,
        ("refills", FEW): 0.4, ("refills", NONE): 0.3, ("cooling explains", YES): 0.2,
    }, explains=True),
    COOLING: Fault(0.06, {
        ("cooling explains", YES): 0.97, ("cooling explains", NO): 0.03, ("refills", LEAK): 0.003,
        ("refills", FEW): 0.5, ("refills", NONE): 0.5,
    }, explains=True),
    FLAT: Fault(0.02, {
        ("short refills", YES): 0.97, ("short refills", NO): 0.03, ("refills", LEAK): 0.05,
        ("stream", YES): 0.01, ("with heating", YES): 0.02,
    }, explains=True),
    STRAINER: Fault(0.02, {("flow low", YES): 0.95, ("flow low", NO): 0.3}),
    SILENT: Fault(0.01, {
        ("no start", YES): 0.95, ("no start", NO): 0.02, ("run", SILENT): 0.9, ("falls alone", YES): 0.9,
    }),
    BURST: Fault(0.002, {("run", BURST): 0.9, ("run", "usual"): 0.01}),
    DRY: Fault(0.003, {("run", DRY): 0.9, ("run", "usual"): 0.01}),
    STUCK: Fault(0.002, {("run", STUCK): 0.9, ("run", "usual"): 0.01}),
}  # fmt: skip
"""Every verdict that can be reached, beside `UNKNOWN`."""

RULES = (BURST, DRY, STUCK, ABOVE, CHECK_VALVE, FLAT, RELIEF, TAP, STRAINER, SILENT)
"""The verdicts that are rules of the alerts, under the same name."""
DECIDED = 0.5
"""A verdict less likely than this is not told as one."""


def chances(signs: Mapping[str, str | None], returned: float = 0.0) -> dict[str, float]:
    """P(verdict | signs), likeliest first.

    `returned`: log likelihood ratio of the tank's balance, refills run back against refills gone; it tells
    the check valve (which keeps the water) from all that lose it downstream.
    """
    told = [(sign, value) for sign, value in signs.items() if value is not None]
    scores = {}
    for name, fault in VERDICTS.items():
        score = log(fault.prior)
        for what in told:
            score += log(max(1e-9, fault.shows.get(what, HEALTHY[what])))
        if name == CHECK_VALVE:
            score += max(-12.0, min(12.0, returned))
        scores[name] = score
    most = max(scores.values())
    total = sum(exp(score - most) for score in scores.values())
    ordered = sorted(scores.items(), key=lambda entry: -entry[1])
    return {name: exp(score - most) / total for name, score in ordered}
