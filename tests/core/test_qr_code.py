"""The drawing of a code to scan holds the modules of the standard, and can be read back."""

import re
from collections.abc import Iterator
from itertools import islice

import pytest

from teamtrack.common.qr_code import QUIET_ZONE, Drawing, drawing_of

RUN = re.compile(r"M(\d+) (\d+)h(\d+)v1h-\3z")
# ISO/IEC 18004:2015, from memory: the finder pattern (6.3.3), the letters of pairs (7.4.5), the masks (7.8.2).
FINDER = ("1111111", "1000001", "1011101", "1011101", "1011101", "1000001", "1111111")
LETTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
MASKS = (
    lambda r, c: (r + c) % 2 == 0,
    lambda r, c: r % 2 == 0,
    lambda r, c: c % 3 == 0,
    lambda r, c: (r + c) % 3 == 0,
    lambda r, c: (r // 2 + c // 3) % 2 == 0,
    lambda r, c: r * c % 2 + r * c % 3 == 0,
    lambda r, c: (r * c % 2 + r * c % 3) % 2 == 0,
    lambda r, c: ((r + c) % 2 + r * c % 3) % 2 == 0,
)


def modules_of(drawing: Drawing) -> list[list[int]]:
    """The modules inside the quiet zone, read off the path."""
    grid = [[0] * drawing.size for _ in range(drawing.size)]
    assert RUN.sub("", drawing.path) == ""
    for x, y, length in (map(int, found) for found in RUN.findall(drawing.path)):
        for step in range(length):
            grid[y][x + step] = 1
    inside = slice(QUIET_ZONE, -QUIET_ZONE)
    edge = grid[:QUIET_ZONE] + grid[-QUIET_ZONE:] + [row[:QUIET_ZONE] + row[-QUIET_ZONE:] for row in grid]
    assert not any(any(row) for row in edge)
    return [row[inside] for row in grid[inside]]


def read(grid: list[list[int]]) -> str:
    """The text of a code of version 1 to 6 that is whole: unmask, walk the columns, join the blocks (level M)."""
    size = len(grid)
    version = (size - 17) // 4
    # Format information, ISO/IEC 18004:2015, 7.9.1 (from memory): bits 14 to 0 beside the upper left finder.
    places = [(8, c) for c in (0, 1, 2, 3, 4, 5, 7, 8)] + [(r, 8) for r in (7, 5, 4, 3, 2, 1, 0)]
    word = int("".join(str(grid[r][c]) for r, c in places), 2) ^ 0b101010000010010
    assert word >> 13 == 0b00  # level M
    mask = MASKS[word >> 10 & 0b111]
    centre = size - 7 if version > 1 else -9

    def is_data(r: int, c: int) -> bool:
        in_finder = (r < 9 and c < 9) or (r < 9 and c >= size - 8) or (r >= size - 8 and c < 9)
        return not in_finder and 6 not in (r, c) and not (abs(r - centre) <= 2 and abs(c - centre) <= 2)

    bits, column, upward = [], size - 1, True
    while column > 0:
        column -= column == 6
        for r in range(size - 1, -1, -1) if upward else range(size):
            bits += [grid[r][c] ^ mask(r, c) for c in (column, column - 1) if is_data(r, c)]
        column, upward = column - 2, not upward
    words = [int("".join(map(str, bits[i : i + 8])), 2) for i in range(0, len(bits) - 7, 8)]
    # Blocks of level M and their data words (ISO/IEC 18004:2015, table 9, from memory).
    blocks, data = {1: (1, 16), 2: (1, 28), 3: (1, 44), 4: (2, 32), 5: (2, 43), 6: (4, 27)}[version]
    stream = "".join(f"{word:08b}" for block in range(blocks) for word in words[block : blocks * data : blocks])
    return "".join(segments(iter(stream)))


def segments(bits: Iterator[str]) -> Iterator[str]:
    """What the segments say: bytes, or pairs of letters and digits (ISO/IEC 18004:2015, 7.4, from memory)."""

    def number(width: int) -> int:
        return int("".join(islice(bits, width)) or "0", 2)

    while (mode := number(4)) != 0:
        if mode == 0b0100:
            yield bytes(number(8) for _ in range(number(8))).decode()
        else:
            assert mode == 0b0010
            length = number(9)
            for _ in range(length // 2):
                yield "".join(LETTERS[place] for place in divmod(number(11), 45))
            if length % 2:
                yield LETTERS[number(6)]


@pytest.mark.parametrize(
    "text",
    [
        "hello",
        "http://127.0.0.1:8000/form#482913-Q7ZK2-MNB3V-9XT",
        "https://team.example.org/form#482913-Q7ZK2-MNB3V-9XT",
        "https://track.of-a-rather-long-name.example.org/form#999999-ZZZZZ-ZZZZZ-ZZZ",
    ],
)
def test_what_is_drawn_reads_as_the_text(text: str) -> None:
    grid = modules_of(drawing_of(text))
    for top, left in ((0, 0), (0, len(grid) - 7), (len(grid) - 7, 0)):
        assert tuple("".join(map(str, row[left : left + 7])) for row in grid[top : top + 7]) == FINDER
    assert read(grid) == text
