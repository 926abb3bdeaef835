"""How many examples a property test takes: a small share in the ordinary run, all of them on demand."""

import os

LONG = os.environ.get("TEAMTRACK_LONG") == "1"
LEAST = 4


def examples(whole: int, one_in: int = 10) -> int:
    """`whole` with TEAMTRACK_LONG=1, else that share of it, but never under four."""
    return whole if LONG else max(LEAST, whole // one_in)
