"""The sentences of the lead bank behind its converter."""

SENTENCES: dict[str, str] = {}
