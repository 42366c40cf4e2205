"""Slips of the fingers: which numbers could have become the one that is stated."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Ints = NDArray[np.int64]

#: Share of each kind of slip among typing slips. Common practice: exchanging two neighbours is the
#: commonest error of copying numbers by hand; a lost or doubled key and a shifted point follow.
SHARES = {
    "two digits exchanged": 0.45,
    "a digit lost": 0.22,
    "a digit typed twice": 0.10,
    "the decimal point shifted": 0.11,
    "digits in another order": 0.12,
}
WAYS = tuple(SHARES)

#: Numbers of more digits than this are not searched.
_MOST_DIGITS = 15


def results(number: int) -> dict[str, list[int]]:
    """What each kind of slip makes of a number, without leading noughts and without the number.

    >>> results(13)["a digit lost"]
    [1, 3]
    """
    s = str(number)
    every = {
        "two digits exchanged": [
            s[:i] + s[i + 1] + s[i] + s[i + 2 :] for i in range(len(s) - 1)
        ],
        "a digit lost": [s[:i] + s[i + 1 :] for i in range(len(s))] if len(s) > 1 else [],
        "a digit typed twice": [s[: i + 1] + s[i] + s[i + 1 :] for i in range(len(s))],
        "the decimal point shifted": [s + "0", *([s[:-1]] if s.endswith("0") else [])],
        "digits in another order": (
            [s[::-1], s[1:] + s[0], s[-1] + s[:-1]] if len(s) == 3 else []
        ),
    }  # fmt: skip
    return {
        how: sorted({int(t) for t in texts if t and t[0] != "0" and int(t) != number})
        for how, texts in every.items()
    }


@lru_cache(maxsize=50_000)
def chance_of(meant: int, shown: int) -> tuple[float, int]:
    """Probability that a typing slip on ``meant`` gives ``shown``, and the likeliest of ``WAYS``."""
    chances = [
        SHARES[how] / len(made) if shown in made else 0.0 for how, made in results(meant).items()
    ]
    return sum(chances), chances.index(max(chances))


def may_be_meant(shown: Ints) -> Ints:
    """Every number that one typing slip may have turned into each of ``shown``, and some more.

    Exchanges undo themselves, a lost digit is put back anywhere, a doubled or added one is taken
    out; ``chance_of`` tells which of the numbers a slip leads from.

    Args:
        shown: (numbers,) whole numbers.

    Returns:
        (numbers, k), each row ascending without repeats, filled up with 0.
    """
    if not len(shown):
        return np.zeros((0, 0), dtype=np.int64)
    number = np.where((shown > 0) & (shown < 10**_MOST_DIGITS), shown, 0)[:, None]
    digits = len(str(int(number.max())))
    tens = 10 ** np.arange(digits + 1, dtype=np.int64)
    above, below = number // tens, number % tens
    added = (10 * above[:, :, None] + np.arange(10)) * tens[:, None] + below[:, :, None]
    added[tens > 10 * number] = 0  # beyond the first digit
    digit = above % 10
    taken = above // 10 * tens + below
    change = (digit[:, 1:] - digit[:, :-1]) * tens[:-1]
    exchanged = number - 9 * change
    one, two, three = number // 100, number // 10 % 10, number % 10
    orders = np.where(
        number // 100 // 10 == 0,
        np.hstack([100 * three + 10 * two + one, 100 * two + 10 * three + one,
                   100 * three + 10 * one + two]),
        0,
    )  # fmt: skip
    made = np.hstack([added.reshape(len(shown), -1), taken, exchanged, orders])
    made.sort(axis=1)
    made[:, 1:][made[:, 1:] == made[:, :-1]] = 0
    made[(made == number) | (made < 0)] = 0
    return np.sort(made, axis=1)
