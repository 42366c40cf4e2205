"""First pass: stated totals, "that comes to 430 calories, 31 of protein"."""

from __future__ import annotations

import re

from pipeline.intake.spoken.talk import Talk, Total
from pipeline.intake.spoken.vocabulary import (
    AFTER_TOTAL_NO,
    CAPPED,
    LETTERS,
    NOT_ITS_FOOD,
    NUTRIENT_WORDS,
    OPENS_TOTAL,
    PER_100,
    PER_SERVING,
    PER_UNIT,
    REACH,
    SAID_BETWEEN,
    WHOLE,
)
from pipeline.intake.spoken.words import STRONG, Word
from pipeline.nutrients import NET_CARBS_TAG


class TotalsPass(Talk):
    """Finds the numbers a script states for its recipes."""

    def _totals(self) -> list[Total]:
        found: list[tuple[str, float, float, int, int]] = []
        at = 0
        while at < len(self.words):
            pair = self._pair(at)
            if pair is None:
                at += 1
                continue
            found.append(pair)
            at = pair[4]
        blocks: list[Total] = []
        for pair in found:
            last = blocks[-1] if blocks else None
            near = last is not None and pair[3] - last.end <= REACH
            if last is None or not near or any(a[0] == pair[0] for a in last.amounts):
                blocks.append(Total(pair[3], pair[4], [pair]))
            else:
                last.amounts.append(pair)
                last.end = pair[4]
        kept = [b for b in blocks if self._is_statement(b)]
        for block in kept:
            self._find_bare_energy(block)
            for index in range(block.start, block.end):
                self.taken[index] = True
            self._set_basis(block)
        return kept

    def _pair(self, at: int) -> tuple[str, float, float, int, int] | None:
        """A number with the nutrient it is of, beginning at ``at``; tag, value, step, start, end."""
        word = self.words[at]
        if word.value is not None and not word.article:
            end = at + 1
            if self._text(end) in ("g", "gram", "grams", "gs", "milligrams", "mg"):
                end += 1
            if self._text(end) in ("of", "total"):
                end += 1
            tag, stop = self._nutrient(end)
            if (
                tag and self.words[end].breaks
            ):  # "protein 38, carbs 45": the number is not the carbs'
                return None
            if tag and not self._is_food(stop) and not self._is_food_phrase(end, stop):
                return tag, word.value, self._step(word), at, stop
            return None
        tag, stop = self._nutrient(at)
        if not tag or (
            self.words[at].breaks == 0 and self._text(at - 1) in ("low", "high", "full", "reduced")
        ):
            return None
        end = stop
        while end < len(self.words) and end - stop < 5 and self.words[end].text in SAID_BETWEEN:
            if self.words[end].breaks == STRONG:
                return None
            end += 1
        if end >= len(self.words) or self.words[end].value is None or self.words[end].article:
            return None
        if self.words[end].breaks == STRONG:
            return None
        number = self.words[end]
        after = end + 1
        if self._text(after) in ("g", "gram", "grams"):
            after += 1
        of = after + 1 if self._text(after) == "of" else after
        if of > after or (self._nutrient(of)[0] == "ENERC_KCAL" and not self.words[of].breaks):
            return None  # "protein 430 calories": that number is the energy's
        if self.known.unit_at(self.words, end + 1)[0] is not None and after == end + 1:
            return None
        return tag, number.value or 0.0, self._step(number), at, after

    @staticmethod
    def _step(word: Word) -> float:
        return 1.0 if word.value is None or word.value.is_integer() else 0.1

    def _nutrient(self, at: int) -> tuple[str, int]:
        text, following = self._text(at), self._text(at + 1)
        if text in LETTERS and self._is_letter(at):
            return LETTERS[text], at + 1
        if text == "net" and following in ("carbs", "carb", "carbohydrate", "carbohydrates"):
            return NET_CARBS_TAG, at + 2
        if text in ("saturated", "sat") and following in ("fat", "fats"):
            return "FASAT", at + 2
        tag = NUTRIENT_WORDS.get(text, "")
        return (tag, at + 1) if tag else ("", at)

    def _is_letter(self, at: int) -> bool:
        """ "29P / 28C / 4F": a letter behind a number, and another such pair beside it."""

        def pair(index: int) -> bool:
            return (
                index > 0
                and index < len(self.words)
                and self.words[index].text in LETTERS
                and self.words[index - 1].value is not None
            )

        return pair(at) and (pair(at + 2) or pair(at - 2))

    def _is_food(self, after: int) -> bool:
        """The nutrient word is part of a food: "30 grams of protein powder", "fat free yogurt"."""
        following = self.words[after] if after < len(self.words) else None
        if following is None or following.breaks or following.value is not None:
            return False
        return following.text in NOT_ITS_FOOD

    def _is_food_phrase(self, start: int, stop: int) -> bool:
        return self.known.food_at(self.words, start) > stop - start

    def _is_statement(self, block: Total) -> bool:
        """False for limits, goals and the numbers of a single food."""
        before = [self._text(i) for i in range(max(block.start - 4, 0), block.start)]
        capped = [w for w in before if w in CAPPED]
        if capped and not ("just" in before and capped == [before[-1]]):
            return False
        after = self.said(block.end, min(block.end + 4, len(self.words))).replace(", ", "")
        if AFTER_TOTAL_NO.match(after):
            return False
        if PER_UNIT.match(after) and len(block.amounts) == 1:
            return False
        tags = {a[0] for a in block.amounts}
        return "ENERC_KCAL" in tags or len(tags) >= 2

    def _find_bare_energy(self, block: Total) -> None:
        """ "at 480 each, nineteen protein": the number that opens the statement is the energy."""
        if any(a[0] == "ENERC_KCAL" for a in block.amounts) or len(block.amounts) < 2:
            return
        for at in range(block.start - 1, max(block.start - 6, 0), -1):
            word = self.words[at]
            if word.value is None or word.article:
                continue
            plausible = 50 <= word.value <= 5000 and not self.taken[at]
            led = self._text(at - 1) in OPENS_TOTAL
            follows = self.said(at + 1, block.start)
            if (
                plausible
                and led
                and re.fullmatch(r"(?:, |\| )?(?:each|a [a-z]+|per [a-z]+|with|,| )*", follows)
            ):
                block.amounts.insert(0, ("ENERC_KCAL", word.value, 1.0, at, at + 1))
                block.start = at
            return

    def _set_basis(self, block: Total) -> None:
        around = self.said(max(block.start - 8, 0), min(block.end + 6, len(self.words)))
        if PER_100.search(around):
            block.basis = "per_100g"
        elif WHOLE.search(around) and not re.search(r"\b(?:per|each) ", around):
            block.basis = "per_recipe"
        elif PER_SERVING.search(
            self.said(max(block.start - 4, 0), min(block.end + 4, len(self.words)))
        ):
            block.of_several = True
        lead = self.said(max(block.start - 8, 0), block.start)
        block.brings = (
            re.search(r"\b(?:brings?|bringing|takes|taking|now (?:we're|it's|its))\b", lead)
            is not None
        )
