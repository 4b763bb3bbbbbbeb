"""Property tests here are not timed: the first call of some functions loads scipy, and the machine may be busy."""

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
