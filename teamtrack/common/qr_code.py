"""A text as a QR code (ISO/IEC 18004), drawn as one path of an SVG image, in memory."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from qrcode.constants import ERROR_CORRECT_M
from qrcode.main import QRCode

QUIET_ZONE = 4
"""Empty modules on each side (ISO/IEC 18004:2015, 9.1)."""


@dataclass(frozen=True)
class Drawing:
    """A square of `size` by `size` modules with the quiet zone, and the path of what is dark in it."""

    size: int
    path: str


def drawing_of(text: str) -> Drawing:
    """The code of a text. Error correction M: fifteen in a hundred may be lost to a fold or a stain."""
    code = QRCode(border=QUIET_ZONE, error_correction=ERROR_CORRECT_M)
    code.add_data(text)
    rows = code.get_matrix()
    return Drawing(len(rows), "".join(run for y, row in enumerate(rows) for run in _runs(y, row)))


def _runs(y: int, row: Sequence[bool]) -> Iterator[str]:
    """Neighbours that are dark as one rectangle, so that no hair line stands between them."""
    x = 0
    for is_dark, modules in groupby(row):
        length = len(list(modules))
        if is_dark:
            yield f"M{x} {y}h{length}v1h-{length}z"
        x += length
