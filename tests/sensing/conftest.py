"""Property tests here have no deadline: their first example waits for the compiler."""

from hypothesis import settings

settings.register_profile("compiled", deadline=None)
settings.load_profile("compiled")
