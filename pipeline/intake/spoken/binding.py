"""Which number of a passage is energy, protein, carbohydrate or fat.

All ways to bind the numbers of a passage to its nutrient words are candidates, whatever the word
order ("31 carbs", "protein 58", "of which 38 grams are carbs"); words that stand close bind better,
and 4 P + 4 C + 9 F near the energy decides. A number without a word may be the energy.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import zip_longest

from pipeline.intake.spoken.labels import GRAMS, LABELS
from pipeline.intake.spoken.phrases import word_class
from pipeline.intake.spoken.stated import ENERGY, MACROS, Item, Stated, off, possible
from pipeline.intake.spoken.talk import Talk
from pipeline.intake.spoken.words import STRONG, WEAK

_FREE = word_class("around_numbers")
_TALKED = 1.2  # most that words between a nutrient and its number cost
_EXACT = 0.05  # share of the energy by which 4 P + 4 C + 9 F may miss it to bear all four out
_BORNE_OUT = 1.2  # what that speaks for a binding
#: Most that a way costs in which each number stands at its word and none is left out.
_SIDE_BY_SIDE = 0.3
_AS_BEFORE = 0.5  # most that 4 P + 4 C + 9 F says against numbers told as all before
_SLIPS = 2.5  # and more than that it never leaves unheard
_ROW = 0.5  # cost of numbers in a row with their words behind them
_TRIED, _KEPT = 48, 80  # ways that are gone on with, and weighed in the end


@dataclass(slots=True)
class Binding:
    """Some of the items bound; ``orders`` counts number-word and word-number pairs."""

    cost: float
    parts: list[Stated]
    orders: tuple[int, int] = (0, 0)


class Binder:
    """Binds the passages of a script; remembers on which side of their words its numbers stand."""

    def __init__(self, talk: Talk) -> None:
        self._talk = talk
        self._orders = (0, 0)  # of the statements so far

    def best(self, items: list[Item]) -> Binding:
        """The best way to bind the items of a passage."""
        items = self._kept(items)
        states: list[list[Binding]] = [[] for _ in range(len(items) + 2)]
        states[0] = [Binding(0.0, [])]
        for at, item in enumerate(items):
            nxt = items[at + 1] if at + 1 < len(items) else None
            bare = self._bare_cost(items, at)
            row = _row(items, at)
            for had in sorted(states[at], key=lambda s: s.cost)[:_TRIED]:
                if bare is not None:
                    part = Stated(item.start, item.end, ENERGY, item.value or 0.0, bare=True)
                    states[at + 1].append(Binding(had.cost + bare, [*had.parts, part], had.orders))
                left_out = 1.0 if item.value is None else 0.9
                states[at + 1].append(Binding(had.cost + left_out, had.parts, had.orders))
                if nxt is not None and (item.value is None) != (nxt.value is None):
                    states[at + 2].append(self._pair(had, items, at))
                if row is not None:
                    states[at + 2 * len(row)].append(
                        Binding(had.cost + _ROW, [*had.parts, *row], had.orders)
                    )
        return min(sorted(states[len(items)], key=lambda s: s.cost)[:_KEPT], key=self._cost)

    def remember(self, way: Binding) -> None:
        """Take a binding for what the script says."""
        before, behind = self._orders
        self._orders = before + way.orders[0], behind + way.orders[1]

    def _kept(self, items: list[Item]) -> list[Item]:
        """The items without numbers taken back at once: "protein 31, no, that's wrong, it's 33"."""
        back = word_class("correct") - {"mean", "actually"}
        return [
            item
            for item, after in zip_longest(items, items[1:])
            if item.value is None or after is None or after.value is None
            or back.isdisjoint(self._talk.text[item.end : after.start])
        ]  # fmt: skip

    def _cost(self, way: Binding) -> float:
        """Cost of a way to bind a passage; numbers that stand on the side of their words where all
        others of the script stood may be wrong themselves."""
        earlier, here = self._orders, way.orders
        usual = any(
            not earlier[side] and not here[side] and earlier[1 - side] > 2 for side in (0, 1)
        )
        usual &= sum(p.tag == ENERGY for p in way.parts) < 2  # which energy it is, they decide
        misfit = _misfit(way.parts)
        usual &= misfit < _SLIPS  # wrong, but not beyond belief
        usual |= len(way.parts) > 2 and way.cost <= _SIDE_BY_SIDE
        return way.cost + 0.5 * min(way.orders) + (min(misfit, _AS_BEFORE) if usual else misfit)

    def _pair(self, had: Binding, items: list[Item], at: int) -> Binding:
        """A number and the nutrient word beside it, bound."""
        talk, first, second = self._talk, items[at], items[at + 1]
        number, word = (second, first) if first.value is None else (first, second)
        cost = self._gap(first.end, second.start, joiners=number is second)
        if word.tag == ENERGY and talk.word(number.end - 1) in GRAMS:
            cost += 3.0
        if number is second:
            if talk.boundary(second.end) or talk.text[second.end] in LABELS:
                cost = min(cost, _TALKED)  # "and the fat, that surprised me, is 9"
            cost += 0.9 if word.tag == ENERGY else 0.3
            follow = items[at + 2] if at + 2 < len(items) else None
            if follow is not None and follow.value is None and follow.start - second.end <= 1:
                cost += 1.2 if talk.word(second.end) == "of" else 0.05
        part = Stated(first.start, second.end, word.tag, number.value or 0.0)
        before, behind = had.orders
        counts = word.tag != ENERGY
        orders = (before, behind + counts) if number is second else (before + counts, behind)
        return Binding(had.cost + cost, [*had.parts, part], orders)

    def _gap(self, start: int, end: int, *, joiners: bool) -> float:
        """Cost of what stands between a number and its nutrient word."""
        cost = 0.0
        for text in self._talk.text[start:end]:
            if joiners and text not in _FREE:
                cost += 1.0
            cost += 0.0 if text in _FREE and text not in ("and", "so", "for") else 0.35
            if text in ("and", "with", "so", "for"):
                cost += 0.3
        for word in self._talk.words[start : end + 1]:
            cost += {0: 0.0, WEAK: 0.5, STRONG: 1.2}[word.breaks]
        return cost if not joiners else cost * 0.8

    def _bare_cost(self, items: list[Item], at: int) -> float | None:
        """Cost of a number without a word being the energy; None when it cannot be."""
        talk, item = self._talk, items[at]
        value = item.value or 0.0
        if value < 40 or value > 20_000 or talk.word(item.end - 1) in GRAMS:
            return None
        led = talk.stops(item.start) or talk.word(item.start - 1) in word_class("before_energy")
        if at > 0 and not led and not talk.follows("a_serving", item.end):
            return 0.85
        far = at + 1 < len(items) and items[at + 1].start - item.end > 6
        return 0.3 + (0.0 if led else 0.25) + (0.3 if far else 0.0) + (0.1 if at else 0.0)


def _misfit(parts: list[Stated]) -> float:
    """How far 4 P + 4 C + 9 F is from the energy, and other signs of a wrong binding."""
    energies = [p.value for p in parts if p.tag == ENERGY]
    named = [p.value for p in parts if p.tag == ENERGY and not p.bare]
    bare = [p.value for p in parts if p.bare]
    if bare and not {p.tag for p in parts if not p.bare} & {ENERGY, *MACROS}:
        return 50.0
    cost = 0.8 * max(len(bare) - 1, 0)
    cost += 1.5 * sum(any(not _goes_into(b, other) for other in named) for b in bare)
    last = {part.tag: part.value for part in parts}
    repeated = len(parts) - len(energies) - len(last.keys() - {ENERGY})
    cost += 0.35 * repeated
    if last.keys() >= MACROS:
        if not energies:
            return cost + 1.0
        least = min(*(off(e, last) for e in energies), 2.0)
        return cost + 2.5 * least - (_BORNE_OUT if least < _EXACT else 0.0)
    if not energies:
        return cost + 0.6
    return cost if possible(max(energies), last) else cost + 1.0


def _row(items: list[Item], at: int) -> list[Stated] | None:
    """ "66, 79, 20, that's protein, carbs, fat": numbers in a row, then their words in a row."""
    end = at
    while end < len(items) and items[end].value is not None:
        end += 1
    count = end - at
    words = items[end : end + count]
    if count < 3 or len(words) < count or any(w.value is not None for w in words):
        return None
    if len({w.tag for w in words}) < count or words[0].start - items[end - 1].end > 3:
        return None
    return [
        Stated(number.start, number.end, word.tag, number.value or 0.0)
        for number, word in zip(items[at:end], words, strict=True)
    ]


def _goes_into(a: float, b: float) -> bool:
    """The same, or one a whole number of times the other: a batch and its share."""
    ratio = max(a, b) / max(min(a, b), 1.0)
    return ratio < 1.02 or (ratio > 1.5 and abs(ratio - round(ratio)) <= 0.03 * ratio)
