"""The sentences of sources, charging plans and what can be run now."""

SENTENCES: dict[str, str] = {}
