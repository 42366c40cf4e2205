"""What is said once and "
"meant again: a shared base, "the same as before", swaps and leavings-out."""

from __future__ import annotations

import re
from dataclasses import replace

from pipeline.intake.spoken.grammar import Mention, Talk
from pipeline.intake.spoken.lines import Left, Lines, Reading, named_again
from pipeline.intake.spoken.segments import Segment
from pipeline.intake.spoken.servings import servings_of
from pipeline.intake.spoken.tiling import Chunk

_SAME_AS = re.compile(
    r"\b(?:(?:exactly |pretty much )?the same as|same as|it's just|it's(?! the same| same)|"
    r"basically|like) (?:the |my |that )?"
    r"(?P<what>[a-z0-9' ]{3,28}?)(?= (?:but|except|just|only|with|and|so|no|minus|plus|you|we|"
    r"i|in|for|except|again)\b| [,|]|$)"
)
_ALL_SAME = re.compile(
    r"\b(?:everything(?: else)?|the rest|all (?:the rest|of (?:that|it)|that)|"
    r"ingredients)(?: else)?"
    r"(?:'s| is| are| stays?| remains?)(?: all| exactly)?(?: the)? same\b|\bsame as (?:before|"
    r"last time|above)\b"
)
_SAME_DEAL = re.compile(
    r"\bsame (?:deal|thing|again|idea|story|process|drill|ingredients|recipe|set up|setup|"
    r"stuff)\b(?! (?:every|all the time|as (?!before|last|above|the)))"
)
_SAME_BASE = re.compile(r"\bsame (?:[a-z]+ )?base\b")
_SWAP = re.compile(
    r"\b(?:swap|swapping|switch|switching|replace|replacing|trade|change|changing)(?: out)? "
    r"(?:the |your |that )?(?P<old>[a-z' ]{3,30}?) (?:for|with|to) "
)
_INSTEAD = re.compile(
    r"\binstead of (?P<old>[a-z0-9./' ]{2,44}?)(?= (?:it's|its|use|we|i|this|there|we're|you|"
    r"do|i'm)\b| [,|]|$)"
)
_WITHOUT = re.compile(
    r"\b(?:but no|just no|with no|without(?: the| any)?|leave out(?: the)?|"
    r"leaving out(?: the)?|minus(?: the)?|"
    r"hold the|skip the|take out the|lose the|no) (?P<old>[a-z' ]{3,30}?)(?= (?:and|but|then|"
    r"so|add|plus|with|because|"
    r"in|for|this|on|cause|cuz|or|you|here)\b| [,|]|$)"
)
_BACK = 20  # recipes that a speaker refers back over
_BUT_FOR = re.compile(
    r"\b(?:but|with|except) (?:with |it's |use )?(?P<new>[a-z]+(?: [a-z]+){0,3}?) instead of (?:the )?"
    r"(?P<old>[a-z]+(?: [a-z]+){0,3}?)(?= (?:and|so|then)\b| [,|]|$)"
)


class References:
    """Remembers what was told, and gives later recipes their share of it."""

    def __init__(self, talk: Talk, lines: Lines) -> None:
        self.talk = talk
        self.lines = lines
        self._base: list[Mention] = []
        self._noun = ""
        self._portions = 1.0
        self._before: list[tuple[str, list[Mention]]] = []
        self._spans: list[tuple[int, int, str]] = []
        self._from: int | None = None

    @property
    def told(self) -> int:
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
        if inherited:
            share = self._share(said) if inherited is self._base else 1.0
            inherited = [
                replace(self._copy(m), share=m.share * share, from_base=m.from_base or inherited is self._base)
                for m in inherited if m.amount is not None
            ]  # fmt: skip
            inherited, dropped = self._changes(segment, said, inherited)
        else:
            dropped = []
        if not inherited:
            self._spans = []
        reading = self.lines.read(segment, inherited, tail, self._again)
        reading.left += dropped
        reading.taken_from = self._from
        reading.marks += [("reference", start, end, None, why) for start, end, why in self._spans]
        self._spans = []
        self._before.append((segment.title.lower(), reading.found))
        return reading

    # --- whole sets ----------------------------------------------------------------------------

    def _taken(self, segment: Segment, said: str) -> list[Mention]:
        """The lines a recipe takes over: of the base, or of an earlier recipe."""
        deal = _SAME_DEAL.search(said)
        if deal and self._before:
            self._point(segment, deal, f"the lines of {self._before[-1][0] or 'the one before'}")
            return self._recipe(-1)
        base = self._base_used(segment, said)
        if base:
            return base
        return self._same_as(segment, said)

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
        used = re.search(
            rf"\b(?:same|the|your|that|whole|our|my|of|with|exact same) (?:[a-z]+ )?{noun}\b|"
            rf"\b{noun} (?:again|first|goes|in)\b"
            rf"|(?:^|[|,] )(?:so )?{noun}\b",
            said,
        )
        refused = re.search(
            rf"\b(?:don't|not|no|without|never) (?:[a-z]+ ){{0,2}}(?:the |any )?{noun}\b", said
        )
        if used is None or refused:
            return []
        self._point(segment, used, f"the lines of the {noun}")
        return self._base

    def _share(self, said: str) -> float:
        """How much of a base that was made for several a recipe takes."""
        part = re.search(
            rf"\b(?P<n>0\.\d+) (?:of )?(?:the |that |your |our |this )?(?:[a-z]+ )?{self._noun}\b",
            said,
        )
        if part:
            return float(part["n"])
        return 1.0 / self._portions

    def _same_as(self, segment: Segment, said: str) -> list[Mention]:
        if not self._before:
            return []
        for match in _SAME_AS.finditer(said):
            what = match["what"].strip()
            explicit = "same as" in match[0]
            if re.fullmatch(
                r"(?:the )?(?:last|first|previous|other|one before|before|last one|last time|"
                r"last recipe|other one)(?: one| recipe| bowl)?",
                what,
            ):
                self._point(segment, match, "the lines of that recipe")
                return self._recipe(0 if what.startswith("first") else -1)
            number = re.search(r"\b[a-z]+ (\d{1,2})$", what)
            if explicit and number and int(number[1]) <= len(self._before):
                self._point(segment, match, "the lines of that recipe")
                return self._recipe(int(number[1]) - 1)
            words = [w for w in what.split() if w not in ("the", "a", "my")]
            for place in range(len(self._before) - 1, max(len(self._before) - _BACK, 0) - 1, -1):
                title = self._before[place][0]
                shared = [w for w in words if w in title.split()]
                if words and len(shared) == len(words) and (explicit or len(words) >= 2):
                    self._point(segment, match, f"the lines of {title}")
                    return self._recipe(place)
        same = _ALL_SAME.search(said) or (None if self._base else _SAME_BASE.search(said))
        if same:
            self._point(segment, same, "the lines of the recipe before")
            return self._recipe(-1)
        return []

    def _recipe(self, place: int) -> list[Mention]:
        """The lines of an earlier recipe."""
        self._from = place if place >= 0 else len(self._before) + place
        return self._before[self._from][1]

    def _copy(self, mention: Mention) -> Mention:
        return replace(mention, shared="taken over", also=list(mention.also), notes=list(mention.notes),
                       amount_spans=[], food=replace(mention.food, name=list(mention.food.name)))  # fmt: skip

    # --- changes -------------------------------------------------------------------------------

    def _changes(
        self, segment: Segment, said: str, taken: list[Mention]
    ) -> tuple[list[Mention], list[Left]]:
        """The lines taken over, without what is swapped or left out."""
        left: list[Left] = []
        for pattern in (_SWAP, _BUT_FOR, _INSTEAD, _WITHOUT):
            for match in pattern.finditer(said):
                old = self._line_of(match["old"], taken)
                if old is None:
                    continue
                if pattern is _INSTEAD:
                    at = self._index(segment, match.end())
                    told = next((c for c in segment.chunks if at <= c.start <= at + 4), None)
                    if told is not None and told.kind == "amount" and told.amount is not None:
                        old.amount, old.also, old.shared = told.amount, [], "changed"
                        old.amount_spans.append((told.start, told.end))
                        self.lines.used.add(told.start)
                        continue
                taken = [m for m in taken if m is not old]
                self._point(segment, match, f"{' '.join(old.food.name)} left out")
                if pattern in (_SWAP, _BUT_FOR):
                    at = match.end() if pattern is _SWAP else match.start("new")
                    new = self._new_of(segment, at, old)
                    if new is not None:
                        taken.append(new)
        return taken, left

    def _line_of(self, words: str, taken: list[Mention]) -> Mention | None:
        """The line that some words name."""
        from pipeline.foods.words import words as folded

        asked = [w for w in folded(words) if w not in self.talk._ends and not w.isdigit()]
        if not asked:
            return None
        known = self.talk.known
        best: tuple[int, Mention] | None = None
        for mention in taken:
            name = {known.fold(w) for w in mention.food.name} | set(mention.food.head)
            hits = sum(known.fold(w) in name for w in asked)
            if hits and (best is None or hits > best[0]) and known.fold(asked[-1]) in name:
                best = (hits, mention)
        if best is None:
            for mention in taken:
                name = {known.fold(w) for w in mention.food.name}
                if any(known.fold(w) in name for w in asked[:2]) and len(asked) <= 2:
                    return mention
        return best[1] if best else None

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
        from bisect import bisect_left

        talk = self.talk
        return bisect_left(talk._starts, talk.begins(segment.start) + offset)

    # --- single lines --------------------------------------------------------------------------

    def _again(self, chunk: Chunk) -> Mention | None:
        """ "same rice, same asparagus", "the rice, beans and corn again": a line said before."""
        if chunk.mention is None or not self._points_back(chunk):
            return None
        food = chunk.mention.food
        pool = [*self._base, *(m for _, found in reversed(self._before[-_BACK:]) for m in found)]
        had = next((m for m in pool if named_again(food, m.food) and m.amount is not None), None)
        return self._copy(had) if had is not None else None

    def _points_back(self, chunk: Chunk) -> bool:
        talk = self.talk
        lead = talk.said(chunk.start - 2, chunk.start)
        after = talk.said(chunk.end, chunk.end + 6)
        return (
            re.search(r"\bsame$|\bsame [a-z]+$", lead) is not None
            or (re.match(r"^(?:again|as before|as well again|like before)\b", after) is not None)
            or re.match(r"^(?:,? ?(?:and )?[a-z]+ ){0,3}again\b", after) is not None
        )
