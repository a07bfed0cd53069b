"""The only exception that livepedal raises to its callers.

Whatever cannot be read, judged or understood becomes this exception. Its message is one sentence for the user: what is
wrong, and what to do about it.
"""


class LivepedalError(Exception):
    """One clear sentence: what is wrong, and what to do. Print it; a traceback would add nothing."""
