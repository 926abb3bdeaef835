"""One file of a page's script modules, for phones that would have to ask for each of them over a weak signal."""

import posixpath
import re
from collections.abc import Callable

IMPORT = re.compile(r'^import\s+(?:\{([^}]*)\}\s*from\s*)?"(\.[^"]+)";\n', re.MULTILINE)
EXPORT = re.compile(r"^export (?=(?:(?:async )?function|class|const)\s+([\w$]+))", re.MULTILINE)
LEFT_OVER = re.compile(r"^\s*(?:import|export)\b.*|\bimport\s*[(.]", re.MULTILINE)


class NotBundledError(ValueError):
    """A module is written in a way that cannot be joined: the message names it and says why."""


def bundle(first: str, read: Callable[[str], str]) -> str:
    """The module `first` and all that it imports, as one module that imports nothing.

    `read` answers the text of a module by its path. Each becomes a function that is called once, after those that it
    imports, as the language orders them (ECMAScript 2025, 16.2.1.6: evaluation is post-order). Known are named imports
    and exported functions, classes and constants; anything else, and a ring, raises `NotBundledError`.
    """
    joined: dict[str, str] = {}

    def join(path: str, above: tuple[str, ...]) -> str:
        if path in above:
            raise NotBundledError(f"{path} imports itself by way of {' and '.join(above)}")
        if path not in joined:
            text = read(path)
            for found in IMPORT.finditer(text):
                join(_beside(path, found[2]), (*above, path))
            joined[path] = _as_function(path, text, number=len(joined), number_of=list(joined).index)
        return joined[path]

    join(first, ())
    return "".join(joined.values())


def _beside(path: str, told: str) -> str:
    return posixpath.normpath(posixpath.join(posixpath.dirname(path), told))


def _as_function(path: str, text: str, *, number: int, number_of: Callable[[str], int]) -> str:
    def taken(found: re.Match[str]) -> str:
        if not (found[1] or "").strip():
            return ""
        names = re.sub(r"\s+as\s+", ": ", " ".join(found[1].split()))
        return f"const {{ {names} }} = $${number_of(_beside(path, found[2]))};\n"

    given = EXPORT.findall(text)
    body = EXPORT.sub("", IMPORT.sub(taken, text))
    if left := LEFT_OVER.search(body):
        raise NotBundledError(f"{path}: {left[0].strip()}")
    return f"const $${number} = (() => {{\n{body}return {{ {', '.join(given)} }};\n}})();\n"
