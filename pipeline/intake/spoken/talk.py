"""The words of a script, and what is asked of a word where it stands."""

from __future__ import annotations

import bisect

from pipeline.intake.spoken.captions import Piece
from pipeline.intake.spoken.composition import Composition
from pipeline.intake.spoken.lexicon import Phrase, Unit, lexicon
from pipeline.intake.spoken.phrases import phrases, word_class
from pipeline.intake.spoken.words import STRONG, Span, Word, words_of

_NAME = 7  # words of a food's name


class Talk:
    """The words of a script and what is known of them.

    Attributes:
        words: with ``text``, their texts, and ``folded``, the texts as the names tables have them.
        known: foods, units and the words of preparation.
        composition: energy and macros of foods.
        small: words that end a name.
        flow: the words as one text, breaks as ``|`` and ``,``.
        common_servings: what the script says of all its recipes.
        turns: where dishes begin that were told in turns: their names.
        dishes: titles of the script, once it is cut.
        weighs_in_grams: somebody who says so of some foods may mean it of others.
    """

    def __init__(self, words: list[Word]) -> None:
        self.words = words
        self.known = lexicon()
        self.composition = Composition.of_the_table_in_force()
        self.n = len(words)
        self.text = [w.text for w in words]
        self.folded = [self.known.fold(w.text) if w.value is None else "" for w in words]
        self.small = frozenset().union(
            *map(word_class, ("function", "filler", "adverb", "negative"))
        )
        self._starts: list[int] = []
        parts: list[str] = []
        length = 0
        for word in words:
            mark = "| " if word.breaks == STRONG else ", " if word.breaks else ""
            said = word.text if word.value is None else "a" if word.article else f"{word.value:g}"
            self._starts.append(length + len(mark))
            parts.append(f"{mark}{said} ")
            length += len(parts[-1])
        self.flow = "".join(parts)
        self.common_servings = float("nan")
        self.turns: dict[int, Span] = {}
        self.dishes: set[Phrase] = set()
        grams = {text for text, unit in self.known.units.items() if unit.name == "g"}
        self.weighs_in_grams = any(
            (w.value or 0.0) >= 5 and (after,) in grams
            for w, after in zip(words, self.text[1:], strict=False)
        )
        self._lengths = [-1] * self.n

    @classmethod
    def of(cls, spoken: list[Piece]) -> Talk:
        """That of the pieces of a file."""
        return cls(lexicon().without_fillers(words_of(spoken)))

    # --- places --------------------------------------------------------------------------------

    def at(self, offset: int) -> int:
        """Index of the word at a character of ``flow``."""
        return max(bisect.bisect_right(self._starts, offset) - 1, 0)

    def from_offset(self, offset: int) -> int:
        """Index of the first word that begins at or behind a character of ``flow``."""
        return bisect.bisect_left(self._starts, offset)

    def begins(self, at: int) -> int:
        """Character of ``flow`` at which word ``at`` begins."""
        return self._starts[at] if at < self.n else len(self.flow)

    def said(self, start: int, end: int) -> str:
        """Words from ``start`` to ``end``, with their breaks as ``|`` and ``,``."""
        start, end = max(start, 0), min(end, self.n)
        if start >= end:
            return ""
        return self.flow[self._starts[start] : self.begins(end)].rstrip(" ,|")

    def lead(self, at: int, words: int) -> str:
        """Words before a place, with a mark of the break that parts them from it."""
        said = self.said(at - words, at)
        if not 0 < at < self.n or not self.words[at].breaks:
            return said
        return said + (" |" if self.stops(at) else " ,")

    def sentence(self, at: int, words: int) -> str:
        """Words before a place, back to the full stop before it at most."""
        start = at
        while start > 0 and at - start < words and not self.stops(start):
            start -= 1
        return self.said(start, at)

    def follows(self, name: str, at: int, words: int = 4) -> bool:
        """Phrases of a name stand at a place, in so many words."""
        return phrases(name).match(self.said(at, at + words)) is not None

    # --- a word --------------------------------------------------------------------------------

    def word(self, at: int) -> str:
        """Text of a word, "" outside the script."""
        return self.text[at] if 0 <= at < self.n else ""

    def joined(self, at: int) -> str:
        """Text of a word that no full stop parts from the one before."""
        return "" if at >= self.n or self.stops(at) else self.text[at]

    def close(self, at: int) -> str:
        """Text of a word that nothing parts from the one before."""
        return "" if at >= self.n or self.words[at].breaks else self.text[at]

    def stops(self, at: int) -> bool:
        """A full stop stands before a word."""
        return self.words[at].breaks == STRONG

    def stopped(self, start: int, end: int) -> bool:
        """A full stop stands before one of the words of a stretch."""
        return any(word.breaks == STRONG for word in self.words[start:end])

    def counts(self, at: int) -> bool:
        """A number stands at a place, and not only an article."""
        return at < self.n and self.words[at].value is not None and not self.words[at].article

    def is_number(self, at: int) -> bool:
        """A number or an article stands at a place."""
        return 0 <= at < self.n and self.words[at].value is not None

    def number(self, at: int) -> float:
        """The number at a place; 0 where none stands."""
        return self.words[at].value or 0.0

    def unit_at(self, at: int) -> tuple[Unit | None, int]:
        """The unit that begins at a word, and how many words it takes."""
        return self.known.unit_at(self.words, at)

    def plain(self, at: int) -> bool:
        """A word that is neither food, number nor unit, puts no food in and denies nothing."""
        text = self.text[at]
        if text in word_class("goes_on") or text in word_class("negative"):
            return False
        unit, _ = self.unit_at(at)
        return unit is None and self.words[at].value is None and not self.food_length(at)

    def tells(self, at: int) -> bool:
        """A word that tells dishes apart: a food, or a name of no table."""
        text = self.text[at]
        if text in self.small or text in word_class("talk") or self.words[at].value is not None:
            return False
        thing = self.close(at) and self.word(at - 1) in word_class("names_a_thing")
        verb = text in self.known.verbs and not (thing and text in word_class("dish"))
        return text not in word_class("container") and not verb

    def boundary(self, at: int) -> bool:
        """A name cannot go on at a word."""
        if at >= self.n or self.words[at].breaks or self.words[at].value is not None:
            return True
        return self.text[at] in self.small or self.text[at] in self.known.verbs

    # --- foods ---------------------------------------------------------------------------------

    def food_length(self, at: int) -> int:
        """Words of the food name that begins at ``at``, breaks and numbers heeded."""
        if self._lengths[at] < 0:
            self._lengths[at] = self._food_length(at)
        return self._lengths[at]

    def _food_length(self, at: int) -> int:
        word, end = self.folded[at], at + 1
        if self.words[at].value is not None or (word not in self.known.foods and "-" not in word):
            return 0
        while self.close(end) and end < at + _NAME and self.words[end].value is None:
            end += 1
        length = self.known.food_at(self.folded, at, end)
        if length == 1 and (self.text[at] in self.small or self._is_done(at)):
            return 0
        end = at + length
        if length > 1 and self.text[end - 1] in word_class("part_of_food") and (
            self.close(end) == "of"
        ):  # fmt: skip
            return self.known.food_at(self.folded, at, end - 1)  # "pineapple, juice of a lime"
        return length

    def _is_done(self, at: int) -> bool:
        """ "you water them one night": what is done to a thing, whatever else the word names."""
        done = self.close(at + 1) in ("it", "them") and self.close(at)
        return bool(done) and self.text[at - 1] in word_class("does")

    def food_near(self, at: int) -> bool:
        """A known food begins at a word or shortly after it."""
        for index in range(at, min(at + 4, self.n)):
            text = self.text[index]
            if (self.stops(index) and index > at) or self.words[index].value is not None:
                return False
            if self.known.food_at(self.folded, index, self.n):
                return True
            if text in self.small and text not in word_class("before_foods"):
                return False
        return False

    def stands_for(self, at: int) -> int:
        """End of what stands for a food named before, "of them", "of the small ones"; ``at`` where
        nothing does."""
        inner = self.close(at + 1) if self.close(at) == "of" else ""
        if inner in word_class("of_them") - {"these"}:
            return at + 2
        if inner in word_class("pointing") | {"these"}:
            for end in range(at + 2, at + 5):
                if self.close(end) in ("one", "ones"):
                    return end + 1
                if self.boundary(end):
                    break
        return at
