"""The one exception that leaves livepedal.

Whatever cannot be read, judged or understood reaches the caller as this exception, with a message that is one
sentence for the user: what is wrong, and what to do about it.
"""


class LivepedalError(Exception):
    """One clear sentence: what is wrong, and what to do.  Print it; a traceback would add nothing."""
