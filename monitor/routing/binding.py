"""Which of a subject's feeds wants which message, and what of it."""

from collections.abc import Iterator
from typing import NamedTuple

from monitor.channels import QUANTITIES
from monitor.errors import SettingsError, UndecodableError
from monitor.routing.slots import Contestant
from monitor.settings import Feed
from monitor.wire import mqtt
from monitor.wire.layout import Layout


class Bound(NamedTuple):
    """A feed of a subject: the settings group and key it stands under, and its place in the list."""

    group: str
    subject: str
    feed: Feed
    rank: int
    key: str


def takes(bound: Bound, layout: Layout) -> bool:
    """Whether a feed wants this kind of message at all."""
    feed = bound.feed
    if feed.signal is not None or feed.topic is not None:
        return False
    if feed.indicator is not None:
        return layout.name == "switch bank"
    if feed.message is not None:
        return layout.name == feed.message
    return layout.subject == bound.group


def fits(bound: Bound, layout: Layout, instance: float | None, code: float | None) -> bool:
    """Whether a feed wants the message with this instance and code."""
    feed = bound.feed
    if feed.instance is not None and instance is not None and instance != feed.instance:
        return False
    meant = layout.default_code if feed.code is None else feed.code
    return meant is None or code is None or code == meant


def wanted(bound: Bound, layout: Layout) -> Iterator[tuple[int, str]]:
    """The fields of a message that a feed takes, and the quantity each becomes."""
    feed = bound.feed
    if feed.indicator is not None:
        yield layout.place[f"indicator {feed.indicator}"], feed.quantity or "running"
        return
    for index, part in enumerate(layout.fields):
        if part.name in QUANTITIES and feed.quantity in (None, part.name):
            yield index, part.name


def topic_mistakes(feed: Feed, deaf: bool) -> Iterator[str]:
    """What is wrong with an MQTT feed, led by its key; `deaf` sources bring no messages at all."""
    if deaf:
        yield f"topic: {feed.source!r} is a CAN source, where nothing has a topic"
    try:
        mqtt.compile_pointer(feed.pointer)
    except SettingsError as error:
        yield str(error)
    if not mqtt.is_filter(feed.topic or ""):
        yield f"topic: {feed.topic!r} is no topic filter: + and # stand for whole levels, # only for the last"


def scale_of(bound: Bound, quantity: str, out_positive: bool) -> float:
    """The feed's scale, turned so that a bank's current is positive into the bank."""
    if quantity != "current" or bound.group != "banks":
        return bound.feed.scale
    positive = bound.feed.positive or ("discharging" if out_positive else "charging")
    return bound.feed.scale if positive == "charging" else -bound.feed.scale


def refuse_share(bound: Bound, member: Contestant, value: float | None) -> None:
    """A share of 1 where percent is expected would read as an empty tank: it is refused.

    Raises UndecodableError, with what to set, until the instrument has shown that it speaks in
    percent by saying more than 1.
    """
    if member.percent or value is None or member.contest.main.channel.quantity.unit != "%":
        return
    if value > 1.0 or bound.feed.scale != 1.0:
        member.percent = True
    elif value not in (0.0, 1.0):
        raise UndecodableError(
            f"{value:g} looks like a share of 1, not percent: set scale = 100 in {bound.key}"
        )
