"""The sentences of guided tests."""

SENTENCES: dict[str, str] = {}
