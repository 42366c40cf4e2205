"""What is said once and meant again: a shared base, "the same as before", swaps and leavings-out."""

from __future__ import annotations

import re
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass, replace

from pipeline.foods.words import singular
from pipeline.intake.spoken.composition import Composition, misfit
from pipeline.intake.spoken.grammar import Mention, Talk
from pipeline.intake.spoken.lines import Lines, Reading, named_again
from pipeline.intake.spoken.phrases import phrases, word_class
from pipeline.intake.spoken.segments import Segment
from pipeline.intake.spoken.servings import servings_of
from pipeline.intake.spoken.tiling import Chunk
from pipeline.intake.spoken.totals import ENERGY, said_last
from pipeline.intake.spoken.written import written

_BACK = 20  # recipes that a speaker refers back over
import os
DBG = os.environ.get('DBG')
_DOUBT = 1.0  # what numbers have to say against the lines that words point to
_SURE = 1.0  # and for lines that only some word points to
_FACTOR = 1.7  # by which the energy of a changed recipe differs from the earlier one at most


@dataclass(slots=True)
class _Earlier:
    """A recipe read: its title in small letters, lines, and the energy stated of it."""

    title: str
    found: list[Mention]
    energy: float | None


def _energy(segment: Segment) -> float | None:
    """The energy stated last."""
    said = [p.value for p in said_last(segment.totals) if p.tag == ENERGY]
    return said[-1] if said else None


def _near(one: float | None, other: float | None) -> bool:
    """Two energies that a change of some foods may lie between; unknown ones may be."""
    return not one or not other or max(one, other) <= _FACTOR * min(one, other)


class References:
    """Remembers what was said, and gives later recipes their share of it."""

    def __init__(self, talk: Talk, lines: Lines, composition: Composition) -> None:
        self.talk = talk
        self.composition = composition
        self.lines = lines
        self._base: list[Mention] = []
        self._noun = ""
        self._portions = 1.0
        self._before: list[_Earlier] = []
        self._spans: list[tuple[int, int, str]] = []
        self._from: int | None = None

    @property
    def recipes_read(self) -> int:
        """How many recipes were read."""
        return len(self._before)

    def base(self, segment: Segment) -> Reading:
        """Read a base; it is remembered."""
        reading = self.lines.read(segment, [], segment.end)
        self._base = reading.found
        self._noun = segment.place.base
        servings, _ = servings_of(self.talk, segment, reading)
        self._portions = servings if servings == servings and servings > 1 else 1.0
        return reading

    def recipe(self, segment: Segment, tail: int) -> Reading:
        """Read a recipe with what it takes from before."""
        talk = self.talk
        stop = min((t.end for t in segment.totals if t.complete), default=segment.end)
        if stop - segment.start < 12:
            stop = segment.end
        said = talk.said(segment.start, min(segment.end, max(stop, segment.start)))
        self._from = None
        inherited = self._taken(segment, said)
        found, spans = self._from, self._spans
        reading, cost = self._read(segment, inherited, said, tail)
        for place in self._others(segment, said, bool(inherited)):
            self._spans = []
            other = self._recipe(place) if place is not None else []
            again, less = self._read(segment, other, said, tail)
            if DBG: print(segment.title, "|", place, round(cost, 2), round(less, 2), [x.title for x in self._before])
            if less < cost - (_DOUBT if inherited else _SURE):
                reading, cost, found = again, less, place
                spans = self._spans
        reading.taken_from = found
        reading.marks += [("reference", start, end, None, why) for start, end, why in spans]
        self._spans = []
        self._before.append(_Earlier(segment.title.lower(), reading.found, _energy(segment)))
        return reading

    def _others(self, segment: Segment, said: str, taken: bool) -> list[int | None]:
        """Other recipes before, or none, whose lines may make the stated numbers plausible."""
        if not any(t.complete for t in segment.totals):
            return []
        alike = (place for place, _ in self._alike(segment, said))
        return [*([None] if taken else []), *alike]

    def _read(
        self, segment: Segment, inherited: list[Mention], said: str, tail: int
    ) -> tuple[Reading, float]:
        """A recipe read with some lines taken over, and what its numbers say against that."""
        segment = replace(segment, chunks=deepcopy(segment.chunks))
        used = set(self.lines.used)
        if inherited:
            share = self._share(said) if inherited is self._base else 1.0
            inherited = [
                replace(self._copy(m), share=m.share * share, from_base=m.from_base or inherited is self._base)
                for m in inherited if m.amount is not None
            ]  # fmt: skip
            inherited = self._changes(segment, said, inherited)
        reading = self.lines.read(segment, inherited, tail, self._again)
        self.lines.used = used
        stated = {p.tag: p.value for p in said_last(segment.totals)}
        counts = [
            w.value or 0.0 for at, w in enumerate(self.talk.words[segment.start : segment.end])
            if self.talk.counts(segment.start + at) and 2 <= (w.value or 0.0) <= 36
        ]  # fmt: skip
        lines = self.composition.total([written(m, 1.0) for m in reading.found])
        return reading, min(misfit(lines, stated, n) for n in {1.0, *counts})

    # --- whole sets ----------------------------------------------------------------------------

    def _taken(self, segment: Segment, said: str) -> list[Mention]:
        """The lines a recipe takes over: of the base, or of an earlier recipe."""
        deal = phrases("same_deal").search(said)
        if deal and self._before:
            self._point(segment, deal, f"the lines of {self._before[-1].title or 'the one before'}")
            return self._recipe(-1)
        base = self._base_used(segment, said)
        if base:
            return base
        return self._same_as(segment, said) or self._varied(segment, said)

    def _varied(self, segment: Segment, said: str) -> list[Mention]:
        """An earlier recipe that this one is a change of: few foods of its own, near numbers."""
        own = sum(c.kind == "both" for c in segment.chunks)
        for place, found in self._alike(segment, said):
            earlier = self._before[place]
            few = own <= max(2, len(earlier.found) // 2) < len(earlier.found)
            if few and _near(_energy(segment), earlier.energy):
                self._point(segment, found, f"the lines of {earlier.title or 'the one before'}")
                return self._recipe(place)
        return []

    def _alike(self, segment: Segment, said: str) -> Iterator[tuple[int, re.Match[str]]]:
        """Earlier recipes that this one may be a change of, the last first, and what says so.

        Evidence: words that point back, or the dish named again beside words of change. Without a
        name the one before is meant.
        """
        first = min([c.start for c in segment.chunks if c.kind == "both"], default=segment.end)
        named = {singular(w) for w in self.talk.text[segment.start : first]}
        all_points = phrases("points_back").finditer(said)
        points = next((m for m in all_points if not self._of_one_food(segment, m)), None)
        change = points or phrases("changes").search(said)
        for back, earlier in enumerate(reversed(self._before[-_BACK:])):
            kinds = {singular(w) for w in earlier.title.split()} - word_class("function")
            kinds -= {singular(w) for w in word_class("meals") | word_class("talk")}
            kinds -= {singular(w) for m in earlier.found for w in m.food.name}
            found = change if kinds & named else points if back == 0 else None
            if found:
                yield len(self._before) - 1 - back, found

    def _of_one_food(self, segment: Segment, match: re.Match[str]) -> bool:
        """ "same rice", "the rice and beans again": a line is meant, not a recipe."""
        start, end = self._index(segment, match.start()), self._index(segment, match.end())
        lines = [m.food for earlier in self._before[-_BACK:] for m in earlier.found]
        return any(
            (c.start == end or c.of.food.end == start)
            and any(named_again(c.of.food, f) for f in lines)
            for c in segment.chunks
            if c.kind != "amount"
        )

    def _point(self, segment: Segment, match: re.Match[str], why: str) -> None:
        """Remember which words pointed back, for the marks."""
        start, end = self._index(segment, match.start()), self._index(segment, match.end())
        while start < end and not re.match(r"[a-z0-9]", self.talk.text[start]):
            start += 1
        self._spans.append((start, max(end, start + 1), why))

    def _base_used(self, segment: Segment, said: str) -> list[Mention]:
        if not self._base:
            return []
        noun = self._noun
        used = phrases("base_used", noun=noun).search(said)
        refused = phrases("base_refused", noun=noun).search(said)
        if used is None or refused:
            return []
        self._point(segment, used, f"the lines of the {noun}")
        return self._base

    def _share(self, said: str) -> float:
        """How much of a base that was made for several a recipe takes."""
        part = phrases("base_share", noun=self._noun).search(said)
        return float(part["n"]) if part else 1.0 / self._portions

    def _same_as(self, segment: Segment, said: str) -> list[Mention]:
        if not self._before:
            return []
        for match in phrases("same_as").finditer(said):
            what = match["what"].strip()
            explicit = "same as" in match[0]
            if phrases("same_as_one_before").fullmatch(what):
                self._point(segment, match, "the lines of that recipe")
                return self._recipe(0 if what.startswith("first") else -1)
            number = re.search(r"\b[a-z]+ (\d{1,2})$", what)
            if explicit and number and int(number[1]) <= len(self._before):
                self._point(segment, match, "the lines of that recipe")
                return self._recipe(int(number[1]) - 1)
            words = [w for w in what.split() if w not in ("the", "a", "my")]
            for place in range(len(self._before) - 1, max(len(self._before) - _BACK, 0) - 1, -1):
                title = self._before[place].title
                shared = [w for w in words if w in title.split()]
                if words and len(shared) == len(words) and (explicit or len(words) >= 2):
                    self._point(segment, match, f"the lines of {title}")
                    return self._recipe(place)
        kind = self._same_dish(segment, said)
        if kind:
            return kind
        same = phrases("all_same").search(said) or (
            None if self._base else re.search(r"\bsame (?:[a-z]+ )?base\b", said)
        )
        if same:
            self._point(segment, same, "the lines of the recipe before")
            return self._recipe(-1)
        return []

    def _same_dish(self, segment: Segment, said: str) -> list[Mention]:
        """ "the same loaf as before, but with ...": a recipe named by its kind of dish."""
        for match in phrases("same_dish").finditer(said):
            words = match["what"].split()
            for place in range(len(self._before) - 1, max(len(self._before) - _BACK, 0) - 1, -1):
                title, found = self._before[place].title, self._before[place].found
                kind = singular(words[-1])
                named = kind in {singular(w) for w in title.split()[-1:]} or (
                    words[-1] in word_class("dish") and kind in map(singular, title.split())
                )
                food = any(kind in map(singular, m.food.name) for m in found)
                plain = match["before"] or (match["changed"] and len(words) == 1)
                if (named and not food) or (plain and words[-1] in word_class("dish")):
                    self._point(segment, match, f"the lines of {title or 'the one before'}")
                    return self._recipe(place)
        return []

    def _recipe(self, place: int) -> list[Mention]:
        """The lines of an earlier recipe."""
        self._from = place if place >= 0 else len(self._before) + place
        return self._before[self._from].found

    def _copy(self, mention: Mention) -> Mention:
        return replace(mention, shared="taken over", also=list(mention.also), notes=list(mention.notes),
                       amount_spans=[], food=replace(mention.food, name=list(mention.food.name)))  # fmt: skip

    # --- changes -------------------------------------------------------------------------------

    def _changes(self, segment: Segment, said: str, taken: list[Mention]) -> list[Mention]:
        """The lines taken over, without what is swapped or left out."""
        for name in ("swap", "but_for", "instead"):
            for match in phrases(name).finditer(said):
                old = self._line_of(match["old"], taken)
                if old is None:
                    continue
                if name == "instead" and self._less_of(segment, match.end(), old):
                    continue
                taken = [m for m in taken if m is not old]
                self._point(segment, match, f"{' '.join(old.food.name)} left out")
                if name in ("swap", "but_for"):
                    at = match.end() if name == "swap" else match.start("new")
                    new = self._new_of(segment, at, old)
                    taken += [new] if new is not None else []
        measured = {i for c in segment.chunks if c.kind == "both" for i in range(c.start, c.end)}
        for at in range(segment.start, segment.end):
            old = None if at in measured else self._named_at(at, taken)
            if old is not None:
                taken = [m for m in taken if m is not old]
        return taken

    def _named_at(self, at: int, taken: list[Mention]) -> Mention | None:
        """The line whose name ends at a word beside which it is left out."""
        talk, known = self.talk, self.talk.known
        best: tuple[int, Mention | None] = (0, None)
        for mention in taken:
            name = {known.fold(w) for w in mention.food.name}
            start = at
            while talk.folded[start] in name and at - start < len(name):
                start -= 1
            longer = any(k + talk.food_length(k) > at for k in range(max(at - 3, 0), start + 1))
            ends = talk.folded[at] == known.fold(mention.food.name[-1])
            if ends and not longer and at - start > best[0] and self._left_out(start + 1, at + 1):
                best = (at - start, mention)
        return best[1]

    def _left_out(self, start: int, end: int) -> bool:
        """A word of leaving out stands beside a food, none of putting in: "the cream goes"."""
        talk = self.talk
        before = talk.said(start - 3, start).split("|")[-1].split(",")[-1].split()
        after = talk.said(end, end + 3).split("|")[0].split(",")[0].split()
        leaves, stays = word_class("leaves_out"), word_class("stays_in")
        beside = {*before, *after} - ({"instead"} & {*after})  # "oat milk instead"
        return not leaves.isdisjoint(beside) and stays.isdisjoint(beside)

    def _less_of(self, segment: Segment, offset: int, old: Mention) -> bool:
        """ "instead of two eggs use one": another amount of the same."""
        at = self._index(segment, offset)
        given = next((c for c in segment.chunks if at <= c.start <= at + 4), None)
        if given is None or given.kind != "amount" or given.amount is None:
            return False
        old.amount, old.also, old.shared = given.amount, [], "changed"
        old.amount_spans.append((given.start, given.end))
        self.lines.used.add(given.start)
        return True

    def _line_of(self, words: str, taken: list[Mention]) -> Mention | None:
        """The line that some words name."""
        from pipeline.foods.words import words as folded

        asked = [w for w in folded(words) if w not in self.talk._ends and not w.isdigit()]
        if not asked:
            return None
        known = self.talk.known
        wanted = [known.fold(w) for w in asked]
        best: tuple[int, Mention | None] = (0, None)
        for mention in taken:
            name = {known.fold(w) for w in mention.food.name} | set(mention.food.head)
            hits = sum(w in name for w in wanted)
            if hits > best[0] and wanted[-1] in name:
                best = (hits, mention)
        if best[1] is not None or len(wanted) > 2:
            return best[1]
        return next(
            (m for m in taken if not {known.fold(w) for w in m.food.name}.isdisjoint(wanted)), None
        )

    def _new_of(self, segment: Segment, offset: int, old: Mention) -> Mention | None:
        """The food put in its place, with the old amount unless one is said."""
        talk = self.talk
        begin = self._index(segment, offset)
        while begin < talk.n and talk.text[begin] in ("the", "a", "some", "an"):
            begin += 1
        if begin >= talk.n or (
            talk.words[begin].value is not None and not talk.words[begin].article
        ):
            return None  # it brings its own amount
        food = talk.food_span(begin, measured=False)
        if food is None:
            return None
        return replace(old, food=food, start=begin, end=food.end, shared="taken over", notes=[])

    def _index(self, segment: Segment, offset: int) -> int:
        """Word at a character of the segment's text."""
        return self.talk.from_offset(self.talk.begins(segment.start) + offset)

    # --- single lines --------------------------------------------------------------------------

    def _again(self, chunk: Chunk) -> Mention | None:
        """ "same rice, same asparagus", "the rice, beans and corn again": a line said before."""
        if chunk.mention is None or not self._points_back(chunk):
            return None
        food = chunk.mention.food
        pool = [*self._base, *(m for one in reversed(self._before[-_BACK:]) for m in one.found)]
        had = next((m for m in pool if named_again(food, m.food) and m.amount is not None), None)
        return self._copy(had) if had is not None else None

    def _points_back(self, chunk: Chunk) -> bool:
        talk = self.talk
        lead = talk.said(chunk.start - 2, chunk.start)
        after = talk.said(chunk.end, chunk.end + 6)
        return (
            re.search(r"\bsame(?: [a-z]+)?$", lead) is not None
            or phrases("again").search(after) is not None
        )
