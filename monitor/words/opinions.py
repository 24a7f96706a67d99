"""The sentences of instruments that disagree, stick or err."""

SENTENCES: dict[str, str] = {}
