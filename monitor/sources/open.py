"""From the settings to the threads that listen."""

from paho.mqtt.client import topic_matches_sub

from monitor.settings import CanSource, MqttSource, RecordingSource, Settings
from monitor.sources.can_bus import CanBusThread
from monitor.sources.inbox import Inbox
from monitor.sources.mqtt import MqttThread
from monitor.sources.recording import RecordingThread
from monitor.sources.slcan import SlcanThread
from monitor.sources.thread import SourceThread
from monitor.system_clock import Clock


def open_sources(settings: Settings, inbox: Inbox, clock: Clock) -> list[SourceThread]:
    """A thread for every source in the settings, not yet started, in their order.

    A recording without files is left out: its files come with the command that replays them.
    """
    threads: list[SourceThread] = []
    for source in settings.sources:
        match source:
            case CanSource(interface="slcan"):
                threads.append(SlcanThread(source, inbox, clock))
            case CanSource():
                threads.append(CanBusThread(source, inbox, clock))
            case MqttSource():
                threads.append(MqttThread(source, topics_of(settings, source.name), inbox, clock))
            case RecordingSource():
                if source.paths:
                    threads.append(RecordingThread(source, inbox, clock))
    return threads


def topics_of(settings: Settings, source: str) -> list[str]:
    """The topic filters to subscribe to at this source: what the feeds name, each once.

    A topic that a filter with wildcards covers already is left out, since some brokers would
    send its messages twice.
    """
    wanted = {
        feed.topic
        for _, subject in settings.subjects()
        for feed in subject.feeds
        if feed.source == source and feed.topic is not None
    }
    wild = [topic for topic in wanted if "+" in topic or "#" in topic]
    return sorted(t for t in wanted if t in wild or not any(topic_matches_sub(w, t) for w in wild))
