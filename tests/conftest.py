"""What holds for every test: drawn examples are the same in every run, and no example is held to a time."""

from hypothesis import settings

settings.register_profile("seeded", derandomize=True, deadline=None)
settings.load_profile("seeded")
