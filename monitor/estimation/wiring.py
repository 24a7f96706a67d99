"""Which instrument of a bank is which: by channel, by feed and by the key that sets it."""

from monitor.settings import Bank, Feed, Settings

CURRENT, VOLTAGE, CHARGE = "current", "voltage", "charge"


def channel_name(bank: str, quantity: str, opinion: int) -> str:
    return f"{bank} {quantity}" + (f" (opinion {opinion + 1})" if opinion else "")


def feeds(bank: Bank, quantity: str) -> list[tuple[int, Feed]]:
    """The feeds that may bring it, with their places in the settings: opinions come in this order."""
    return [
        (n, feed)
        for n, feed in enumerate(bank.feeds)
        if feed.quantity == quantity or (feed.quantity is None and not feed.signal and not feed.topic)
    ]


def label(bank: Bank, quantity: str, opinion: int, heard: int) -> str:
    """An instrument as the settings have it, or its channel's name where as many feeds as instruments
    cannot be told apart."""
    may_be = feeds(bank, quantity)
    if len(may_be) < 2 or len(may_be) != heard:
        return channel_name(bank.name, quantity, opinion)
    feed = may_be[opinion][1]
    return ", ".join(part for part in (feed.source, feed.signal or feed.topic) if part)


def key_that_turns(settings: Settings, bank: Bank, opinion: int) -> str:
    """The key that turns a current sensor round."""
    may_be = feeds(bank, CURRENT)
    place = may_be[min(opinion, len(may_be) - 1)][0] if may_be else 0
    return f"banks[{settings.banks.index(bank)}].feeds[{place}].positive"


def how_read(bank: Bank) -> str:
    """How the currents are read: what was learned of other settings is worth nothing."""
    return ";".join(
        f"{f.source} {f.signal or f.topic or f.instance} {f.positive} {f.scale:g} {f.offset:g}"
        for _, f in feeds(bank, CURRENT)
    )
