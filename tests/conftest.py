"""For all tests: how long an example may take is nobody's business, since machines are noisy; and a run that was started
by nohup, or behind a script's &, hands no ignored signals down to the programs under test, which heed them as started.
"""

import signal

from hypothesis import settings

settings.register_profile("livepedal", deadline=None)
settings.load_profile("livepedal")

for name, handler in (("SIGHUP", signal.SIG_DFL), ("SIGINT", signal.default_int_handler)):
    number = getattr(signal, name, None)  # Windows has no SIGHUP
    if number is not None and signal.getsignal(number) == signal.SIG_IGN:
        signal.signal(number, handler)
