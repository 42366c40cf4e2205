"""Stated totals: which number of a passage is energy, protein, carbohydrate or fat.

All ways to bind the numbers of a passage to its nutrient words are candidates, whatever the word
order ("31 carbs", "protein 58", "of which 38 grams are carbs"); words that stand close bind better,
and 4 P + 4 C + 9 F near the energy decides (general Atwater factors, 21 CFR 101.9(c)(1)(i)(B)).
A number without a word may be the energy. Numbers of a product, of a day or of a limit are no totals.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from pipeline.intake.model import Basis
from pipeline.intake.spoken.grammar import Talk
from pipeline.intake.spoken.words import STRONG, WEAK, word_set
from pipeline.nutrients import NET_CARBS_TAG

ENERGY, PROTEIN, CARBS, FAT = "ENERC_KCAL", "PROCNT", "CHOCDF", "FAT"
_LABELS = {
    **dict.fromkeys(["calories", "calorie", "cals", "cal", "kcal", "kcals", "kilocalories", "kilocalorie"], ENERGY),
    **dict.fromkeys(["protein", "proteins"], PROTEIN),
    **dict.fromkeys(["carbs", "carb", "carbohydrate", "carbohydrates"], CARBS),
    **dict.fromkeys(["fat", "fats"], FAT),
    **dict.fromkeys(["fibre", "fiber"], "FIBTG"),
    **dict.fromkeys(["sugar", "sugars"], "SUGAR"),
    "saturates": "FASAT",
}  # fmt: skip
_FIRST_WORDS = ("net", "sat", "saturated")
_LETTERS = {"p": PROTEIN, "c": CARBS, "f": FAT}
_GRAMS = word_set("g gram grams gs gr")
_GAP = 9  # words between two items of one passage
_MOST = 32  # items bound at once
_REACH = 16  # words between a statement and what completes it
_FREE = word_set(
    "g gram grams gs of in "
    "the on only about around roughly just like is are are at to up comes sits "
    "out um uh it's that's which a total be works gets coming as was were you and so from for"
)
_BEFORE_BARE = word_set(
    "at is to that's thats "
    "it's its for about around roughly like out comes be only just so on it at "
    "get this total"
)
_PLACES = (
    r"serving|portion|bowl|jar|person|wrap|plate|ball|bar|muffin|slice|piece|pancake|head|tub|"
    r"box|bagel|"
    r"glass|cookie|biscuit|square|cup|pot|cake|burger|scone|bun|roll|wedge|pop|mug|shake|"
    r"smoothie|one|"
    r"go|bite|cracker|taco|pizza|tin|fishcake|patty|kebab|skewer|sandwich|flapjack|brownie"
)
_PER = re.compile(
    rf"\b(?:per (?!100|hundred)[a-z]+|(?:a|each|every|1|in a|one) (?:[a-z]+ )?(?:{_PLACES})|"
    rf"each|apiece|"
    r"for 1|per head|two each)\b"
    rf"|\b(?:each|every) [a-z]+|\bin (?:each|every|a) (?:one|{_PLACES})"
)
_WHOLE = re.compile(
    r"\b(?:whole|entire|full) (?:[a-z]+ )?(?:thing|batch|tray|lot|recipe|pot|tin|pan|dish|loaf|"
    r"cake|skillet|bowl|"
    r"pie|casserole|tub|jug|amount|[a-z]+)\b|\bfor (?:the lot|all of it|the batch|that batch|"
    r"the pot|the pan|the "
    r"tray)\b|\ball of it\b|\bthe lot\b|\b(?:the|that|this) (?:batch|pot|pan|tray|loaf)\b|"
    r"\bbatch\b|"
    r"\baltogether\b|\ball together\b"
)
_PER_100 = re.compile(r"\bper (?:100|hundred) (?:g|grams?|ml)\b")
_OF_ITS_OWN = re.compile(
    r"^(?:[a-z]+ )?(?:a|per|every|in a|each) (?:tablespoon|teaspoon|tbsp|tsp|scoop|gram|day|week)\b"
    r"|^(?:a|per) day\b|^daily\b|^already\b|^so far\b|^from\b|^deficit\b|^left\b|^less\b|"
    r"^more\b|^of (?:burn|cardio)"
)
_DAY = re.compile(r"\b(?:for the day|for today|daily|day total|whole day|day's|my day)\b")
_SUPPOSED = re.compile(
    r"\b(?:would|it'd|they'd|that'd|could|you'd|if you|might|used to|i'd had|adds?|saves?|"
    r"goes (?:up|down)|"
    r"comes down|instead of|not even|not quite)\b[^|]{0,24}$"
)
_SMALL = word_set("is about around the a just of to for get roughly like least my at than")
_OWN_FIGURE = re.compile(r"^(?:ones?|stuff|version|type|kind|packs?|bags?|ish)\b")


@dataclass(slots=True)
class Item:
    """A number or a nutrient word of a passage."""

    start: int
    end: int
    value: float | None = None
    tag: str = ""


@dataclass(slots=True)
class Stated:
    """One number bound to a nutrient."""

    tag: str
    value: float
    start: int
    end: int
    basis: Basis | None = None
    bare: bool = False


@dataclass(slots=True)
class Total:
    """Numbers stated together."""

    start: int
    end: int
    parts: list[Stated] = field(default_factory=list)
    cost: float = 0.0
    corrects: bool = False  # the speaker takes back what was said before

    @property
    def tags(self) -> set[str]:
        """Nutrients stated."""
        return {p.tag for p in self.parts}

    @property
    def complete(self) -> bool:
        """Stands on its own: an energy, or two nutrients."""
        return ENERGY in self.tags or len(self.tags) >= 2


def _goes_into(a: float, b: float) -> bool:
    """The same, or one a whole number of times the other: a batch and its share."""
    ratio = max(a, b) / max(min(a, b), 1.0)
    return ratio < 1.02 or (ratio > 1.5 and abs(ratio - round(ratio)) <= 0.03 * ratio)


@dataclass(slots=True)
class Figure:
    """A number that belongs to a product: "the 60 calorie wraps"."""

    start: int
    end: int
    text: str


class Totals:
    """Finds the statements of a script and the figures of products."""

    def __init__(self, talk: Talk) -> None:
        self.talk = talk
        self.found: list[Total] = []
        self.figures: list[Figure] = []
        self._run()

    # --- items ---------------------------------------------------------------------------------

    def _label(self, at: int) -> tuple[str, int]:
        """Nutrient word at a place, and its end."""
        talk = self.talk
        text = talk.text[at].removesuffix("'s")
        before = "" if talk.words[at].breaks else talk.word(at - 1)
        if text in _LETTERS:
            return (_LETTERS[text], at + 1) if self._letter(at) else ("", at)
        if text == "net" and _LABELS.get(talk.close(at + 1)) == CARBS:
            return NET_CARBS_TAG, at + 2
        if text in ("saturated", "sat") and talk.close(at + 1) in ("fat", "fats"):
            return "FASAT", at + 2
        tag = _LABELS.get(text, "")
        if not tag:
            return "", at
        if before == "no" and talk.words[min(at + 1, talk.n - 1)].breaks and at + 1 < talk.n and (
            talk.words[at + 1].value is not None
        ):  # fmt: skip
            return tag, at + 1  # "almost no carbs, three grams"
        if before in (
            "low",
            "high",
            "full",
            "reduced",
            "no",
            "extra",
            "lower",
            "zero",
            "half",
            "sugar",
        ):
            return "", at
        if any(talk.word(at - back) in ("scoop", "scoops") for back in (1, 2, 3, 4)):
            return "", at
        if before in ("you", "me", "them", "lot", "enough", "less", "more") or (
            before == "of" and talk.word(at - 2) == "lot"
        ):
            return "", at
        if tag in ("SUGAR", "FIBTG", "FASAT"):
            lead = at - 2 if before == "of" else at - 1
            grams = (
                lead > 0 and talk.text[lead] in _GRAMS and talk.words[lead - 1].value is not None
            )
            if not grams and not (before != "of" and at and talk.words[at - 1].value is not None):
                return "", at
        end = at + 1
        if talk.food_length(at) > 1:
            return "", at
        after = talk.close(end)
        names_food = after and talk.words[end].value is None and after not in _LABELS and (
            talk.food_length(end) or after in talk.known.classes["dish"] or after in ("powder", "bar", "free")
        )  # fmt: skip
        if names_food and tag != ENERGY:
            return "", at
        return tag, end

    def _letter(self, at: int) -> bool:
        """ "29P / 28C / 4F": a letter behind a number, and another such pair beside it."""
        talk = self.talk

        def pair(index: int) -> bool:
            return (
                0 < index < talk.n
                and talk.text[index] in _LETTERS
                and talk.words[index - 1].value is not None
            )

        return pair(at) and (pair(at + 2) or pair(at - 2))

    def _number(self, at: int) -> Item | None:
        talk = self.talk
        word = talk.words[at]
        if word.value is None or word.article or talk.close(at + 1) == "percent":
            return None
        if word.share and talk.close(at + 1) not in _GRAMS and talk.close(at + 1) not in _LABELS and (
            talk.close(at + 2) not in _LABELS and talk.word(at - 1) not in _LABELS
        ):  # fmt: skip
            return None
        before = "" if word.breaks else talk.word(at - 1)
        counts = ("number", "meal", "day", "week", "part", "step", "shake", "no", "recipe")
        if before in counts and talk.close(at + 1) not in _LABELS:
            return None
        end = at + 1
        if talk.close(end) in _GRAMS:
            end += 1
        elif talk.close(end) in ("milligrams", "mg", "milligram"):
            return None
        else:
            unit, _ = talk.known.unit_at(talk.words, end)
            if unit is not None and end < talk.n and not talk.words[end].breaks:
                return None
            if talk.close(end) in ("minutes", "minute", "degrees", "hours", "hour", "seconds", "min",
                                   "mins", "dollars", "bucks", "quid", "people", "times"):  # fmt: skip
                return None
        return Item(at, end, word.value)

    def _run(self) -> None:
        talk = self.talk
        labels: dict[int, tuple[str, int]] = {}
        for at, text in enumerate(talk.text):
            if text.removesuffix("'s") in _LABELS or text in _LETTERS or text in _FIRST_WORDS:
                tag, end = self._label(at)
                if tag:
                    labels[at] = (tag, end)
        passage: list[Item] = []
        last = -100
        for at in sorted(labels):
            tag, end = labels[at]
            if at < last:
                continue
            reach = 20 if passage and not self._amount_between(last, at) else _GAP + 5
            near = passage and at - last <= reach
            lower = max(last, 0) if near else max(at - _GAP, last, 0)
            numbers = [n for i in range(lower, at) if (n := self._number(i)) is not None]
            apart = at - last > reach if not numbers else numbers[0].start - last > reach - 5
            if passage and (apart or _DAY.search(talk.said(last, at))):
                self._close(passage)
                passage = []
            passage += [n for n in numbers if n.start >= last]
            passage.append(Item(at, end, None, tag))
            last = end
            following = [
                n for i in range(end, min(end + 5, talk.n)) if (n := self._number(i)) is not None
            ]
            nxt = next((k for k in range(end, min(end + _GAP + 5, talk.n)) if k in labels), None)
            if nxt is None and following and not any(
                talk.words[i].breaks == STRONG for i in range(end, following[0].start)
            ):  # fmt: skip
                passage.append(following[0])
                last = following[0].end
        self._close(passage)
        kept: list[Total] = []
        for at, total in enumerate(self.found):
            beside = [*kept[-1:], *self.found[at + 1 : at + 2]]
            if total.complete or any(
                w.complete and (-_REACH <= total.start - w.end <= 2 * _REACH or 0 <= w.start - total.end <= _REACH)
                for w in beside
            ):  # fmt: skip
                kept.append(total)
        self.found = kept

    def _amount_between(self, start: int, end: int) -> bool:
        """An amount of something stands between: other things were talked of."""
        talk = self.talk
        for at in range(start, end):
            word = talk.words[at]
            if word.value is not None and at + 1 < talk.n and not word.article:
                unit, _ = talk.known.unit_at(talk.words, at + 1)
                if unit is not None and talk.text[at + 1] not in _GRAMS and unit.name not in (
                    "box", "bowl", "portion", "piece", "plate", "slice", "tub", "jar", "glass"
                ):  # fmt: skip
                    return True
                if talk.text[at + 1] in _GRAMS and talk.close(at + 2) == "of" and at + 3 < end and (
                    talk.text[at + 3] not in _LABELS
                ):  # fmt: skip
                    return True
        return False

    # --- binding -------------------------------------------------------------------------------

    def _close(self, passage: list[Item]) -> None:
        """Bind the items of a passage the best way and keep what is a statement."""
        if not passage:
            return
        for chunk in self._chunks(passage):
            self._bind(chunk)

    def _chunks(self, passage: list[Item]) -> list[list[Item]]:
        """Passages of bounded length, so that the time grows with the words alone."""
        out: list[list[Item]] = []
        while len(passage) > _MOST:
            gaps = [passage[i].start - passage[i - 1].end for i in range(_MOST // 2, _MOST)]
            at = _MOST // 2 + gaps.index(max(gaps))
            out.append(passage[:at])
            passage = passage[at:]
        return [*out, passage]

    def _bind(self, items: list[Item]) -> None:
        talk = self.talk
        # (cost, position, parts, pairs in order number-word, word-number)
        beam: list[tuple[float, list[Stated], int, int]] = [(0.0, [], 0, 0)]
        states: list[list[tuple[float, list[Stated], int, int]]] = [
            [] for _ in range(len(items) + 1)
        ]
        states[0] = beam
        for at in range(len(items)):
            states[at].sort(key=lambda s: s[0])
            item = items[at]
            nxt = items[at + 1] if at + 1 < len(items) else None
            for cost, parts, nl, ln in states[at][:48]:
                if item.value is not None:
                    bare = self._bare_cost(item, items, at)
                    if bare is not None:
                        part = Stated(ENERGY, item.value, item.start, item.end, bare=True)
                        states[at + 1].append((cost + bare, [*parts, part], nl, ln))
                    states[at + 1].append((cost + 0.9, parts, nl, ln))
                    if nxt is not None and nxt.value is None:
                        gap = self._gap(item.end, nxt.start, joiners=False)
                        part = Stated(nxt.tag, item.value, item.start, nxt.end)
                        states[at + 2].append(
                            (cost + gap, [*parts, part], nl + (nxt.tag != ENERGY), ln)
                        )
                else:
                    states[at + 1].append((cost + 1.0, parts, nl, ln))
                    if nxt is not None and nxt.value is not None:
                        gap = self._gap(item.end, nxt.start, joiners=True)
                        gap += 0.9 if item.tag == ENERGY else 0.3
                        follow = items[at + 2] if at + 2 < len(items) else None
                        if (
                            follow is not None
                            and follow.value is None
                            and follow.start - nxt.end <= 1
                        ):
                            gap += 1.2 if talk.word(nxt.end) == "of" else 0.05
                        part = Stated(item.tag, nxt.value, item.start, nxt.end)
                        states[at + 2].append(
                            (cost + gap, [*parts, part], nl, ln + (item.tag != ENERGY))
                        )
        best: tuple[float, list[Stated]] | None = None
        for cost, parts, nl, ln in sorted(states[-1], key=lambda s: s[0])[:80]:
            whole = cost + 0.5 * min(nl, ln) + self._misfit(parts)
            if best is None or whole < best[0]:
                best = (whole, parts)
        if best is None:
            return
        parts = [p for p in best[1] if self._is_total(p, best[1])]
        if not any(p.tag in (ENERGY, PROTEIN, CARBS, FAT) for p in parts):
            return
        if parts:
            self._set_bases(parts)
            self.found.append(
                Total(min(p.start for p in parts), max(p.end for p in parts), parts, best[0],
                      self._corrects(items[0].start))
            )  # fmt: skip

    def _corrects(self, at: int) -> bool:
        """Words of correction stand shortly before a passage."""
        talk = self.talk
        words = {talk.text[i] for i in range(max(at - 14, 0), at)}
        return bool(words & (talk.known.classes["correct"] - {"mean", "actually"}))

    def _gap(self, start: int, end: int, *, joiners: bool) -> float:
        """Cost of what stands between a number and its nutrient word."""
        talk = self.talk
        cost = 0.0
        for at in range(start, end):
            text = talk.text[at]
            if joiners and text not in _FREE:
                cost += 1.0
            cost += 0.0 if text in _FREE and text not in ("and", "so", "for") else 0.35
            if text in ("and", "with", "so", "for"):
                cost += 0.3
        for at in range(start, end + 1):
            cost += {0: 0.0, WEAK: 0.5, STRONG: 1.2}[talk.words[at].breaks] if at < talk.n else 0.0
        return cost if not joiners else cost * 0.8

    def _bare_cost(self, item: Item, items: list[Item], at: int) -> float | None:
        """Cost of a number without a word being the energy; None when it cannot be."""
        talk = self.talk
        value = item.value or 0.0
        if value < 40 or value > 20_000 or talk.word(item.end - 1) in _GRAMS:
            return None
        led = talk.word(item.start - 1) in _BEFORE_BARE or talk.words[item.start].breaks == STRONG
        first = at == 0
        if at > 0 and not led and not _PER.match(talk.said(item.end, item.end + 4)):
            return 0.85
        nxt = items[at + 1] if at + 1 < len(items) else None
        far = nxt is not None and nxt.start - item.end > 6
        return 0.3 + (0.0 if led else 0.25) + (0.3 if far else 0.0) + (0.0 if first else 0.1)

    @staticmethod
    def _misfit(parts: list[Stated]) -> float:
        """How far 4 P + 4 C + 9 F is from the energy, and other signs of a wrong binding."""
        last: dict[str, float] = {}
        repeats = 0
        energies = [p.value for p in parts if p.tag == ENERGY]
        named = [p.value for p in parts if p.tag == ENERGY and not p.bare]
        bare = [p.value for p in parts if p.bare]
        if bare and len(bare) == len(parts):
            return 50.0
        cost = 0.0
        for value in bare:
            if any(not _goes_into(value, other) for other in named):
                cost += 1.5
        cost += 0.8 * max(len(bare) - 1, 0)
        for part in parts:
            repeats += part.tag in last and part.tag != ENERGY
            last[part.tag] = part.value
        cost += 0.35 * repeats
        if {PROTEIN, CARBS, FAT} <= set(last):
            sum_ = 4 * last[PROTEIN] + 4 * last[CARBS] + 9 * last[FAT]
            if energies:
                off = min(abs(e - sum_) / max(e, 1.0) for e in energies)
                cost += 2.5 * min(off, 1.0)
            else:
                cost += 1.0
        elif energies and PROTEIN in last:
            most = max(energies)
            if 4 * last[PROTEIN] > 1.15 * most:
                cost += 1.0
        elif not energies:
            cost += 0.6
        return cost

    # --- what is no total ----------------------------------------------------------------------

    def _is_total(self, part: Stated, parts: list[Stated]) -> bool:
        talk = self.talk
        if part.value <= 0 and part.tag == ENERGY:
            return False
        before = talk.lead(part.start, 5)
        lead = before.split("|")[-1].replace(",", "").split()[-3:]
        limits = talk.known.classes["limit"]
        alone = len({p.tag for p in parts}) <= 1
        bound = bool(lead) and (
            lead[-1] in limits or (lead[-1] in _SMALL and any(w in limits for w in lead[:-1]))
        )
        if bound and lead[-1] != "at":
            return False
        if part.tag == ENERGY and not part.bare:
            after = talk.said(part.end, part.end + 4)
            points = lead and lead[-1] in ("the", "those", "these", "of")
            noun = part.end < talk.n and not talk.words[part.end].breaks and (
                talk.food_length(part.end) > 0 or _OWN_FIGURE.match(after)
            )  # fmt: skip
            if noun or (points and alone and re.match(r"^[a-z]+\b", after)):
                self._figure(part)
                return False
            if alone and part.value < 80 and re.search(r"\bwhich (?:is|are|has)[a-z ]*$", before):
                self._figure(part)
                return False
            if _OF_ITS_OWN.match(after):
                if alone:
                    self._figure(part)
                return False
        if alone and part.tag != ENERGY and re.match(
            r"^(?:a|per|every) (?:scoop|day|serving of)", talk.said(part.end, part.end + 3)
        ):  # fmt: skip
            return False
        if _DAY.search(talk.said(min(p.start for p in parts) - 12, part.start)):
            return False
        lead5 = talk.lead(part.start, 5)
        return _SUPPOSED.search(lead5) is None and not lead5.endswith(" not")

    def _figure(self, part: Stated) -> None:
        if part.value > 0:
            self.figures.append(Figure(part.start, part.end, f"{part.value:g} calorie"))

    def _set_bases(self, parts: list[Stated]) -> None:
        talk = self.talk
        inherited: Basis | None = None
        ordered = sorted(parts, key=lambda p: p.start)
        for at, part in enumerate(ordered):
            nxt = ordered[at + 1].start if at + 1 < len(ordered) else part.end + 7
            prev = ordered[at - 1].end if at else part.start - 8
            before = self._clause(max(prev, part.start - 9), part.start)
            after = talk.said(part.end, min(nxt, part.end + 7)).split(" | ")[0]
            around = f"{before} {after}"
            if _PER_100.search(around):
                inherited = "per_100g"
            elif _PER.search(re.split(r"\b(?:and|so|which|with|but)\b", after)[0]) or (
                _PER.search(before) and not _WHOLE.search(after)
            ):
                inherited = "per_serving"
            elif _WHOLE.search(around):
                inherited = "per_recipe"
            part.basis = inherited
        said = [p.basis for p in ordered if p.basis is not None]
        for part in ordered:
            if part.basis is None and said and len({*said}) == 1:
                part.basis = said[0]

    def _clause(self, start: int, end: int) -> str:
        """Words before a number back to the last full stop."""
        return self.talk.said(start, end).split("| ")[-1]


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


def _fitting(energies: list[Stated], parts: list[Stated]) -> Stated:
    """The last energy said, unless only an earlier one fits protein, carbohydrate and fat."""
    grams = {p.tag: p.value for p in parts}
    if not {PROTEIN, CARBS, FAT} <= set(grams):
        return energies[-1]
    sum_ = 4 * grams[PROTEIN] + 4 * grams[CARBS] + 9 * grams[FAT]
    off = [abs(e.value - sum_) / max(e.value, 1.0) for e in energies]
    best = min(range(len(off)), key=off.__getitem__)
    return energies[best] if off[best] < 0.12 and off[-1] > 0.3 else energies[-1]
