"""For all tests: how long an example may take is nobody's business, since machines are noisy."""

from hypothesis import settings

settings.register_profile("livepedal", deadline=None)
settings.load_profile("livepedal")
