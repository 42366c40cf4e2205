"""Slips of the fingers: which numbers could have become the one that is stated."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Meant:
    """A number that may have been meant.

    Attributes:
        value: the number, in steps (an integer).
        how: what happened to it on the way.
        chance: probability that this slip, once made on ``value``, gives what is stated.
    """

    value: int
    how: str
    chance: float


#: Share of each kind of slip among typing slips. Common practice: exchanging two neighbours is the
#: commonest error of copying numbers by hand; a lost or doubled key and a shifted point follow.
SHARES = {
    "two digits exchanged": 0.45,
    "a digit lost": 0.22,
    "a digit typed twice": 0.10,
    "the decimal point shifted": 0.11,
    "digits in another order": 0.12,
}


def slips_of(number: int) -> dict[int, float]:
    """Every number one may write by mistake for ``number``, with its probability.

    >>> sorted(slips_of(13))
    [1, 3, 31, 113, 130, 133]
    """
    out: dict[int, float] = {}
    for how, results in _results(number).items():
        for result in results:
            out[result] = out.get(result, 0.0) + SHARES[how] / len(results)
    return out


def _results(number: int) -> dict[str, list[int]]:
    """Results of each kind of slip, without leading noughts and without the number itself."""
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


def meant_by(stated: int, least: int, most: int) -> list[Meant]:
    """Numbers between ``least`` and ``most`` that a typing slip turns into ``stated``.

    The inverse of ``slips_of``, found from the stated digits: exchanges undo themselves, a lost
    digit is put back anywhere, a doubled one is taken out.
    """
    s = str(stated)
    texts = {s[:i] + s[i + 1] + s[i] + s[i + 2 :] for i in range(len(s) - 1)}
    texts |= {s[:i] + d + s[i:] for i in range(len(s) + 1) for d in "0123456789"}
    texts |= {s[:i] + s[i + 1 :] for i in range(len(s))} if len(s) > 1 else set()
    if len(s) == 3:
        texts |= {s[::-1], s[1:] + s[0], s[-1] + s[:-1]}
    texts.add(s + "0")
    found = []
    for value in sorted({int(t) for t in texts if t and t[0] != "0"} - {stated}):
        if not least <= value <= most:
            continue
        chances = {
            how: SHARES[how] / len(results)
            for how, results in _results(value).items()
            if stated in results
        }
        if chances:
            how = max(chances, key=lambda name: chances[name])
            found.append(Meant(value, how, sum(chances.values())))
    return found
