"""A secret in a file outside the database: made at first need, whole or not at all, read by its owner alone."""

import os
from collections.abc import Callable
from pathlib import Path


def kept_in(path: Path, make: Callable[[], str]) -> str:
    """The text in the file; where there is none it is made, on disk before this returns, and the first maker wins."""
    path.parent.mkdir(parents=True, exist_ok=True)
    if not path.exists():
        _write(path, make())
    return path.read_text().strip()


def _write(path: Path, text: str) -> None:
    draft = path.with_suffix(f".{os.getpid()}")
    with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as out:
        out.write(text)
        out.flush()
        os.fsync(out.fileno())
    try:
        os.link(draft, path)
    except FileExistsError:
        pass
    finally:
        draft.unlink()
