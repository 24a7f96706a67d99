"""An on delay of n looks in a row against the closed form.

W. Feller, An Introduction to Probability Theory and Its Applications, vol. 1, XIII.7: in independent
trials that succeed with probability p (q = 1 - p) the first run of n successes is complete after

    mean      (1 - p**n) / (q p**n)
    variance  1 / (q p**n)**2 - (2 n + 1) / (q p**n) - p / q**2

trials. It is what a delay buys against independent false readings.
"""

from collections.abc import Iterable, Iterator
from itertools import islice, product
from math import sqrt
from random import Random

import pytest

from monitor.alerts.book import AlertBook
from monitor.alerts.rules import RULES
from tests.alerts.logbook import finding

RULE = "low voltage"


def looks_until_active(says: Iterable[bool], every_s: float) -> int | None:
    """How many looks it takes until the alert is active; None when it never is."""
    book = AlertBook()
    for n, holds in enumerate(says, start=1):
        if book.step(1, n * every_s, [finding(RULE, "holds" if holds else "between")]):
            return n
    return None


@pytest.mark.parametrize("n", [2, 3, 4])
def test_every_sequence_of_ten_looks(n: int) -> None:
    """By definition: active at the first look that completes n in a row, never otherwise."""
    every_s = RULES[RULE].on_delay_s / (n - 1)
    for says in product([False, True], repeat=10):
        ends = [k for k in range(n, 11) if all(says[k - n : k])]

        assert looks_until_active(says, every_s) == (ends[0] if ends else None)


@pytest.mark.parametrize(("p", "n"), [(0.3, 2), (0.5, 4), (0.7, 5)])
def test_mean_time_between_false_alerts(p: float, n: int) -> None:
    q, trials, random = 1 - p, 2000, Random(20260101)
    mean = (1 - p**n) / (q * p**n)
    variance = 1 / (q * p**n) ** 2 - (2 * n + 1) / (q * p**n) - p / q**2

    def coin() -> Iterator[bool]:
        while True:
            yield random.random() < p

    every_s = RULES[RULE].on_delay_s / (n - 1)
    waits = [looks_until_active(islice(coin(), 10_000), every_s) for _ in range(trials)]

    # Four standard errors: passes by chance in all but 6 of 100,000 seeds, and the seed is fixed.
    assert None not in waits
    assert sum(w for w in waits if w) / trials == pytest.approx(mean, abs=4 * sqrt(variance / trials))
