"""Second pass: where recipes begin, what they are called, how many they serve."""

from __future__ import annotations

import bisect
import math
import re
from itertools import pairwise

from pipeline.intake.spoken.talk import Segment, Total
from pipeline.intake.spoken.totals import TotalsPass
from pipeline.intake.spoken.vocabulary import (
    ALL_SAME,
    BASE_DEFINED,
    BASE_SAME,
    DISH_VERBS,
    KIND_WORD,
    NUMBERED_CUE,
    NUMBERS,
    SERVINGS,
    STRONG_CUE,
    TITLE_SKIP,
    TITLE_STOP,
    VERBS,
    WEAK_CUE,
)
from pipeline.intake.spoken.words import STRONG, singular


class StartsPass(TotalsPass):
    """Finds where recipes begin, their titles and their servings."""

    def _segments(self, totals: list[Total]) -> list[Segment]:
        starts = self._cues(totals)
        starts = self._with_unannounced(starts, totals)
        if not starts or starts[0].start > 0:
            first_end = starts[0].start if starts else len(self.words)
            told = any(t.start < first_end for t in totals) and self._amounts_between(0, first_end)
            base = BASE_DEFINED.search(self.said(0, first_end)) is not None and bool(starts)
            if self._measured_between(0, first_end) >= 2 or told or base or not starts:
                title, body = ("", 0)
                starts.insert(0, Segment(0, 0, "Base" if base else title, body, is_base=base))
        for here, following in zip(starts, [*starts[1:], None], strict=True):
            here.end = following.start if following is not None else len(self.words)
        return starts

    def _cues(self, totals: list[Total]) -> list[Segment]:
        cues = [
            (m.start(), m.end(), True, m["meal"] or m["weekday"] or "")
            for m in STRONG_CUE.finditer(self.flow)
        ]
        cues += [(m.start(), m.end(), False, "") for m in WEAK_CUE.finditer(self.flow)]
        starts: list[Segment] = []
        for begin, finish, strong, meal in sorted(cues):
            start = self.at(begin)
            after = bisect.bisect_left(self._starts, finish)
            if self.taken[start]:
                continue
            last = starts[-1] if starts else None
            title, body = self._title(after)
            amounts = self._amounts_between(last.body if last else 0, start)
            has_total = any((last.start if last else 0) <= t.start < start for t in totals)
            if (
                self._text(start - 1) in ("as", "like", "than", "of")
                and not self.words[start].breaks
            ):
                continue  # "the same as the last one"
            numbered = NUMBERED_CUE.match(self.flow[begin:finish]) is not None
            complete = last is None or (amounts and has_total)
            numbered = numbered or (
                strong and bool(complete) and not self._total_soon(after, totals)
            )
            if meal and not title and not self._total_soon(after, totals):
                title, body = meal.capitalize(), after
            if not title and not numbered:
                continue
            if not strong and (not title or (last is not None and amounts and not has_total)):
                continue
            if not strong and not self._names_a_dish(title):
                continue
            if strong and not numbered and not meal and last is not None and amounts and not has_total and (
                self._text(start) in ("first", "next", "the", "finally", "lastly", "and")
                and not self._names_a_dish(title)
            ):  # fmt: skip
                continue
            if last is not None and not amounts and not any(
                last.start <= t.start < start for t in totals
            ):  # fmt: skip
                if title:
                    last.title, last.body = title, body  # said again, closer to the recipe
                elif numbered:
                    last.body = max(last.body, after)
                continue
            starts.append(Segment(start, 0, title, body if title else after))
        return starts

    @staticmethod
    def _total_soon(at: int, totals: list[Total]) -> bool:
        return any(at <= t.start <= at + 4 for t in totals)

    def _names_a_dish(self, title: str) -> bool:
        return any(singular(w) in self.known.vocabulary for w in title.lower().split())

    def _title(self, at: int) -> tuple[str, int]:
        """Title that begins at ``at`` and the index of the word after it; "" when none does."""
        index, skipped = at, 0
        words = self.words
        while index < len(words) and skipped < 10:
            word = words[index]
            if word.breaks == STRONG and skipped and word.text not in TITLE_SKIP:
                break
            kind = KIND_WORD.match(word.text) and self._text(index + 1) in ("is", "its", "it's")
            if (word.text in TITLE_SKIP and word.value is None) or word.article or kind:
                index += 1
                skipped += 1
                continue
            break
        said: list[str] = []
        end = index
        while end < len(words) and len(said) < 9:
            word = words[end]
            if word.breaks == STRONG and said:
                break
            if word.breaks and said and word.text in VERBS:
                break
            if word.text in TITLE_STOP or (word.value is not None and not word.article):
                break
            if word.text == "for" and self._text(end + 1) in (
                "this",
                "that",
                "it",
                "the",
                "which",
                "two",
                "four",
            ):
                break
            dish_verb = word.text in DISH_VERBS or (
                word.text == "stir" and self._text(end + 1) in ("fry", "fried")
            )
            if word.text in ("in", "to", "on") or (word.text in VERBS and not dish_verb):
                break
            if word.breaks and said:
                break
            said.append("a" if word.article else word.text)
            end += 1
        while said and said[-1] in ("and", "with", "for", "a", "the", "of", "or", "by"):
            said.pop()
            end -= 1
        title = " ".join(said)
        if (
            not title
            or said[0] in (VERBS - {"slice"}) | {"same", "exactly"}
            or self._section_word(title)
        ):
            return "", at
        audience = "for" in {self._text(i) for i in range(at, index)}
        if audience and self._text(end) in ("it's", "its"):  # "for my vegetarians it's a traybake"
            return self._title(end)
        return title[:1].upper() + title[1:], end

    @staticmethod
    def _section_word(title: str) -> bool:
        return re.fullmatch(r"(?:base|sauce|dressing|topping|marinade|filling|dry ingredients|wet ingredients)s?",
                            title) is not None  # fmt: skip

    def _amounts_between(self, start: int, end: int) -> int:
        return sum(
            1
            for at in range(start, min(end, len(self.words)))
            if self.words[at].value is not None
            and not self.taken[at]
            and (self.known.unit_at(self.words, at + 1)[0] is not None
                 or self.known.food_at(self.words, at + 1) > 0)
        )  # fmt: skip

    def _measured_between(self, start: int, end: int) -> int:
        units = (
            self.known.unit_at(self.words, at + 1)[0]
            for at in range(start, min(end, len(self.words)))
            if self.words[at].value is not None and not self.taken[at]
        )
        return sum(1 for u in units if u is not None and u.kind in ("mass", "volume", "package"))

    def _with_unannounced(self, starts: list[Segment], totals: list[Total]) -> list[Segment]:
        """A recipe that begins without a cue: new ingredients after a total, then another total."""
        out = list(starts)
        for here, following in pairwise(totals):
            between = [s for s in out if here.start < s.start <= following.start]
            said = self.said(here.end, following.start)
            enough = 1 if BASE_SAME.search(said) or ALL_SAME.search(said) else 2
            if (
                between
                or following.brings
                or self._amounts_between(here.end, following.start) < enough
            ):
                continue
            first = next(
                (i for i in range(here.end, following.start)
                 if self.words[i].value is not None and not self.taken[i]), following.start
            )  # fmt: skip
            title, body = "", here.end
            for at in range(here.end, first):
                if self.words[at].breaks == STRONG:
                    title, body = self._title(at)
                    if title and self._names_a_dish(title):
                        break
                    title, body = "", here.end
            out.append(Segment(here.end, 0, title, body))
        return sorted(out, key=lambda s: s.start)

    def _servings(self, segment: Segment) -> tuple[float, str]:
        said = self.said(segment.start, segment.end)
        for pattern in SERVINGS:
            match = pattern.search(said)
            if match is None:
                continue
            groups = match.groupdict()
            if groups.get("one"):
                return 1.0, "serving"
            told = groups["n"]
            value = NUMBERS.get(told) or (float(told) if told.isdigit() else math.nan)
            word = groups.get("w") or "servings"
            first = self.at(self._starts[segment.start] + match.start("n"))
            self._take(first, first + 1)  # "makes six muffins" is no ingredient
            if value and value > 0:
                return value, "servings" if word in (
                    "people",
                    "of us",
                    "person",
                    "persons",
                ) else word
        return math.nan, ""
