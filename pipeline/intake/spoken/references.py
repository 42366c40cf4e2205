"""What is said once and meant again: a shared base, "the same as before", swaps and leavings-out."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from copy import deepcopy
from dataclasses import dataclass, replace

from pipeline.foods.words import singular
from pipeline.intake.spoken.clauses import denied
from pipeline.intake.spoken.composition import misfit
from pipeline.intake.spoken.foods import food_span
from pipeline.intake.spoken.lines import Lines
from pipeline.intake.spoken.mentions import Chunk, Mention, named_again
from pipeline.intake.spoken.phrases import phrases, word_class
from pipeline.intake.spoken.reading import Reading
from pipeline.intake.spoken.refusals import MADE, ONCE, PLAIN
from pipeline.intake.spoken.segments import Segment
from pipeline.intake.spoken.servings import servings_of
from pipeline.intake.spoken.statements import plausible
from pipeline.intake.spoken.talk import Talk
from pipeline.intake.spoken.written import written

_BACK = 20  # recipes that a speaker refers back over
#: What words cost that speak for or against taking lines over, beside ``composition.misfit``.
_ANY_COUNT = tuple(map(float, range(2, 13)))  # what a base may make when nobody says
_NOTHING = 0.5  # nothing is taken, though some word points back
_CHANGED = 0.5  # the dish is named again beside words of change
_UNNAMED = 0.8  # the recipe before, which nothing names
_DOUBTFUL, _MOST_DOUBTFUL = 3.0, 6  # foods that the numbers may decide on
_BORNE_OUT, _LEAST_SAID = 3.0, 0.3  # what the numbers weigh there, and how much they have to say
_PLAUSIBLE = 2.0  # most that numbers may say against lines that no name points to


@dataclass(slots=True)
class _Earlier:
    """A recipe read: its title in small letters, its lines, and what may be its servings."""

    title: str
    found: list[Mention]
    counts: set[float]


@dataclass(slots=True)
class _Source:
    """Lines that a recipe may take over.

    Attributes:
        lines: of a base or an earlier recipe; none.
        place: of the earlier recipe.
        cost: how much words speak against it.
        match: the words that point to it.
        name: what it is called.
    """

    lines: list[Mention]
    place: int | None
    cost: float
    match: re.Match[str] | None = None
    name: str = ""


def measured_out(talk: Talk, base: Segment, later: Sequence[Segment]) -> list[str]:
    """The name of a base of which later lines take so much by weight or volume, which they get as
    their food: "two cups of the pepper mix"; no words where nobody does."""
    nouns = base.place.base.split("|")
    end = next((k for k in range(base.start, base.place.body) if talk.text[k] in nouns), base.start)
    begin = end
    while begin > base.start and talk.tells(begin - 1):
        begin -= 1
    name = [*talk.text[begin:end], *nouns]
    used = False
    for chunk in (c for segment in later for c in segment.chunks if c.kind == "both"):
        food, unit = chunk.of.food, chunk.amount.unit if chunk.amount is not None else None
        more = nouns if talk.close(food.end) == nouns[0] else []
        if unit is not None and unit.weighs and [*food.name, *more] == name:
            food.name, used = name, True
    return name if used else []


class References:
    """Remembers what was said, and gives later recipes their share of it."""

    def __init__(self, talk: Talk, lines: Lines) -> None:
        self.talk = talk
        self.lines = lines
        self._base: list[Mention] = []
        self._noun = self._name = ""
        self._portions = 1.0
        self._made = (math.nan, "")
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
        self._noun = f"(?:{segment.place.base})"
        self._name = segment.place.base.replace("|", " ")
        servings, _ = servings_of(self.talk, segment, reading)
        self._portions = servings if servings == servings and servings > 1 else 1.0
        pieces = {left.start for left in reading.left if left.why == MADE}
        made = [
            (c.amount.value, c.of.food.name[-1])
            for c in segment.chunks
            if c.amount is not None and c.start in pieces
        ]
        self._made = made[-1] if made else (math.nan, "")
        return reading

    def recipe(self, segment: Segment, tail: int) -> Reading:
        """Read a recipe with what it takes from before."""
        talk = self.talk
        stop = min((t.end for t in segment.totals), default=segment.end)
        said = talk.said(segment.start, min(segment.end, max(stop, segment.start)))
        best: tuple[float, Reading, _Source] | None = None
        spans: list[tuple[int, int, str]] = []
        for source in self._sources(segment, said):
            self._spans = []
            if source.match is not None:
                self._point(segment, source.match, f"the lines of {source.name}")
            reading, cost = self._read(segment, source, said, tail)
            if source.match is not None and source.cost and cost > _PLAUSIBLE:
                continue
            if best is None or cost + source.cost < best[0]:
                spans = self._spans
                best = cost + source.cost, reading, source
        assert best is not None
        cost, reading, source = best
        if segment.totals:
            reading = self._borne_out(segment, source, said, tail, reading, cost - source.cost)
        reading.marks += [("reference", *span[:2], None, span[2]) for span in spans]
        reading.taken_from = source.place
        if source.lines and source.lines is self._base:
            reading.made = self._made
        counts = self._counts(segment, source)
        self._before.append(_Earlier(segment.title.lower(), reading.found, counts))
        return reading

    def _borne_out(
        self, segment: Segment, source: _Source, said: str, tail: int, reading: Reading, cost: float
    ) -> Reading:  # fmt: skip
        """The reading of which the doubtful lines are those that the numbers ask for."""
        doubtful = [c for c in segment.chunks if c.kind == "both" and abs(c.doubt) < _DOUBTFUL]
        for chunk in sorted(doubtful, key=lambda c: abs(c.doubt))[:_MOST_DOUBTFUL]:
            before = chunk.doubt
            left = before > 0 or any(
                one.start == chunk.start and one.why == ONCE for one in reading.left
            )
            chunk.doubt = -PLAIN - _DOUBTFUL if left else max(abs(before), _DOUBTFUL)
            other, less = self._read(segment, source, said, tail)
            if _BORNE_OUT * (cost - less) > abs(before) + _LEAST_SAID:
                reading, cost = other, less
            else:
                chunk.doubt = before
        return reading

    def _read(
        self, segment: Segment, source: _Source, said: str, tail: int
    ) -> tuple[Reading, float]:
        """A recipe read with the lines of a source, and what its numbers say against that.

        Of a base that was made for several, but is not said to be shared out, it takes all where its
        numbers say so.
        """
        base = source.lines is self._base
        share = self._share(said) if base else 1.0
        reading, cost = self._read_share(segment, source, said, tail, share)
        if base and share == 1.0 / self._portions < 1.0:
            whole, less = self._read_share(segment, source, said, tail, 1.0)
            if cost - less > _LEAST_SAID:
                return whole, less
        return reading, cost

    def _read_share(
        self, segment: Segment, source: _Source, said: str, tail: int, share: float
    ) -> tuple[Reading, float]:
        segment = replace(segment, chunks=deepcopy(segment.chunks))
        base = source.lines is self._base
        taken = [
            replace(self._copy(m), share=m.share * share, from_base=m.from_base or base)
            for m in source.lines if m.amount is not None
        ]  # fmt: skip
        taken = self._changes(segment, said, taken) if taken else []
        reading = self.lines.read(segment, taken, tail, self._again)
        stated = plausible(segment.totals)
        counts = self._counts(segment, source)
        lines = self.talk.composition.total([written(m, 1.0) for m in reading.found])
        return reading, min(misfit(lines, stated, n) for n in counts)

    def _counts(self, segment: Segment, source: _Source) -> set[float]:
        """Numbers that may be the servings of a recipe: said in it, or in that of its source; any small
        one where nobody says how many a base makes that is taken by its name."""
        words = self.talk.words[segment.start : segment.end]
        said = {w.value for w in words if w.value and not w.article and 2 <= w.value <= 36}
        earlier = set() if source.place is None else self._before[source.place].counts
        made = {self._made[0]} if source.lines is self._base and self._made[1] else set()
        untold = source.match is not None and source.lines is self._base and not {*said, *made}
        return {1.0, *said, *earlier, *made, *(_ANY_COUNT if untold else ())}

    # --- whole sets ----------------------------------------------------------------------------

    def _sources(self, segment: Segment, said: str) -> Iterator[_Source]:
        """What a recipe may take its lines from; which of them is decided by the stated numbers.

        Words that point back speak for any of them, most for one that is named or counted there;
        else the dish named again beside words of change.
        """
        base = self._base_used(said)
        pointers = [
            m for m in phrases("points_back").finditer(said) if not self._of_one_food(segment, m)
        ]
        yield _Source([], None, _NOTHING if pointers or base is not None else 0.0)
        if base is not None:
            yield _Source(self._base, None, 0.0, base, f"the {self._name}")
        change = phrases("changes").search(said)
        first = min([c.start for c in segment.chunks if c.kind == "both"], default=segment.end)
        named = {singular(w) for w in self.talk.text[segment.start : first]}
        count, states = len(self._before), bool(segment.totals)
        lately = self._before[-_BACK:][::-1]
        foods = [{singular(w) for w in c.of.food.name} for c in segment.chunks if c.kind == "both"]
        for back, earlier in enumerate(lately):
            place = count - 1 - back
            name = earlier.title or "the one before"
            kinds = {singular(w) for w in earlier.title.split()} - word_class("function")
            kinds -= {singular(w) for w in word_class("meals") | word_class("talk")}
            if kinds and any(kinds <= named for named in foods):
                continue  # an ingredient: "two cups of the pepper base"
            own = {singular(w) for m in earlier.found for w in m.food.name}
            meant = next((m for m in pointers if self._means(said, m, place, kinds)), None)
            if meant is not None:
                yield _Source(earlier.found, place, 0.0, meant, name)
            elif change and states and (kinds - own) & named:
                yield _Source(earlier.found, place, _CHANGED, change, name)
            elif pointers and states:
                yield _Source(earlier.found, place, _UNNAMED, pointers[0], name)

    def _means(self, said: str, pointer: re.Match[str], place: int, kinds: set[str]) -> bool:
        """The words behind a pointer count or name an earlier recipe."""
        behind = said[pointer.end() :].split("|")[0].split()[:8]
        for at, word in enumerate(behind):
            order = self.talk.known.ordinals.get(word, 0)
            if order == place + 1 or (order == -1 and place == len(self._before) - 1):
                return True
            if at and word == str(place + 1):
                return True
        return not kinds.isdisjoint(map(singular, behind))

    def _of_one_food(self, segment: Segment, match: re.Match[str]) -> bool:
        """ "same rice", "the rice and beans again", "four again": a line is meant, or the servings,
        not a recipe."""
        start, end = self._index(segment, match.start()), self._index(segment, match.end())
        if match[0] == "again" and self.talk.stops(start):
            return True  # "Again, it's for two"
        before = self.talk.word(start - 1)
        if match[0] == "again" and self.talk.close(start) and (
            self.talk.counts(start - 1) or before in {"it", "them"} | self.talk.known.verbs
        ):  # fmt: skip
            return True  # "they cook again"
        if denied(self.talk, start):
            return True  # "they're not the same"
        counted = [c for c in segment.chunks if c.kind == "both" and c.end <= start]
        fed = [c.end for c in counted if c.end == start or (c.amount and not c.amount.article)]
        if match[0] != "again" and fed and (
            fed[-1] == start or match[0].split()[-1] in word_class("of_them")
        ) and not self.talk.stopped(fed[-1], start):  # fmt: skip
            return True  # "the other two cups, so that's all of it"
        if any(c.kind == "amount" and 0 <= c.start - end <= 2 for c in segment.chunks):
            return True  # "same thing, 200 grams"
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

    def _base_used(self, said: str) -> re.Match[str] | None:
        """The words that name the base."""
        if not self._base or phrases("base_refused", noun=self._noun).search(said):
            return None
        return phrases("base_used", noun=self._noun).search(said)

    def _share(self, said: str) -> float:
        """How much of a base that was made for several a recipe takes."""
        part = phrases("base_share", noun=self._noun).search(said)
        return float(part["n"]) if part else 1.0 / self._portions

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
        if before[-1:] == ["instead"]:
            return False  # "rice instead, beans and corn": of what was put in before
        after = talk.said(end, end + 3).split("|")[0].split(",")[0].split()
        if phrases("stays_away").match(talk.said(end, end + 5)):
            return True
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
        segment.chunks.remove(given)
        return True

    def _line_of(self, words: str, taken: list[Mention]) -> Mention | None:
        """The line that some words name."""
        from pipeline.foods.words import words as folded

        asked = [w for w in folded(words) if w not in self.talk.small and not w.isdigit()]
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
        food = food_span(talk, begin, measured=False)
        if food is None:
            return None
        return replace(old, food=food, start=begin, end=food.end, shared="taken over", notes=[])

    def _index(self, segment: Segment, offset: int) -> int:
        """Word at a character of the segment's text."""
        return self.talk.from_offset(self.talk.begins(segment.start) + offset)

    # --- single lines --------------------------------------------------------------------------

    def _again(self, chunk: Chunk) -> Mention | None:
        """ "same rice, same asparagus": a line said before."""
        if not self._points_back(chunk):
            return None
        pool = [*self._base, *(m for one in reversed(self._before[-_BACK:]) for m in one.found)]
        food = chunk.of.food
        had = next((m for m in pool if named_again(food, m.food) and m.amount is not None), None)
        return self._copy(had) if had is not None else None

    def _points_back(self, chunk: Chunk) -> bool:
        talk = self.talk
        lead = talk.said(chunk.start - 2, chunk.start)
        return re.search(r"\bsame(?: [a-z]+)?$", lead) is not None
