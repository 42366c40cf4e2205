"""Stated totals: which number of a passage is energy, protein, carbohydrate or fat.

All ways to bind the numbers of a passage to its nutrient words are candidates, whatever the word
order ("31 carbs", "protein 58", "of which 38 grams are carbs"); words that stand close bind better,
and 4 P + 4 C + 9 F near the energy decides (general Atwater factors, 21 CFR 101.9(c)(1)(i)(B)).
A number without a word may be the energy. Numbers of a product, of a day or of a limit are no totals.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from itertools import zip_longest

from pipeline.intake.model import Basis
from pipeline.intake.spoken.grammar import ADJECTIVES, Talk
from pipeline.intake.spoken.phrases import phrases, word_class
from pipeline.intake.spoken.words import STRONG, WEAK, Span
from pipeline.nutrients import NET_CARBS_TAG

ENERGY, PROTEIN, CARBS, FAT = "ENERC_KCAL", "PROCNT", "CHOCDF", "FAT"
_LABELS = {
    word: tag
    for tag in (ENERGY, PROTEIN, CARBS, FAT, "FIBTG", "SUGAR", "FASAT")
    for word in word_class(tag)
}
_FIRST_WORDS = ("net", "sat", "saturated")
WHOLE: Basis = "per_recipe"
SHARE: Basis = "per_serving"
_LETTERS = {"p": PROTEIN, "c": CARBS, "f": FAT}
_GRAMS = word_class("grams")
_FREE = word_class("around_numbers")
_GAP = 9  # words between two items of one passage
_MOST = 32  # items bound at once
_AGAIN = (0.7, 1.4)  # a number told again, by the one before
_SHARE = 20  # words behind the energy of a whole in which that of a share may stand
_TALKED = 1.2  # most that words between a nutrient and its number cost
_EXACT = 0.05  # share of the energy by which 4 P + 4 C + 9 F may miss it to bear all four out
_BORNE_OUT = 1.2  # what that speaks for a binding
_ROUNDED = 10.0  # kcal that rounded grams may be above a small energy
_FULL = 3  # nutrients of a full statement
_SIDE_BY_SIDE = (
    0.3  # most that a way costs in which each number stands at its word and none is left out
)
_AS_BEFORE = 0.5  # most that 4 P + 4 C + 9 F says against numbers told as all before
_SLIPS = 2.5  # and more than that it never leaves unheard
_ROW = 0.5  # cost of numbers in a row with their words behind them


@dataclass(slots=True)
class Item(Span):
    """A number or a nutrient word of a passage."""

    value: float | None = None
    tag: str = ""


@dataclass(slots=True)
class Stated(Span):
    """One number bound to a nutrient."""

    tag: str
    value: float
    basis: Basis | None = None
    bare: bool = False


@dataclass(slots=True)
class Total(Span):
    """Numbers stated together."""

    parts: list[Stated] = field(default_factory=list)
    cost: float = 0.0
    corrects: bool = False  # the speaker takes back what was said before
    doubt: float = -1.0  # what speaks for it being of something else, above nought

    @property
    def tags(self) -> set[str]:
        """Nutrients stated."""
        return {p.tag for p in self.parts}

    @property
    def values(self) -> dict[str, float]:
        """Nutrient → its number; the last where there are several."""
        return {p.tag: p.value for p in self.parts}

    @property
    def complete(self) -> bool:
        """Stands on its own: an energy, or two nutrients."""
        return ENERGY in self.tags or len(self.tags) >= 2


@dataclass(slots=True)
class Figure(Span):
    """A number that belongs to a product: "the 60 calorie wraps"."""

    text: str


@dataclass(slots=True)
class _Binding:
    """Some of the items bound; ``orders`` counts number-word and word-number pairs."""

    cost: float
    parts: list[Stated]
    orders: tuple[int, int] = (0, 0)


class Totals:
    """Finds the statements of a script and the figures of products."""

    def __init__(self, talk: Talk) -> None:
        self.talk = talk
        self.found: list[Total] = []
        self.figures: list[Figure] = []
        self._orders = (0, 0)  # pairs of the statements so far, as ``_Binding.orders``
        self._run()

    @staticmethod
    def tag_of(word: str) -> str:
        """The nutrient that a word may mean; "" for none."""
        return _LABELS.get(word, "")

    # --- items ---------------------------------------------------------------------------------

    def _label(self, at: int) -> tuple[str, int]:
        """Nutrient word at a place, and its end; "" when none is meant."""
        talk = self.talk
        text = talk.text[at].removesuffix("'s")
        if text in _LETTERS:
            return (_LETTERS[text], at + 1) if self._letter(at) else ("", at)
        if text == "net" and _LABELS.get(talk.close(at + 1)) == CARBS:
            return NET_CARBS_TAG, at + 2
        if text in ("saturated", "sat") and talk.close(at + 1) in ("fat", "fats"):
            return "FASAT", at + 2
        tag = _LABELS.get(text, "")
        before = "" if talk.words[at].breaks else talk.word(at - 1)
        if tag and before == "no" and self._value(at + 1) and talk.words[at + 1].breaks:
            return tag, at + 1  # "almost no carbs, three grams"
        if not tag or before in word_class("before_kinds_of_food") or (
            before == "of" and talk.word(at - 2) == "lot"
        ) or {"scoop", "scoops"} & {talk.word(at - back) for back in (1, 2, 3, 4)}:  # fmt: skip
            return "", at
        if tag in ("SUGAR", "FIBTG", "FASAT"):
            lead = at - 2 if before == "of" else at - 1
            grams = lead > 0 and talk.text[lead] in _GRAMS and self._value(lead - 1)
            if not grams and not (before != "of" and at and self._value(at - 1)):
                return "", at
        names_food = talk.food_length(at) > 1 or (
            tag != ENERGY and self._of_food(at + 1) and not self._in_list(at)
        )
        return ("", at) if names_food else (tag, at + 1)

    def _value(self, at: int) -> bool:
        """A number stands at a place."""
        return at < self.talk.n and self.talk.words[at].value is not None

    def _of_food(self, at: int) -> bool:
        """The word behind a nutrient makes a food of it: "protein bar", "fat free"."""
        talk = self.talk
        after = talk.close(at)
        if not after or self._value(at) or after in _LABELS:
            return False
        return (
            talk.food_length(at) > 0
            or after in word_class("dish")
            or after in ("powder", "bar", "free")
        )

    def _in_list(self, at: int) -> bool:
        """A nutrient word right behind its number, and another nutrient right before:
        "14 carbs 6 grams of fat tuna pasta is next"."""
        talk, number = self.talk, at - 1
        while number > at - 3 and talk.text[number] in ("of", *_GRAMS):
            number -= 1
        product = talk.close(at + 1) in ("powder", "bar", "free")
        listed = not _LABELS.keys().isdisjoint(talk.text[max(number - 3, 0) : number])
        return not product and number > 0 and talk.counts(number) and listed

    def _letter(self, at: int) -> bool:
        """ "29P / 28C / 4F", "P 29, C 28": a letter beside a number, and another such pair next."""

        def pair(at: int, number: int) -> bool:
            letter = 0 < at < self.talk.n and self.talk.text[at] in _LETTERS
            return letter and self._value(at + number)

        return any(
            pair(at, side) and (pair(at + 2, side) or pair(at - 2, side)) for side in (-1, 1)
        )

    def number(self, at: int) -> Item | None:
        """A number that may state a nutrient."""
        talk = self.talk
        word, after = talk.words[at], talk.close(at + 1)
        if after == "of" and self._counts_food(at + 2, talk.n):
            return None  # "110 sugar, 200 of flour"
        gram = after in _GRAMS and _LABELS.keys() & {talk.close(at + 2), talk.close(at + 3)}
        if word.value is None or (word.article and not gram) or after == "percent":
            return None  # but "a gram of fat"
        if word.share and after not in _GRAMS and not {
            after, talk.close(at + 2), talk.word(at - 1)
        } & _LABELS.keys():  # fmt: skip
            return None
        before = "" if word.breaks else talk.word(at - 1)
        if before in word_class("numbered") and after not in _LABELS:
            return None
        if after in _GRAMS:
            return Item(at, at + 2, word.value)
        unit, _ = talk.known.unit_at(talk.words, at + 1)
        if after and (unit is not None or after in word_class("no_nutrient_unit")):
            return None
        return Item(at, at + 1, word.value)

    def _numbers(self, start: int, end: int) -> list[Item]:
        return [n for at in range(start, min(end, self.talk.n)) if (n := self.number(at))]

    def _run(self) -> None:
        labels: dict[int, tuple[str, int]] = {}
        for at, text in enumerate(self.talk.text):
            if text.removesuffix("'s") in _LABELS or text in _LETTERS or text in _FIRST_WORDS:
                tag, end = self._label(at)
                if tag:
                    labels[at] = (tag, end)
        passage: list[Item] = []
        last = -100
        for at in sorted(labels):
            if at < last:
                continue
            passage, last = self._next(labels, at, passage, last)
        self._close(passage)
        self.found = [one for t in self.found if t.complete for one in self._told_apart(t)]
        taken = {at for t in self.found for p in t.parts for at in range(p.start, p.end)}
        for total in self.found:
            for part in list(total.parts):
                self._told_again(part, taken)
                if part.tag == ENERGY:
                    self._share_of(total, part, taken)

    def _told_apart(self, total: Total) -> list[Total]:
        """The statements of a passage that states the same nutrients anew, in a sentence of its own
        or behind the name of another dish; a batch and its share stay together."""
        parts = sorted(total.parts, key=lambda p: p.start)
        energies = [at for at, part in enumerate(parts) if part.tag == ENERGY]
        out: list[Total] = []
        begin = 0
        for at in energies[1:]:
            one, two, before = {p.tag for p in parts[begin:at]}, parts[at:], parts[at - 1]
            again = len(one) > 1 and one <= {p.tag for p in two} and parts[begin].tag == ENERGY
            apart = self._of_another(before.end, parts[at].start)
            low, high = sorted((parts[begin].value, parts[at].value))
            if not again or not apart or _is_share(high, low):
                continue
            out.append(
                Total(parts[begin].start, before.end, parts[begin:at], total.cost, total.corrects)
            )
            begin = at
        corrects = total.corrects if not out else self._corrects(parts[begin].start)
        return [*out, Total(parts[begin].start, total.end, parts[begin:], total.cost, corrects)]

    def _of_another(self, start: int, end: int) -> bool:
        """Between numbers a new sentence begins, or how many another dish makes is told, or its name;
        no ingredient."""
        talk, makes = self.talk, word_class("makes_servings")
        if any((amount := talk.amount_at(at)) and amount.measured for at in range(start, end)):
            return False
        counted = any(
            talk.counts(at) and talk.word(at - 1) in makes for at in range(start + 1, end)
        )
        return counted or self._breaks(start, end) or self._names_dish(start, end)

    def _breaks(self, start: int, end: int) -> bool:
        """A full stop stands in a stretch."""
        return any(word.breaks == STRONG for word in self.talk.words[start : end + 1])

    def _told_again(self, part: Stated, taken: set[int]) -> None:
        """ "fat 9 and a bit, so call it ten": a number near it behind words that take it back."""
        talk = self.talk
        again = word_class("correct") | {"it", "so", "say"}
        for at in range(part.end, min(part.end + 8, talk.n)):
            if at in taken or (talk.counts(at) and self.number(at) is None):
                return
            if not talk.counts(at):
                continue
            value = talk.words[at].value or 0.0
            led = talk.text[at - 1] in again and talk.words[at].breaks != STRONG
            if led and _AGAIN[0] <= value / max(part.value, 1e-9) <= _AGAIN[1]:
                part.value, part.end = value, at + 1
                taken.update(range(part.start, part.end))
            return

    def _share_of(self, total: Total, whole: Stated, taken: set[int]) -> None:
        """ "The dish is 1,800 calories, so between the four of us 450": an energy without a word,
        known by the number of shares that it makes, which is said, or by the word for a share."""
        talk = self.talk
        if any(p.tag == ENERGY and p is not whole for p in total.parts):
            return
        said = range(max(whole.start - 40, 0), min(whole.end + 40, talk.n))
        counts = {talk.words[at].value for at in said if talk.counts(at)}
        grams = {p.tag: p.value for p in total.parts}
        for at in range(whole.end, min(whole.end + _SHARE, talk.n)):
            item = self.number(at) if talk.counts(at) and at not in taken else None
            if item is None or item.end > at + 1 or not item.value:
                continue
            ratio = whole.value / item.value
            shares = round(ratio)
            each = phrases("a_serving").match(talk.said(item.end, item.end + 4)) is not None
            if not _is_share(whole.value, item.value) or (
                not (each and shares in counts)
                and {PROTEIN, CARBS, FAT} <= grams.keys()
                and off(whole.value, grams) < off(item.value, grams)
            ):
                continue
            if shares in counts or each:
                for part in total.parts:
                    if part.start < at and off(whole.value, grams) <= off(item.value, grams):
                        part.basis = "per_recipe"
                whole.basis = "per_recipe"
                total.parts.append(Stated(at, at + 1, ENERGY, item.value, "per_serving", bare=True))
                for part in total.parts:
                    if part.start > at and part.tag != ENERGY:
                        part.basis = "per_serving"
                total.end = max(total.end, at + 1)
                taken.add(at)
                return

    def _next(
        self, labels: dict[int, tuple[str, int]], at: int, passage: list[Item], last: int
    ) -> tuple[list[Item], int]:
        """The passage with the nutrient word at a place, and where it ends now."""
        talk, (tag, end) = self.talk, labels[at]
        between = bool(passage) and self._amount_between(last, at)
        reach = 0 if between else 20 if passage else _GAP + 5
        near = passage and at - last <= reach
        numbers = self._numbers(max(last, 0) if near else max(at - 2 * _GAP, last, 0), at)
        if not near:  # "590 each, which is no diet plate, but it has 38 protein"
            share = phrases("a_serving")
            numbers = [
                n
                for n in numbers
                if n.start >= at - _GAP or share.match(talk.said(n.end, n.end + 4))
            ]
        apart = at - last > reach if not numbers else numbers[0].start - last > reach - 5
        if passage and (apart or phrases("of_a_day").search(talk.said(last, at))):
            behind = self._behind(last, passage[-1].tag) if passage[-1].tag else None
            if behind is not None and behind.end <= at and (not numbers or behind != numbers[-1]):
                passage.append(behind)
                numbers = [n for n in numbers if n.start >= behind.end]
            self._close(passage)
            passage = []
        passage += [n for n in numbers if n.start >= last]
        passage.append(Item(at, end, None, tag))
        if any(k in labels for k in range(end, min(end + _GAP + 5, talk.n))):
            return passage, end
        behind = self._behind(end, tag)
        if behind is not None:
            passage.append(behind)
            return passage, behind.end
        return passage, end

    def _behind(self, end: int, tag: str) -> Item | None:
        """The number that stands behind a nutrient word that ends there."""
        talk = self.talk
        following = self._numbers(end, end + 5)
        if not following and tag != ENERGY:
            following = [n for n in self._numbers(end, end + _GAP) if talk._boundary(n.end)]
        if not following:
            return None
        parted = any(talk.words[i].breaks == STRONG for i in range(end, following[0].start))
        return None if parted else following[0]

    def _amount_between(self, start: int, end: int) -> bool:
        """An amount of something stands between: other things were talked of."""
        talk = self.talk
        for at in range(start, end):
            if not self._value(at) or at + 1 >= talk.n or talk.words[at].article:
                continue
            unit, _ = talk.known.unit_at(talk.words, at + 1)
            share = talk.words[at].value == 1 and talk.close(at + 2) != "of"
            if share and phrases("a_serving").match(talk.said(at, at + 3)):
                continue  # "220 calories for one biscuit and 4 grams of protein"
            if self._counts_food(at + 1, end):
                return True
            if talk.text[at + 1] not in _GRAMS:
                if unit is not None and unit.name not in word_class("served_in"):
                    return True
            elif at + 3 < end and talk.close(at + 2) == "of" and talk.text[at + 3] not in _LABELS:
                return True
            elif at + 2 < end and not talk.words[at + 2].breaks and talk.food_length(at + 2):
                return talk.text[at + 2] not in _LABELS
        return False

    def _counts_food(self, at: int, end: int) -> bool:
        """A food stands right behind a number, a word of size between at most: "1 big cucumber"."""
        talk = self.talk
        if talk.close(at) in ADJECTIVES and not talk.food_length(at):
            at += 1
        if at >= end or talk.words[at].breaks or not talk.food_length(at):
            return False
        text = talk.text[at]
        return text not in _LABELS and text not in word_class("container") | word_class("talk")

    # --- binding -------------------------------------------------------------------------------

    def _close(self, passage: list[Item]) -> None:
        """Bind the items of a passage the best way and keep what is a statement."""
        parts = self._statements(passage)
        if len(parts) > 1:
            for part in parts:
                self._close(part)
            return
        while len(passage) > _MOST:  # bounded, so that the time grows with the words alone
            gaps = [passage[i].start - passage[i - 1].end for i in range(_MOST // 2, _MOST)]
            at = _MOST // 2 + gaps.index(max(gaps))
            self._bind(passage[:at])
            passage = passage[at:]
        if passage:
            self._bind(passage)

    def _statements(self, items: list[Item]) -> list[list[Item]]:
        """The items cut where the numbers of another dish begin: a nutrient comes again behind a
        full statement, and between the two a food or a dish is named."""
        out: list[list[Item]] = []
        now: list[Item] = []
        told: dict[str, int] = {}  # nutrient → its last place in the statement
        kinds = [0]  # how many nutrients the first items tell
        for item in items:
            begin = max(told.get(item.tag, len(now)) + 1, len(now) - _MOST)
            gaps = [
                (now[at].start - now[at - 1].end, -at) for at in range(begin, len(now))
                if (kinds[at] >= _FULL and self._names_dish(now[at - 1].end, now[at].start))
                or (kinds[at] > 1 and self._parted(now[at - 1].end, now[at].start))
            ]  # fmt: skip
            if gaps:
                at = -max(gaps)[1]
                out.append(now[:at])
                now = now[at:]
                told = {x.tag: k for k, x in enumerate(now) if x.tag}
                kinds = [len({x.tag for x in now[:k] if x.tag}) for k in range(len(now) + 1)]
            now.append(item)
            if item.tag:
                told[item.tag] = len(now) - 1
            kinds.append(len(told))
        out.append(now)
        return out if all(_tells_enough(one) for one in out) else [items]

    def _parted(self, start: int, end: int) -> bool:
        """A full stop stands in a stretch, and a word with its number: "a day. Meal one." """
        talk = self.talk
        return self._breaks(start, end) and any(
            talk.text[at] in word_class("numbered") and talk.counts(at + 1) for at in range(start, end)
        )  # fmt: skip

    def _names_dish(self, start: int, end: int) -> bool:
        """A food or a dish is named in a stretch, no share of one and no ingredient."""
        talk, names = self.talk, False
        for at in range(start, end):
            amount = talk.amount_at(at)
            if amount is not None and amount.measured:
                return False  # "add a tablespoon of almond butter and that brings it up to"
            text = talk.text[at]
            names |= text not in _LABELS and (talk.tells(at) or text in word_class("meals"))
        return names

    def _kept(self, items: list[Item]) -> list[Item]:
        """The items without numbers taken back at once: "protein 31, no, that's wrong, it's 33"."""
        back = word_class("correct") - {"mean", "actually"}
        return [
            item
            for item, after in zip_longest(items, items[1:])
            if item.value is None or after is None or after.value is None
            or back.isdisjoint(self.talk.text[item.end : after.start])
        ]  # fmt: skip

    def _bind(self, items: list[Item]) -> None:
        items = self._kept(items)
        states: list[list[_Binding]] = [[] for _ in range(len(items) + 2)]
        states[0] = [_Binding(0.0, [])]
        for at, item in enumerate(items):
            nxt = items[at + 1] if at + 1 < len(items) else None
            bare = self._bare_cost(item, items, at) if item.value is not None else None
            row = _row(items, at)
            for had in sorted(states[at], key=lambda s: s.cost)[:48]:
                if bare is not None:
                    part = Stated(item.start, item.end, ENERGY, item.value or 0.0, bare=True)
                    states[at + 1].append(_Binding(had.cost + bare, [*had.parts, part], had.orders))
                left_out = 1.0 if item.value is None else 0.9
                states[at + 1].append(_Binding(had.cost + left_out, had.parts, had.orders))
                if nxt is not None and (item.value is None) != (nxt.value is None):
                    states[at + 2].append(self._pair(had, items, at))
                if row is not None:
                    states[at + 2 * len(row)].append(
                        _Binding(had.cost + _ROW, [*had.parts, *row], had.orders)
                    )
        ways = sorted(states[len(items)], key=lambda s: s.cost)[:80]
        best = min(ways, key=self._cost)
        parts = [p for p in best.parts if self._is_total(p, best.parts)]
        if not any(p.tag in (ENERGY, PROTEIN, CARBS, FAT) for p in parts):
            return
        self._set_bases(parts)
        start, end = min(p.start for p in parts), max(p.end for p in parts)
        self.found.append(
            Total(start, end, parts, self._cost(best), self._corrects(items[0].start))
        )
        before, behind = self._orders
        self._orders = before + best.orders[0], behind + best.orders[1]

    def _cost(self, way: _Binding) -> float:
        """Cost of a way to bind a passage; numbers that stand on the side of their words where all
        others of the script stood may be wrong themselves."""
        earlier, here = self._orders, way.orders
        usual = any(
            not earlier[side] and not here[side] and earlier[1 - side] > 2 for side in (0, 1)
        )
        usual &= sum(p.tag == ENERGY for p in way.parts) < 2  # which energy it is, they decide
        misfit = self._misfit(way.parts)
        usual &= misfit < _SLIPS  # wrong, but not beyond belief
        usual |= len(way.parts) > 2 and way.cost <= _SIDE_BY_SIDE
        return way.cost + 0.5 * min(way.orders) + (min(misfit, _AS_BEFORE) if usual else misfit)

    def _pair(self, had: _Binding, items: list[Item], at: int) -> _Binding:
        """A number and the nutrient word beside it, bound."""
        first, second = items[at], items[at + 1]
        number, word = (second, first) if first.value is None else (first, second)
        cost = self._gap(first.end, second.start, joiners=number is second)
        if word.tag == ENERGY and self.talk.word(number.end - 1) in _GRAMS:
            cost += 3.0
        if number is second:
            if self.talk._boundary(second.end) or self.talk.text[second.end] in _LABELS:
                cost = min(cost, _TALKED)  # "and the fat, that surprised me, is 9"
            cost += 0.9 if word.tag == ENERGY else 0.3
            follow = items[at + 2] if at + 2 < len(items) else None
            if follow is not None and follow.value is None and follow.start - second.end <= 1:
                cost += 1.2 if self.talk.word(second.end) == "of" else 0.05
        part = Stated(first.start, second.end, word.tag, number.value or 0.0)
        before, behind = had.orders
        counts = word.tag != ENERGY
        orders = (before, behind + counts) if number is second else (before + counts, behind)
        return _Binding(had.cost + cost, [*had.parts, part], orders)

    def _corrects(self, at: int) -> bool:
        """Words of correction stand shortly before a passage."""
        words = set(self.talk.text[max(at - 14, 0) : at])
        return bool(words & (word_class("correct") - {"mean", "actually"}))

    def _gap(self, start: int, end: int, *, joiners: bool) -> float:
        """Cost of what stands between a number and its nutrient word."""
        talk = self.talk
        cost = 0.0
        for text in talk.text[start:end]:
            if joiners and text not in _FREE:
                cost += 1.0
            cost += 0.0 if text in _FREE and text not in ("and", "so", "for") else 0.35
            if text in ("and", "with", "so", "for"):
                cost += 0.3
        for word in talk.words[start : end + 1]:
            cost += {0: 0.0, WEAK: 0.5, STRONG: 1.2}[word.breaks]
        return cost if not joiners else cost * 0.8

    def _bare_cost(self, item: Item, items: list[Item], at: int) -> float | None:
        """Cost of a number without a word being the energy; None when it cannot be."""
        talk = self.talk
        value = item.value or 0.0
        if value < 40 or value > 20_000 or talk.word(item.end - 1) in _GRAMS:
            return None
        led = talk.words[item.start].breaks == STRONG or (
            talk.word(item.start - 1) in word_class("before_energy")
        )
        if at > 0 and not led and not phrases("a_serving").match(talk.said(item.end, item.end + 4)):
            return 0.85
        nxt = items[at + 1] if at + 1 < len(items) else None
        far = nxt is not None and nxt.start - item.end > 6
        return 0.3 + (0.0 if led else 0.25) + (0.3 if far else 0.0) + (0.1 if at else 0.0)

    @staticmethod
    def _misfit(parts: list[Stated]) -> float:
        """How far 4 P + 4 C + 9 F is from the energy, and other signs of a wrong binding."""
        energies = [p.value for p in parts if p.tag == ENERGY]
        named = [p.value for p in parts if p.tag == ENERGY and not p.bare]
        bare = [p.value for p in parts if p.bare]
        if bare and not {p.tag for p in parts if not p.bare} & {ENERGY, PROTEIN, CARBS, FAT}:
            return 50.0
        cost = 0.8 * max(len(bare) - 1, 0)
        cost += 1.5 * sum(any(not _goes_into(b, other) for other in named) for b in bare)
        last = {part.tag: part.value for part in parts}
        repeated = len(parts) - len(energies) - len(last.keys() - {ENERGY})
        cost += 0.35 * repeated
        if {PROTEIN, CARBS, FAT} <= last.keys():
            if not energies:
                return cost + 1.0
            least = min(*(off(e, last) for e in energies), 2.0)
            return cost + 2.5 * least - (_BORNE_OUT if least < _EXACT else 0.0)
        if not energies:
            return cost + 0.6
        return cost if _possible(max(energies), last) else cost + 1.0

    # --- what is no total ----------------------------------------------------------------------

    def _is_total(self, part: Stated, parts: list[Stated]) -> bool:
        talk = self.talk
        if part.value <= 0 and part.tag == ENERGY:
            return False
        before = talk.lead(part.start, 5)
        lead = before.split("|")[-1].replace(",", "").split()[-3:]
        limits = word_class("limit")
        alone = len({p.tag for p in parts}) <= 1
        if lead and lead[-1] != "at" and (
            lead[-1] in limits
            or (lead[-1] in word_class("before_limits") and not limits.isdisjoint(lead[:-1]))
        ):  # fmt: skip
            return False
        if part.tag == ENERGY and not part.bare and self._of_product(part, lead, before, alone):
            return False
        if part.tag == ENERGY and self._of_what_is_beside(part, parts):
            self._figure(part)
            return False
        first = min(p.start for p in parts)
        if part.tag == "SUGAR" and part.start == first and talk.text[part.end - 2] == "of":
            return False  # "and 50 grams of sugar. It's 380 calories"
        if phrases("of_a_day").search(talk.said(first - 12, part.start)):
            return False
        if before.endswith(" not"):
            return False
        energy = max(
            (p.start for p in parts if p.tag == ENERGY and p.start < part.start), default=0
        )
        one = not any(w.breaks == STRONG for w in talk.words[energy + 1 : part.start + 1])
        if energy and one and part.tag != ENERGY:
            before = talk.lead(energy, 5)  # "that might be 90 calories with 2 grams of protein"
        full = {ENERGY, PROTEIN, CARBS, FAT} <= {p.tag for p in parts}
        return (full and before.endswith("be")) or phrases("supposed").search(before) is None

    def _of_product(self, part: Stated, lead: list[str], before: str, alone: bool) -> bool:
        """An energy that is a product's own; it is kept as a figure where nothing else is stated."""
        talk = self.talk
        after = talk.said(part.end, part.end + 4)
        points = lead and lead[-1] in ("the", "those", "these", "of")
        behind = part.end + (talk.close(part.end) == "of")
        noun = behind < talk.n and not talk.words[part.end].breaks and talk.food_length(behind) > 0
        small = alone and part.value < 80
        if noun or (alone and points and re.match(r"^[a-z]+\b", after)) or (
            small and re.search(r"\bwhich (?:is|are|has)[a-z ]*$", before)
        ):  # fmt: skip
            self._figure(part)
            return True
        if not phrases("of_a_measure").match(after) and not self._fact_of(part.start):
            return False
        if alone:
            self._figure(part)
        return True

    def _of_what_is_beside(self, part: Stated, parts: list[Stated]) -> bool:
        """ "And then I have a cheese stick, that's 80 calories": behind the full numbers of a dish, the
        energy of another food that is named before it."""
        before = [p for p in parts if p.end <= part.start]
        last = max((p.end for p in before), default=part.start)
        if len({p.tag for p in before}) < _FULL or any(p.start > part.end for p in parts):
            return False
        shared = phrases("a_serving").search(self.talk.said(last, part.end + 3))
        foods = any(self.talk.food_length(at) for at in range(last, part.start))
        return foods and not shared

    def _fact_of(self, at: int) -> bool:
        """ "A spoon of treacle is about 60 calories": what is known of so much of a food."""
        talk = self.talk
        for begin in range(max(at - _GAP, 0), at):
            amount = talk.amount_at(begin)
            if amount is None or not amount.of or amount.unit is None or not amount.unit.weighs:
                continue
            food = talk.food_span(amount.end, measured=False)
            if food is not None and food.known and food.name[-1] not in word_class("dish") and (
                food.end < at and talk.words[food.end].breaks != STRONG
                and phrases("comes_to").match(talk.said(food.end, at + 1))
            ):  # fmt: skip
                return True
        return False

    def _figure(self, part: Stated) -> None:
        if part.value > 0:
            self.figures.append(Figure(part.start, part.end, f"{part.value:g} calorie"))

    def _set_bases(self, parts: list[Stated]) -> None:
        talk = self.talk
        inherited: Basis | None = None
        ordered = sorted(parts, key=lambda p: p.start)
        serving = phrases("a_serving")
        for at, part in enumerate(ordered):
            nxt = ordered[at + 1].start if at + 1 < len(ordered) else part.end + 7
            prev = ordered[at - 1].end if at else part.start - 8
            before = talk.said(max(prev, part.start - 9), part.start).split("| ")[-1]
            after = talk.said(part.end, min(nxt, part.end + 7)).split(" | ")[0]
            whole = phrases("the_whole")
            if phrases("per_100").search(f"{before} {after}"):
                inherited = "per_100g"
            elif serving.search(re.split(r"\b(?:and|so|which|with|but)\b", after)[0]) or (
                serving.search(before) and not whole.search(after)
            ):
                inherited = "per_serving"
            elif whole.search(f"{before} {after}"):
                inherited = "per_recipe"
            part.basis = inherited
        energies = [p for p in ordered if p.tag == ENERGY]
        for one in energies:
            for other in energies:
                follows = one.start < other.start and one.basis in (None, other.basis)
                if follows and _is_share(one.value, other.value):
                    one.basis, other.basis = WHOLE, SHARE
                    behind = [p for p in ordered if p.start > other.start and p.tag != ENERGY]
                    if _possible(other.value, {p.tag: p.value for p in behind}):
                        for part in behind:
                            part.basis = SHARE
        said = {p.basis for p in ordered if p.basis is not None}
        if len(said) == 1:
            for part in ordered:
                part.basis = part.basis or next(iter(said))


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


def _tells_enough(items: list[Item]) -> bool:
    """Numbers of three nutrients, one of them perhaps without its word."""
    return sum(x.value is not None for x in items) >= _FULL


def _is_share(whole: float, share: float) -> bool:
    """One number is the other times 2 to 40."""
    ratio = whole / max(share, 1e-9)
    return 2 <= round(ratio) <= 40 and abs(ratio - round(ratio)) <= 0.015 * ratio


def _goes_into(a: float, b: float) -> bool:
    """The same, or one a whole number of times the other: a batch and its share."""
    ratio = max(a, b) / max(min(a, b), 1.0)
    return ratio < 1.02 or (ratio > 1.5 and abs(ratio - round(ratio)) <= 0.03 * ratio)


def off(energy: float, grams: dict[str, float]) -> float:
    """Share of an energy by which 4 P + 4 C + 9 F misses it."""
    return abs(energy - _atwater(grams)) / max(energy, 1.0)


def _atwater(grams: dict[str, float]) -> float:
    """4 P + 4 C + 9 F of those that are known."""
    return sum(factor * grams.get(tag, 0.0) for tag, factor in ((PROTEIN, 4), (CARBS, 4), (FAT, 9)))


def _possible(energy: float, grams: dict[str, float]) -> bool:
    """Protein, carbohydrate and fat, as far as they are known, do not exceed an energy."""
    return _atwater(grams) <= 1.15 * energy + _ROUNDED


def said_last(totals: list[Total]) -> list[Stated]:
    """The final figures of several statements of one recipe: a later number takes an earlier back.

    One number a (nutrient, basis). Where two energies of one basis are said, the later one stands.
    """
    kept: dict[tuple[str, str], Stated] = {}
    energies: dict[tuple[str, str], list[Stated]] = {}
    for total in totals:
        full = any(p.tag != ENERGY and p.basis == total.parts[0].basis for p in kept.values())
        energy: tuple[str, str] = (ENERGY, total.parts[0].basis or "per_serving")
        if full and total.tags == {ENERGY} and not total.corrects and energy in kept:
            continue  # "I ate five of them, that's 475"
        for part in sorted(total.parts, key=lambda p: p.start):
            key: tuple[str, str] = (part.tag, part.basis or "per_serving")
            kept[key] = part
            if part.tag == ENERGY:
                energies.setdefault(key, []).append(part)
    for key, said in energies.items():
        if len(said) > 1 and not any(t.corrects for t in totals):
            kept[key] = _fitting(
                said, [k for k in kept.values() if (k.basis or "per_serving") == key[1]]
            )
    return list(kept.values())


def plausible(totals: list[Total]) -> dict[str, float]:
    """Nutrient → the final figure by which lines are judged: of a serving where one is stated,
    else of all that is made."""
    said = said_last(totals)
    of_all = {p.tag: p.value for p in said if p.basis == "per_recipe"}
    of_one = {p.tag: p.value for p in said if p.basis != "per_recipe"}
    return of_one if ENERGY in of_one or ENERGY not in of_all else of_all


def _fitting(energies: list[Stated], parts: list[Stated]) -> Stated:
    """The last energy said, unless only an earlier one fits protein, carbohydrate and fat."""
    grams = {p.tag: p.value for p in parts}
    if not {PROTEIN, CARBS, FAT} <= grams.keys():
        return energies[-1]
    best = min(energies, key=lambda e: off(e.value, grams))
    fits = off(best.value, grams) < 0.12 and off(energies[-1].value, grams) > 0.3
    return best if fits else energies[-1]
