"""The sentences of watermakers, counters, services and frost."""

SENTENCES: dict[str, str] = {}
