"""Large cliques of a conflict graph whose nodes are numbered in the order of time; sets are bit masks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence


def bits(mask: int) -> Iterator[int]:
    """The numbers in the set, least first."""
    while mask:
        low = mask & -mask
        yield low.bit_length() - 1
        mask ^= low


def clique_cover(conflicts: Sequence[int], own: Sequence[int]) -> list[int]:
    """Maximal cliques that together hold every conflict.

    `conflicts[n]` are the nodes that n does not go with; `own[n]` are those that exclude n anyway: they may join a
    clique, but need no cover.
    """
    adjacent = [one | other for one, other in zip(conflicts, own, strict=True)]
    open_pairs = list(conflicts)
    found = []
    for node in range(len(conflicts)):
        while open_pairs[node]:
            clique = _grown(node, adjacent, open_pairs)
            for member in bits(clique):
                open_pairs[member] &= ~clique
            found.append(clique)
    return found


def _grown(node: int, adjacent: Sequence[int], open_pairs: Sequence[int]) -> int:
    """A maximal clique with the node, preferring pairs that no clique holds yet, then the earliest."""
    clique = 1 << node
    candidates = adjacent[node]
    while candidates:
        wanted = candidates & open_pairs[node] or candidates
        low = wanted & -wanted
        clique |= low
        candidates &= adjacent[low.bit_length() - 1]
    return clique
