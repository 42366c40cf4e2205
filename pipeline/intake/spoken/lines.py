"""The lines of one recipe: what is added, repeated, corrected, shared, swapped or left out."""

from __future__ import annotations

import math
import re
from bisect import bisect_left
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from pipeline.intake.spoken.grammar import Amount, Food, Mention, Talk
from pipeline.intake.spoken.lexicon import Unit
from pipeline.intake.spoken.phrases import phrases, word_class
from pipeline.intake.spoken.refusals import ONCE, Case, offered, why_not
from pipeline.intake.spoken.segments import Segment
from pipeline.intake.spoken.tiling import _FEW, Chunk
from pipeline.intake.spoken.totals import Figure
from pipeline.intake.spoken.words import STRONG, Span

_MORE = re.compile(r"\b(?:another|more|extra)\b")
_THOUGHT = 30  # words over which a speaker makes up his mind about an amount
_UNCOUNTED = 50  # pieces that nobody counts: a number of grams, where others are said in grams
_FULL = 3  # nutrients of a full statement
_SOON = 12  # words behind a line in which a second voice says it again


@dataclass(slots=True)
class Left(Span):
    """Words that look like an ingredient and became none, and why."""

    why: str


@dataclass(slots=True)
class Reading:
    """The lines of one segment."""

    found: list[Mention] = field(default_factory=list)
    left: list[Left] = field(default_factory=list)
    marks: list[tuple[str, int, int, Mention | None, str]] = field(default_factory=list)
    unclear: list[Amount] = field(default_factory=list)
    taken_from: int | None = None  # place of the recipe whose lines were taken over
    made: tuple[float, str] = (math.nan, "")  # pieces that the base it takes makes, and their name

    @property
    def last(self) -> Mention | None:
        """The line read last."""
        return self.found[-1] if self.found else None

    def names(self, food: Food) -> bool:
        """A line has this food, perhaps in more words."""
        return any(named_again(food, m.food) or same_food(food, m.food) for m in self.found)


def same_food(a: Food, b: Food) -> bool:
    """Two names for one food: the same head, and no words that tell kinds apart."""
    return set(a.name) == set(b.name) or (bool(a.head) and a.head == b.head)


def named_again(short: Food, long: Food) -> bool:
    """The first names the second in fewer words: "the tuna", "the stock"."""
    words = _folded(short)
    if not words and not short.head:
        return False
    return words <= _folded(long) | {*long.head, "one"}


def _folded(food: Food) -> set[str]:
    from pipeline.foods.words import singular

    return {singular(w) for w in food.name if w.isalpha()}


class Lines:
    """Reads the lines of segments, one after another; remembers which amounts were used."""

    def __init__(self, talk: Talk, figures: list[Figure]) -> None:
        self.talk = talk
        self.figures = sorted(figures, key=lambda f: f.start)
        self._figure_at = [f.start for f in self.figures]

    def read(
        self, segment: Segment, inherited: list[Mention], tail: int,
        said_before: Callable[[Chunk], Mention | None] = lambda _: None,
    ) -> Reading:  # fmt: skip
        """Lines of a segment.

        Args:
            segment: the stretch.
            inherited: lines it has to begin with.
            tail: word at which mere talk begins.
            said_before: the line of an earlier recipe or base that a food without an amount means.
        """
        reader = _SegmentLines(self.talk, segment, list(inherited), tail)
        reader.read(said_before)
        lo, hi = (bisect_left(self._figure_at, x) for x in (segment.start, segment.end))
        reader.product_figures(self.figures[lo:hi])
        return reader.out


class _SegmentLines:
    """Reads the lines of one segment."""

    def __init__(self, talk: Talk, segment: Segment, inherited: list[Mention], tail: int) -> None:
        self.talk = talk
        self.segment = segment
        self.tail = tail
        self.out = Reading(found=inherited)
        self.section = ""
        self.late = False  # behind the numbers, or in mere talk

    def read(self, said_before: Callable[[Chunk], Mention | None]) -> None:
        """Go through the chunks in order."""
        out, segment = self.out, self.segment
        totals_end = max((t.end for t in segment.totals), default=-1)
        first_total = min((t.start for t in segment.totals), default=10**9)
        measured = [c.start for c in segment.chunks if c.kind == "both" and c.measured]
        mostly = 2 * sum(at < first_total for at in measured) >= len(measured)  # stand before
        for chunk in segment.chunks:
            if chunk.start < segment.place.body and not chunk.measured:
                continue
            self._find_section(chunk.start)
            before = [m for m in out.found if not m.shared and m.start < first_total]
            told = any(
                len({p.tag for p in t.parts if p.end <= chunk.start}) >= _FULL
                and sum(m.end <= t.start for m in before) >= 2
                for t in segment.totals
            ) and not any(
                len({p.tag for p in t.parts if p.start >= chunk.end}) >= _FULL
                for t in segment.totals
            )
            behind = totals_end >= 0 and chunk.start > totals_end and len(before) >= 2
            behind = mostly and (behind or told)
            self.late = behind or chunk.start >= self.tail
            if chunk.kind == "both":
                for mention in (chunk.of, *chunk.more):
                    self._both(mention, chunk.doubt)
            elif chunk.kind == "food":
                self._food(chunk, said_before)
            else:
                self._amount(chunk)
        for mention in out.found:
            if not mention.shared:
                self._trailing(mention)

    def _food(self, chunk: Chunk, said_before: Callable[[Chunk], Mention | None]) -> None:
        """A food without an amount, perhaps of an earlier recipe."""
        known = any(named_again(chunk.of.food, m.food) for m in self.out.found)
        if known and self._taken_back(chunk):
            return
        back = None if known else said_before(chunk)
        if back is None:
            self._bare(chunk.of)
            return
        back.start, back.end = chunk.start, chunk.end
        self.out.found.append(back)
        why = "its amount was said before"
        self.out.marks.append(("reference", chunk.start, chunk.end, back, why))

    def _taken_back(self, chunk: Chunk) -> bool:
        """ "no sorry, not watercress": the line before goes."""
        last, lead = self.out.last, self._lead(chunk.start, 6)
        if last is None or not named_again(chunk.of.food, last.food) or chunk.start - last.end > 8:
            return False
        if not re.search(r"\bnot(?: the)?$", lead) or not phrases("corrects").search(lead):
            return False
        self.out.found.pop()
        return self._leave(last, "the speaker takes it back")

    def _find_section(self, at: int) -> None:
        """ "for the sauce", "on top" shortly before a mention."""
        said = self.talk.said(max(at - 7, self.segment.start), at)
        for found in phrases("section").finditer(said):
            if len(said[found.end() :].split()) <= 4:
                self.section = found["name"] or "topping"

    def _add(self, mention: Mention) -> None:
        mention.section = self.section
        self.out.found.append(mention)

    def _leave(self, chunk: Chunk | Mention, why: str) -> bool:
        self.out.left.append(Left(chunk.start, chunk.end, why))
        return True

    def _lead(self, at: int, words: int) -> str:
        """Words before a place, back to the full stop before it."""
        start = at
        while start > 0 and at - start < words and self.talk.words[start].breaks != STRONG:
            start -= 1
        return self.talk.said(start, at)

    # --- amounts without a food -------------------------------------------------------------------

    def _amount(self, chunk: Chunk) -> None:
        """An amount without a food of its own: the first case that takes it."""
        amount = chunk.amount
        assert amount is not None
        if self.talk.of_others(chunk.start):
            self._leave(chunk, ONCE)
            return
        last = self.out.last
        if last is not None and last.end == chunk.start and amount.unit is not None and (
            amount.article and amount.unit.said == "head" and not self.talk.words[chunk.start].breaks
        ):  # fmt: skip
            last.per_person = True  # "one egg a head"
            return
        if phrases("predicate").match(self.talk.said(chunk.end, chunk.end + 1)):
            self._leave(chunk, "mentioned in passing")  # "a tablespoon would burn"
            return
        if (
            self._more_of_last(amount)
            or self._part_of_last(chunk, amount)
            or self._of_last(chunk, amount)
        ):
            return
        if amount.unit is not None and amount.unit.weighs and not amount.article:
            self.out.unclear.append(amount)
        if not _vessel(amount.unit):
            self._leave(chunk, "an amount without a food")

    def _more_of_last(self, amount: Amount) -> bool:
        """ "100 grams of cheddar first, and later another 100 grams"."""
        talk, last = self.talk, self.out.last
        more = (
            talk.word(amount.start - 1) in ("another", "again") or talk.close(amount.end) == "more"
        )
        if not more or last is None or last.amount is None or not _same_unit(last.amount, amount):
            return False
        again = replace(last, start=amount.start, end=amount.end, amount=amount, also=[], shared="")
        again.amount_spans = [(amount.start, amount.end)]
        self._add(again)
        return True

    def _part_of_last(self, chunk: Chunk, amount: Amount) -> bool:
        """ "half of that", "three quarters of it"."""
        talk, last = self.talk, self.out.last
        after = talk.said(chunk.end, chunk.end + 2)
        of_that = re.match(r"^of (?:that|it|those|them)\b", after) or (
            talk.text[chunk.end - 1] in ("that", "it") and chunk.end > amount.end
        )
        if re.match(r"^is (?:too|way|not|plenty|enough)\b", after):
            return self._leave(chunk, "mentioned in passing")
        if last is None or not of_that:
            return False
        had, near = last.amount, amount.start - last.end < 8
        one = had is not None and (had.each is not None or (had.unit is None and had.value == 1))
        if one and near and amount.value < 1 and amount.unit is None:
            share = had if had is not None and had.each else None
            last.share *= amount.value if share else 1.0
            self._give(last, share or amount, chunk)
            return True
        return self._leave(chunk, "a part of what was named before")

    def _of_last(self, chunk: Chunk, amount: Amount) -> bool:
        """The amount of the last line once more."""
        talk, last = self.talk, self.out.last
        placed = amount.article and talk.word(amount.start - 1) in word_class("before_tools")
        placed = placed and not phrases("corrects").search(f" {self._lead(amount.start, 3)} ")
        unit = amount.unit
        shares = unit is not None and unit.kind in ("count", "package") and not talk.close(chunk.end) and (
            unit.said in word_class("container") and talk.words[amount.start].breaks == STRONG
        )  # fmt: skip
        if last is None or placed or shares:  # "a teaspoon of spice. Twelve slices again"
            return False
        corrected = self._takes_back(last, amount, chunk)
        again = (
            corrected
            and last.amount is not None
            and (amount.unit is None or _same_kind(last.amount, amount))
        )
        linked = self._links(last.end, amount.start, 9)
        anew = self._alone_behind(last, amount)
        corrected |= anew == "instead"
        if not (again or linked or anew):
            return False
        if amount.unit is None and not amount.article and corrected and last.amount is not None:
            if not 0.2 <= amount.value / max(last.amount.value, 1e-9) <= 5:
                return False  # "at 375, no, 350"
            amount = replace(amount, unit=last.amount.unit)
        self._repeat(last, amount, chunk, corrected=corrected)
        return True

    def _takes_back(self, last: Mention, amount: Amount, chunk: Chunk) -> bool:
        """Words before an amount, or what it repeats, say that it takes the place of another."""
        talk, had = self.talk, last.amount
        between = range(last.end, amount.start)
        others = word_class("serving") | word_class("no_nutrient_unit")
        if amount.start < last.end or len(between) > _THOUGHT or any(
            talk.counts(at) and talk.close(at + 1) in others for at in between
        ):  # fmt: skip
            return False  # "that's 12 servings, no, sorry, 9", "50 minutes. No, 55"
        said, word = talk.said(last.end, amount.start), talk.words[amount.start]
        bare = f" {re.sub('[,|] ?', '', said)} "
        if any(phrases("corrects").search(s) for s in (f", {said} ", bare)) or phrases(
            "so_in_all"
        ).search(said):
            return True
        part = any(talk.words[at].share for at in between) and amount.measured
        if had is not None and said.split()[-1:] == ["so"] and _same_unit(had, amount) and (
            part or (had.article and amount.value > 1)
        ):  # fmt: skip
            return (
                True  # "a slice of bread each, so four slices", "I do half the pack, so 250 grams"
            )
        wrong = word_class("correct") - {"no", "mean", "actually", "rather"}
        if amount.measured and not wrong.isdisjoint(talk.text[last.end : amount.start]):
            return True
        if phrases("corrects_count").search(talk.lead(amount.start, min(len(between), 4))):
            return True
        if had is not None and any(
            talk.words[at].value == had.value and talk.text[at + 1] in ("was", "is")
            for at in between
        ):
            return True  # "four tablespoons. Four was greedy; three"
        if any(
            talk.words[at].value == amount.value and talk.word(at - 1) == "or" for at in between
        ):
            return True  # "one chilli, or two. I do two"
        same = had is not None and _same_kind(had, amount)
        alone = amount.unit is None and not amount.of and talk._boundary(amount.end)
        if (alone or same) and phrases("i_use").search(said) and "n't" not in said:
            return True  # "a hundred of butter, well, I use ninety"
        if said.endswith("call it") or (
            amount.unit is None and said.endswith(" it") and not re.search(r"\bor\b", said)
            and not word.breaks and not word.share and talk._boundary(chunk.end)
        ):  # fmt: skip
            return True
        share = phrases("a_share_of").match(talk.said(chunk.end, chunk.end + 2))
        return bool(amount.measured and not share and phrases("in_all").search(said))

    def _alone_behind(self, last: Mention, amount: Amount) -> str:
        """An amount that closes a clause right behind a line: a weight of what was measured
        otherwise ("they're 120 gram tins"), or in a sentence of its own another number of the same
        measure instead ("Two tablespoons of oil. Two and a half!")."""
        talk, had, unit, between = (
            self.talk,
            last.amount,
            amount.unit,
            range(last.end, amount.start),
        )
        if had is None or amount.article or amount.of or len(between) > 6:
            return ""
        if unit is None:  # "So that's four potatoes. Three."
            alone = not had.unit and not between and not talk.close(amount.start)
            return "instead" if alone and not talk.joined(amount.end) else ""
        end = amount.end + self._package_again(had, amount.end)
        if talk.close(end) in ("if", "for", "per", "each") or not all(map(talk.plain, between)):
            return ""
        if re.search(r"\b(?:was|were|used to be)$", talk.said(last.end, amount.start)):
            return ""  # "Half a cup of sugar. It was two cups."
        closes = talk._boundary(end) or talk.food_length(end) > 0
        parted = any(talk.words[at].breaks == STRONG for at in (*between, amount.start))
        if _same_unit(had, amount):  # "a cup of milk, well, half a cup"
            fillers = between and all(talk.text[at] in word_class("filler") for at in between)
            parted |= bool(fillers and talk.words[last.end].breaks and talk._boundary(end))
            parted |= had.article and bool(talk.words[amount.start].breaks)  # "a tin, two in fact"
            return "instead" if closes and parted and had.value != amount.value else ""
        weight = unit.kind == "mass" and not (had.each or last.also)
        parted = any(talk.words[at].breaks == STRONG for at in between)
        return "also" if closes and weight and not parted else ""

    def _package_again(self, had: Amount, at: int) -> bool:
        """The package of an amount is named again: "three cans of beans, the 15 ounce cans",
        "two packets of oats, 28 grams a packet"."""
        if not self.talk.close(at) or had.unit is None or had.unit.weighs:
            return False
        at += self.talk.words[at].article or self.talk.text[at] in ("per", "each")
        unit, size = self.talk.known.unit_at(self.talk.words, at)
        return size == 1 and unit is not None and unit.name == had.unit.name

    def _give(self, mention: Mention, amount: Amount, chunk: Chunk) -> None:
        mention.amount = amount
        mention.amount_spans.append((chunk.start, chunk.end))

    def _repeat(self, mention: Mention, amount: Amount, chunk: Chunk, *, corrected: bool) -> None:
        """The amount of a mention in other words: "a cup of dates, so roughly 150 grams"."""
        mention.amount_spans.append((chunk.start, chunk.end))
        mention.end = max(mention.end, chunk.end)
        had, unit = mention.amount, amount.unit
        vague = had is not None and had.article and had.unit is not None and (
            had.unit.kind == "trade" and unit is not None and unit.kind == "volume"
        )  # fmt: skip
        if had is None or vague:
            mention.amount = amount
            return
        same_unit = had.unit is not None and _same_unit(had, amount)
        if corrected and any(_same_amount(r, amount) for r in mention.refused):
            return
        if corrected and amount.each is None:
            mention.refused.append(had)
            mention.amount, mention.also = amount, []
        elif (same_unit and not amount.apiece) or unit is None or _vessel(unit):
            return
        elif had.each is None and unit.weighs and self._apiece(had, amount, chunk):
            had.each = (amount.value, unit.said)
        else:
            mention.also.append(amount)

    def _apiece(self, had: Amount, amount: Amount, chunk: Chunk) -> bool:
        """A weight is that of each of several, or of the one package."""
        kind = had.unit.kind if had.unit is not None else ""
        ones = self.talk.said(chunk.end, chunk.end + 1) in ("ones", "each") or amount.apiece
        ones = ones or self._package_again(had, chunk.end)
        if kind in ("package", "", "count") and had.value > 1 and ones:
            return True
        one = had.value == 1 and had.unit is not None and had.unit.name in ("tin", "jar")
        return kind in ("", "package", "count", "trade") and (amount.apiece or one)

    def _links(self, start: int, end: int, most: int) -> bool:
        """Only words that tell an amount once more stand between."""
        talk = self.talk
        if not 0 <= end - start <= most:
            return False
        if end > start and talk.text[end - 1] in ("and", "plus", "then"):
            return False
        return all(map(self._link, range(start, end))) and not any(
            talk.words[i].breaks == STRONG and talk.text[i] in ("and", "then", "now")
            for i in range(start, end)
        )

    def _link(self, at: int) -> bool:
        talk, known, text = self.talk, self.talk.known, self.talk.text[at]
        if text == "percent" or (
            talk.words[at].value is not None and talk.word(at + 1) == "percent"
        ):
            return True
        if any(text in word_class(name) for name in ("link", "correct", "amount_again")):
            return True
        return text in known.prep or text in known.manners

    # --- foods with amounts --------------------------------------------------------------------

    def _both(self, mention: Mention, doubt: float) -> None:
        """A food with its amount: a line, or one said before."""
        found = self.out.found
        food = mention.food
        amount = mention.amount = self._with_unit(mention)
        lead = self._lead(mention.start, 7)
        case = Case(self.talk, mention, lead, self._lead(mention.start, 9), self.segment.title)
        why = why_not(case, found, late=self.late, doubt=doubt)
        choice = why == "offered as a choice" or (not why and offered(case, found))
        if choice and self._may_be_added(mention):
            why = ""
            mention.notes.append("optional")
        left = self.out.left[-1] if self.out.left else None
        if left is not None and left.why == ONCE and (
            self.talk.said(left.end, mention.start).lstrip(", ") == "and"
        ):  # fmt: skip
            why = why or ONCE  # "she used a ham hough and half a pound of butter"
        if self._named_anew(mention, amount):
            return
        same = [
            m for m in found
            if same_food(m.food, food) or (m.amount is None and (
                named_again(m.food, food) or (food.determined and named_again(food, m.food))))
            or self._echoes(m, mention)
        ]  # fmt: skip
        if self._corrected(mention):
            other = [m for m in found if not m.shared and named_again(food, m.food)]
            last = [m for m in found[-1:] if not m.shared and named_again(m.food, food)]
            if same or other or last:
                self._correct((same or other or last)[-1], mention, amount)
                return
        if why:
            self._leave(mention, why)
            return
        anew = "instead" in self.talk.said(mention.end, mention.end + 3)
        if same:
            if self._said_again(same[-1], mention, amount, anew):
                return
        else:
            shorter = next(
                (m for m in found if m.shared
                 and (named_again(m.food, food) or (food.known and named_again(food, m.food)))), None,
            )  # fmt: skip
            if shorter is not None and (anew or not named_again(food, shorter.food)):
                if len(food.name) >= len(shorter.food.name):
                    shorter.food = food
                self._change(shorter, mention, amount)
                return
        self._add(mention)

    def _echoes(self, had: Mention, mention: Mention) -> bool:
        """A line said again in more or fewer words in the next sentence, as a second voice does."""
        amount, old = mention.amount, had.amount
        if amount is None or old is None or not amount.measured or not _same_amount(amount, old):
            return False
        if not named_again(mention.food, had.food) and not named_again(had.food, mention.food):
            return False
        spoon = amount.article or (amount.unit is not None and amount.unit.name in ("tsp", "tbsp"))
        if not spoon and named_again(mention.food, had.food):
            return True  # "a cup of mild cheddar, I weighed it, so a cup of cheddar"
        between = range(had.end, mention.start + 1)
        return len(between) <= _SOON and any(self.talk.words[at].breaks == STRONG for at in between)

    def _named_anew(self, mention: Mention, amount: Amount) -> bool:
        """The food just named once more: "grated an onion into it, one brown onion", "lime juice,
        60 mil, so two limes"."""
        last = self.out.last
        if last is None or last.shared or last.amount is None:
            return False
        unit, gap = last.amount.unit, mention.start - last.end
        again = named_again(mention.food, last.food) or named_again(last.food, mention.food)
        weight = amount.unit is not None and amount.unit.kind == "mass"
        if again and last.amount.article and unit is None and 0 <= gap <= 1:
            last.amount, last.end = amount, mention.end  # "a vanilla quark, 250 grams of quark"
            last.amount_spans += mention.amount_spans
            return True
        if again and last.amount.article and unit is not None and not unit.weighs and weight and (
            not last.also and 0 <= gap <= 5 and mention.food.start < amount.start
        ):  # fmt: skip
            last.also, last.end = [amount], mention.end  # "a block of tofu, firm tofu, 300 grams"
            last.food = max(last.food, mention.food, key=lambda food: len(food.name))
            last.amount_spans += mention.amount_spans
            return True
        if amount.measured:
            return False
        if not 0 <= mention.start - last.end <= 5 or _MORE.search(
            self.talk.said(last.end, mention.food.start)
        ):  # fmt: skip
            return False
        old, new = _folded(last.food), _folded(mention.food)
        between = self.talk.text[last.end : mention.start]
        if old < new and last.amount.article and amount.value == last.amount.value == 1:
            last.food, last.end = mention.food, mention.end
            last.amount_spans += mention.amount_spans
            return True
        last_word = [w for w in between if w not in word_class("around_numbers") - {"so", "is"}][
            -1:
        ]
        told = last_word in (["so"], ["or"], ["that's"], ["is"]) and bool(old & new)
        if told and last.amount.measured and amount.unit is None:
            self.out.marks.append(("ingredient", mention.start, mention.end, last, ""))
            return True
        return False

    def _with_unit(self, mention: Mention) -> Amount:
        """The amount of a mention; "175 grams of butter, 150 of sugar" leaves the unit out."""
        amount, last = mention.amount, self.out.last
        assert amount is not None
        behind = mention.food.end <= amount.start and amount.value > _FEW and not amount.of
        weighed = amount.of and amount.value > _FEW and (
            not mention.food.determined or not self.talk.countable(mention.food)
        )  # fmt: skip
        many = behind or weighed or amount.value >= _UNCOUNTED
        if amount.unit is None and not amount.size and many:
            grams = self.talk.known.units[("g",)] if self.talk.weighs_in_grams else None
            return replace(amount, unit=grams)
        had = last.amount if last is not None and 0 <= mention.start - last.end <= 4 else None
        of = amount.of and amount.start < mention.food.end  # not "two of those"
        if amount.unit or not of or amount.article or not had or not had.unit:
            return amount
        told = had.unit.weighs or had.unit.kind == "package"
        told &= mention.food.determined not in word_class("pointing")
        return replace(amount, unit=had.unit) if told else amount

    def _correct(self, target: Mention, mention: Mention, amount: Amount) -> None:
        """The speaker took an amount back and gives another."""
        if target.amount is not None:
            target.refused.append(target.amount)
        _take(target, mention, amount)
        if len(mention.food.name) > len(target.food.name):
            target.food = mention.food
        target.end = mention.end
        self.out.marks.append(("ingredient", mention.start, mention.end, target, ""))

    def _change(self, had: Mention, mention: Mention, amount: Amount) -> None:
        """A line taken over gets an amount of its own."""
        _take(had, mention, amount)
        had.start, had.end, had.shared = mention.start, mention.end, "changed"

    def _said_again(self, had: Mention, mention: Mention, amount: Amount, anew: bool) -> bool:
        """A food that has a line already: True when it needs no other."""
        food, old = mention.food, had.amount
        if old is None:
            had.amount = amount
            had.food = food if len(food.name) >= len(had.food.name) else had.food
            had.amount_spans += mention.amount_spans
            return True
        more = _MORE.search(self.talk.said(amount.start - 2, food.start))
        opened = old.article and had is self.out.found[0] and not amount.article and not more
        if opened and old.unit is None and amount.unit is None:
            _take(had, mention, amount)  # "with an egg on top it's supper ... four eggs"
            return True
        if self.section and had.section != self.section and not had.shared:
            return False  # "for the filling, one egg"
        if had.shared:
            if not _same_amount(old, amount) and (anew or not more):
                self._change(had, mention, amount)
            return _same_amount(old, amount) or anew or not more
        if not more and self._only_named(had, mention, amount):
            self.out.marks.append(("ingredient", mention.start, mention.end, had, ""))
            return True
        reach = _THOUGHT if had is self.out.last else _SOON
        if (
            mention.start - had.end > reach
            or not _same_unit(old, amount)
            or self._adds(had, mention)
        ):
            return not more and not self._put_in(had, mention)
        if self._tells_anew(mention):
            _take(had, mention, amount)
        return True

    def _adds(self, had: Mention, mention: Mention) -> bool:
        """ "And two onions": so many more."""
        start = max(had.end, (mention.amount or mention).start - 3)
        said = self.talk.said(start, mention.food.start)
        return re.search(r"\b(?:another|more|extra|plus|and)\b", said) is not None

    def _put_in(self, had: Mention, mention: Mention) -> bool:
        """A food that has its line is put in once more: the clause says so, or is an item of a list.
        Not "at the wedding we went through four kilos of prawns"."""
        talk = self.talk
        if self._adds(had, mention) or talk.close(mention.end) == "for":
            return True
        clause = re.split(r"[|,]", talk.lead(mention.start, 8))[-1].split()
        puts = (talk.known.verbs - word_class("verb")).union(
            *map(word_class, ("puts_in", "goes_on", "before_tools"))
        )
        said = " ".join(clause)
        if (
            not puts.isdisjoint(clause)
            or phrases("added").search(said)
            or phrases("i_use").search(said)
        ):
            return True
        told = {"that's", "which", "it's"} & {*clause} and mention.start - had.end <= _SOON
        small = word_class("filler") | word_class("link") | word_class("function")
        return not told and all(word in small for word in clause)

    def _only_named(self, had: Mention, mention: Mention, amount: Amount) -> bool:
        """The food is worked with, shared out or talked of: "two of the eggs", "cut it in
        eight pieces of tofu"."""
        talk, old, food = self.talk, had.amount, mention.food
        lead = self._lead(mention.start, 9)
        assert old is not None
        if _same_amount(old, amount):
            return True
        shared = phrases("a_serving").search(lead) and _same_unit(old, amount)
        if shared and 0 < amount.value < old.value and old.value % amount.value == 0:
            return True
        pointed = talk.close(food.start) and talk.word(food.start - 1) in word_class("pointing")
        if amount.of and pointed and amount.start < food.start:
            return not phrases("corrects").search(f" {lead} ")
        counted = amount.unit is None or amount.unit.kind == "count"
        weighed = old.unit is not None and old.unit.weighs and not old.article
        return bool(weighed and counted and not self._adds(had, mention))

    def _tells_anew(self, mention: Mention) -> bool:
        """An amount without a word of correction takes the place of another: it opens its clause, or
        the speaker says that he uses it. Not "take one egg", nor "you get six in a bag"."""
        talk, amount = self.talk, mention.amount
        if amount is None or (amount.article and amount.unit is None):
            return False  # "there's grit in a leek"
        clause = re.split(r"[|,]", talk.lead(mention.start, 6))[-1].split()
        small = word_class("filler") | word_class("link") - {"take"} | word_class("correct")
        said = " ".join(clause)
        other = {"if", "when", "for"} & set(self._lead(mention.start, 9).split())
        if phrases("so_in_all").search(said) or clause[-2:] == ["make", "it"]:
            return True
        says = not other and phrases("i_use").search(said) is not None
        back = not word_class("correct").isdisjoint(clause)
        return says or back or all(word in small for word in clause)

    def _may_be_added(self, mention: Mention) -> bool:
        """ "you can throw in a handful": an addition; "you can use walnuts" is another choice."""
        wide = self._lead(mention.start, 10)
        if phrases("other_choice").search(wide):
            return False
        after = self.talk.said(mention.end, mention.end + 6)
        return phrases("addition").search(wide) is not None or (
            re.search(r"\b(?:on top|on there|in)\b|\bon it\b", after) is not None
        )

    def _corrected(self, mention: Mention) -> bool:
        """The speaker took an amount back just before this one."""
        ends = [m.end for m in self.out.found if m.end <= mention.start and not m.shared]
        start = max(*ends, mention.start - 14) if ends else mention.start - 14
        said = f" {self.talk.said(start, mention.start)} "
        said += ", " if self.talk.words[mention.start].breaks else ""
        return phrases("corrects").search(said) is not None

    # --- foods without amounts -----------------------------------------------------------------

    def _bare(self, mention: Mention) -> None:
        """A food without an amount becomes a line only where it plainly goes in."""
        if self.out.names(mention.food):
            return
        wide = self._lead(mention.start, 6)
        lead = wide.replace(" ,", ",")
        if phrases("refused").search(lead.replace(",", "")):
            return
        after = self.talk.said(mention.end, mention.end + 4)
        vague = phrases("vague_amount").search(lead)
        added = phrases("added")
        if vague is not None:
            mention.vague = "a bit of" if vague[0].endswith("bit of") else vague[0]
        if phrases("choice").search(wide) or re.match(
            r"^(?:,? ?)(?:on top )?if (?:you|they)\b", after
        ):
            put_in = bool(vague or added.search(" ".join(lead.split()[-4:])))
            if put_in and not phrases("other_choice").search(wide) and not self._declined(mention):
                mention.notes.append("optional")
                self._add(mention)
                return
        elif not self.late:
            near = any(0 <= mention.start - m.end <= 14 for m in self.out.found if not m.shared)
            put_in = near or bool(added.search(" ".join(lead.split()[-5:])))
            passing = re.match(r"^(?:with|job|is|are|was)\b", after)
            measured = vague is not None and (near or put_in or "left" in vague[0]) and not passing
            if not measured:
                mention.vague = ""
            if measured or (near and self._goes_in(mention, lead, after)):
                self._add(mention)
                return
        mention.vague = ""

    def _declined(self, mention: Mention) -> bool:
        """ "Some people add corned beef. Me, I don't": what is said next denies it."""
        for at in range(mention.end, min(mention.end + 2 * _SOON, self.talk.n)):
            if self.talk.food_length(at):
                return False
            if self.talk.text[at] in word_class("negative"):
                return self.talk._boundary(at + 1)
        return False

    def _goes_in(self, mention: Mention, lead: str, after: str) -> bool:
        """ "peas in there", "salt and pepper", "and then basil"."""
        broken = self.talk.words[mention.start].breaks
        if re.match(r"^(?:on|in) (?:there|it|top)\b", after) and not re.search(
            r"\b(?:the|your|that|those|my|goes|back|and)$", lead
        ):
            return True
        if set(mention.food.name) <= {"salt", "and", "pepper"} and (
            broken or re.search(r"(?:^|\b(?:and|with|some|then|plus))$", lead)
        ):
            return True
        return not broken and re.search(r"\b(?:and then|plus|add|adding)$", lead) is not None

    # --- what follows a mention ----------------------------------------------------------------

    def _trailing(self, mention: Mention) -> None:
        """Kind, state or brand named after the food: "the five percent one", "that's dry weight"."""
        end = max(mention.end, mention.food.end)
        said = self.talk.said(end, end + 9)
        amount = mention.amount
        if amount is not None and re.match(
            r"^(?:, )?(?:per|a|each) (?:person|head|serving|portion)\b(?! of)", said
        ) and self.talk.words[end].breaks != STRONG:  # fmt: skip
            mention.per_person = not amount.apiece
        one = phrases("the_one").match(said)
        if one and not any(w in mention.food.name for w in one["what"].split()):
            what = one["what"].replace(" percent", "%").strip()
            if self._tells(what.split()):
                mention.notes.append(_share(what))
                return
        if mention.food.notes:
            return
        share = re.match(r"^(?:[,|] )?the (\d{1,2})( percent)?( lean)?(?= |$)(?! of\b)", said)
        if share and amount is not None and (share[2] or float(share[1]) >= 60):
            lean = share[3] or not share[2]
            mention.notes.append(f"{share[1]}% lean" if lean else _share(f"{share[1]}%"))
            return
        state = phrases("state_behind").match(said)
        if state:
            mention.notes.append(state["state"])

    def _tells(self, words: list[str]) -> bool:
        """The words tell products apart: a flavour, a state, a percentage."""
        known = self.talk.known
        return (word_class("function") | known.ordinals.keys()).isdisjoint(words) and any(
            w in known.kinds or w in known.manners or "%" in w or w == "calorie" or known.fold(w) in known.food_words
            for w in words
        )  # fmt: skip

    def product_figures(self, figures: list[Figure]) -> None:
        """Figures of products go with the line they were said of."""
        for figure in figures:
            near = [
                m
                for m in self.out.found
                if not m.shared and m.start <= figure.end and figure.start - m.end <= 12
            ]
            if near:
                target, why = near[-1], "a figure of the product"
                if not any("calorie" in w for w in (*target.food.name, *target.notes)):
                    target.notes.append(figure.text)
                self.out.marks.append(("property", figure.start, figure.end, target, why))


def _share(text: str) -> str:
    """A share of the food in per cent: up to half of it is fat, more tells by the food what it is."""
    figure = re.search(r"(?:^| )(\d{1,2}(?:\.\d)?) ?%$", text)
    return f"{text} fat" if figure and float(figure[1]) <= 50 else text


def _take(target: Mention, mention: Mention, amount: Amount) -> None:
    """Give a line the amount of another mention."""
    target.amount, target.also = amount, []
    target.amount_spans += mention.amount_spans


def _same_unit(a: Amount, b: Amount) -> bool:
    return (a.unit.name if a.unit else "") == (b.unit.name if b.unit else "")


def _same_kind(a: Amount, b: Amount) -> bool:
    """The same unit, or two of mass or of volume: "800 grams, call it a kilo"."""
    if a.unit is None or b.unit is None:
        return a.unit is b.unit
    return a.unit.name == b.unit.name or (a.unit.weighs and a.unit.kind == b.unit.kind)


def _same_amount(a: Amount, b: Amount) -> bool:
    return _same_unit(a, b) and math.isclose(a.value, b.value, rel_tol=1e-6)


def _vessel(unit: Unit | None) -> bool:
    """What food is put in or served as, no measure of it."""
    vessels = word_class("vessel")
    return unit is not None and (unit.name in vessels or unit.said in vessels)
