"""The queue between sources and pipeline: bounded, fair to each source, and counted."""

import threading

from hypothesis import given
from hypothesis import strategies as st

from monitor.records import Frame, Message
from monitor.sources.inbox import Inbox


def frames(first: int, count: int) -> list[Frame | Message]:
    return [Frame(float(n), "can0", n, b"") for n in range(first, first + count)]


def numbers(batches: list[list[Frame | Message]]) -> list[float]:
    return [item.at_s for batch in batches for item in batch]


def test_what_goes_in_comes_out_in_order_across_sources() -> None:
    inbox = Inbox(10)
    inbox.put("a", frames(0, 2))
    inbox.put("b", frames(2, 1))
    inbox.put("a", frames(3, 2))

    assert numbers(inbox.take(0)) == [0, 1, 2, 3, 4]
    assert inbox.take(0) == []


def test_a_full_share_drops_its_oldest_and_counts_them() -> None:
    inbox = Inbox(5)
    inbox.put("noisy", frames(0, 4))
    inbox.put("quiet", frames(100, 1))
    inbox.put("noisy", frames(4, 4))

    assert numbers(inbox.take(0)) == [3, 100, 4, 5, 6, 7]
    assert inbox.dropped == {"noisy": 3, "quiet": 0}


@given(st.integers(1, 20), st.lists(st.integers(1, 30), max_size=12))
def test_live_every_item_is_either_taken_or_counted_and_the_newest_stay(limit: int, sizes: list[int]) -> None:
    inbox = Inbox(limit)
    total = 0
    for size in sizes:
        inbox.put("can0", frames(total, size))
        total += size

    taken = numbers(inbox.take(0))

    assert len(taken) + inbox.dropped.get("can0", 0) == total
    assert taken == list(range(max(0, total - limit), total))


@given(st.integers(1, 20), st.lists(st.integers(1, 30), max_size=12))
def test_a_patient_inbox_loses_nothing_and_stays_bounded(limit: int, sizes: list[int]) -> None:
    inbox = Inbox(limit, wait=True)
    total = sum(sizes)

    def putter() -> None:
        first = 0
        for size in sizes:
            inbox.put("log", frames(first, size))
            first += size

    thread = threading.Thread(target=putter)
    thread.start()
    taken: list[float] = []
    while len(taken) < total:
        waiting = numbers(inbox.take(5))
        assert len(waiting) <= max([limit, *sizes])
        taken += waiting
    thread.join()

    assert taken == list(range(total))
    assert inbox.dropped.get("log", 0) == 0


def test_closing_frees_a_waiting_putter_and_a_waiting_taker() -> None:
    inbox = Inbox(1, wait=True)
    inbox.put("log", frames(0, 1))
    putter = threading.Thread(target=inbox.put, args=("log", frames(1, 1)))
    putter.start()
    inbox.close()
    putter.join(5)

    assert not putter.is_alive()
    assert numbers(inbox.take(5)) == [0]
    assert inbox.take(5) == []
