"""`ebbwatch check`: what was understood of the settings, what each source will listen to, who is told."""

from pathlib import Path

from monitor.commands.understand import understood
from monitor.delivery.message import addresses
from monitor.errors import RightsError
from monitor.rights.private_file import read_private
from monitor.settings import CanSource, MessageWay, MqttSource, Settings


def check_settings(path: Path) -> None:
    """Print it. Raises SettingsError with every mistake, each with its key."""
    settings = understood(path)
    boat = settings.boat
    print(f"{boat.name}: {boat.crew} aboard, ship's clock {boat.time_zone}")
    print(f"Water reserve {settings.water_reserve_L:.0f} L, sealed {settings.reserves.sealed_L:.0f} L apart")
    for source in settings.sources:
        print(f"\n{source.name}: {_line(source)}; listened to for")
        print("\n".join(f"  {line}" for line in _listeners(settings, source.name) or ["nothing"]))
    for way in settings.ways:
        held = ", held back in quiet hours" if way.quiet else ""
        only = ", only what nobody has answered" if way.second else ""
        print(f"\nWay out {way.name}: {way.kind}, {way.from_grade} and graver{only}{held}")
        if isinstance(way, MessageWay):
            print(f"  {_addresses(way)}")
    deaf = [
        f"{key}: {s.name} has no feed: nothing will be known of it"
        for key, s in settings.subjects()
        if not s.feeds
    ]
    if deaf:
        print("", *deaf, sep="\n")


def _addresses(way: MessageWay) -> str:
    try:
        text = read_private(way.urls_file)
    except RightsError as error:
        return str(error)
    if text is None:
        return f"{way.urls_file}: no such file"
    count = len(addresses(text))
    return f"{count} address{'' if count == 1 else 'es'}"


def _line(source: object) -> str:
    if isinstance(source, CanSource):
        speaks = ", ".join(source.speaks)
        return f"{source.interface} {source.channel}, {source.bit_rate // 1000} kbit/s, {speaks}; never sends"
    if isinstance(source, MqttSource):
        return f"MQTT {source.version} at {source.host}:{source.port}{', TLS' if source.tls else ''}"
    return "a recording"


def _listeners(settings: Settings, name: str) -> list[str]:
    lines = []
    for _, subject in settings.subjects():
        for feed in subject.feeds:
            if feed.source != name:
                continue
            parts = [feed.message, feed.signal, feed.topic and f"{feed.topic} {feed.pointer}".strip()]
            parts += [f"instance {feed.instance}" if feed.instance is not None else None]
            parts += [f"indicator {feed.indicator}" if feed.indicator is not None else None, feed.quantity]
            lines.append(f"{subject.name}: {', '.join(p for p in parts if p)}")
    return lines
