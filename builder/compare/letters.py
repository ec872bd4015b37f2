"""Ties as letters: two rows share a letter if and only if they could not be told apart."""

from __future__ import annotations

from collections.abc import Sequence

_ALPHABET = "abcdefghijklmnopqrstuvwxyz"


def tie_letters(count: int, separable: frozenset[tuple[int, int]]) -> tuple[tuple[str, ...], ...]:
    """Return the letters of `count` rows in order; `separable` holds pairs (i, j) with i < j.

    Two rows share a letter if and only if their pair is not separable, every row has a letter, and no letter can be
    left out. Each letter is a set of rows that are all tied, grown to the full; found greedily, so the number of
    letters need not be the least possible. The property is that of Piepho 2004, J. Comput. Graph. Stat. 13, 456.

    >>> tie_letters(4, frozenset({(0, 1), (0, 2), (2, 3)}))
    (('a',), ('b', 'c'), ('b',), ('a', 'c'))
    """
    cliques = _without_redundant(sorted(_covering_cliques(count, separable)))
    return tuple(tuple(letter(k) for k, clique in enumerate(cliques) if row in clique) for row in range(count))


def letter(index: int) -> str:
    """Return the name of the letter at an index from 0: a to z, then a1 to z1 and so on.

    >>> letter(0), letter(27)
    ('a', 'b1')
    """
    turn, place = divmod(index, len(_ALPHABET))
    return _ALPHABET[place] + (str(turn) if turn else "")


def _covering_cliques(count: int, separable: frozenset[tuple[int, int]]) -> list[tuple[int, ...]]:
    covered: set[tuple[int, int]] = set()
    cliques = []
    for i in range(count):
        for j in range(i + 1, count):
            if (i, j) not in separable and (i, j) not in covered:
                clique = _grown((i, j), count, separable)
                covered |= _pairs(clique)
                cliques.append(clique)
    tied = {row for clique in cliques for row in clique}
    return cliques + [(row,) for row in range(count) if row not in tied]


def _grown(seed: tuple[int, int], count: int, separable: frozenset[tuple[int, int]]) -> tuple[int, ...]:
    clique = list(seed)
    for row in range(count):
        if row not in clique and not any((min(row, k), max(row, k)) in separable for k in clique):
            clique.append(row)
    return tuple(sorted(clique))


def _pairs(clique: Sequence[int]) -> set[tuple[int, int]]:
    return {(i, j) for i in clique for j in clique if i < j}


def _without_redundant(cliques: list[tuple[int, ...]]) -> list[tuple[int, ...]]:
    """Leave out, from the last, every clique whose ties the others already show."""
    kept = list(cliques)
    for clique in reversed(cliques):
        others = [k for k in kept if k is not clique]
        shown = {pair for k in others for pair in _pairs(k)}
        if _pairs(clique) <= shown and {row for k in others for row in k} >= set(clique):
            kept = others
    return kept
