"""The lines of one recipe: what is added, told again, corrected, shared, swapped or left out."""

from __future__ import annotations

import math
import re
from bisect import bisect_left
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from pipeline.intake.spoken.grammar import Amount, Food, Mention, Talk
from pipeline.intake.spoken.lexicon import Unit
from pipeline.intake.spoken.refusals import CHOICE, CORRECTS, REFUSED, Case, why_not
from pipeline.intake.spoken.segments import Segment
from pipeline.intake.spoken.tiling import Chunk
from pipeline.intake.spoken.totals import Figure
from pipeline.intake.spoken.words import STRONG, shown_number, word_set

_OTHER_CHOICE = re.compile(
    r"\b(?:don't have|haven't got|don't do|not got|can use|could use|use|swap|done it with|"
    r"used to|instead|or|rather|"
    r"can do [a-z]+ with|allergic|vegan|prefer|run out)\b"
)
_ADDITION = re.compile(
    r"\b(?:put|add|throw|throw in|chuck|pop|drop|do|have|stir in|top|sprinkle|scatter|squeeze|"
    r"crumble|grate|drizzle|"
    r"feeling|fancy|like|want|ask for it|you've|you've got|have got)\b"
)
_ADDED = re.compile(
    r"\b(?:put|add|throw|chuck|pop|drop|stir in|top|sprinkle|scatter|squeeze|crumble|grate|"
    r"drizzle)\b"
)
_VESSELS = word_set("tray pan pot dish bowl plate box tub glass mug pot portion piece packet bag")
_BACK = word_set("as before but only half of it time then now again with")
#: Packages of no usual size.
_LOOSE = word_set("packet bag box punnet carton tub container pack sachet")
_SEASONING = word_set("salt and pepper")
_REMAINING = re.compile(
    r"\b(?:remaining|rest of|remainder of|other|last of|leftover|left over|"
    r"what's left of)\b[a-z ]*$"
)


@dataclass(slots=True)
class Left:
    """Words that look like an ingredient and became none, and why."""

    start: int
    end: int
    why: str


@dataclass(slots=True)
class Reading:
    """The lines of one segment."""

    found: list[Mention] = field(default_factory=list)
    left: list[Left] = field(default_factory=list)
    marks: list[tuple[str, int, int, Mention | None, str]] = field(default_factory=list)
    unclear: list[Amount] = field(default_factory=list)
    servings: float = math.nan  # told by the lines: "half a tin each, so one tin"
    taken_from: int | None = None  # place of the recipe whose lines were taken over


def same_food(a: Food, b: Food) -> bool:
    """Two names for one food: the same head, and no words that tell kinds apart."""
    if a.name == b.name:
        return True
    return bool(a.head) and a.head == b.head


def named_again(short: Food, long: Food) -> bool:
    """The first names the second in fewer words: "the tuna", "the stock"."""
    words = {*short.head, *_folded(short)}
    whole = {*_folded(long), *long.head}
    return bool(words) and {*_folded(short)} <= whole | {"one"}


def _folded(food: Food) -> list[str]:
    from pipeline.foods.words import singular

    return [singular(w) for w in food.name if w.isalpha()]


class Lines:
    """Reads the lines of segments, one after another; remembers the base and the recipes before."""

    def __init__(self, talk: Talk, figures: list[Figure]) -> None:
        self.talk = talk
        self.figures = sorted(figures, key=lambda f: f.start)
        self.used: set[int] = set()  # amounts that changed a line said before
        self._figure_at = [f.start for f in self.figures]

    # --- one segment ---------------------------------------------------------------------------

    def read(
        self, segment: Segment, inherited: list[Mention], tail: int,
        said_before: Callable[[Chunk], Mention | None] | None = None,
    ) -> Reading:  # fmt: skip
        """Lines of a segment.

        Args:
            segment: the stretch.
            inherited: lines it has to begin with.
            tail: word at which mere talk begins.
            said_before: the line of an earlier recipe or base that a food without an amount means.
        """
        out = Reading(found=list(inherited))
        totals_end = max((t.end for t in segment.totals if t.complete), default=-1)
        first_total = min((t.start for t in segment.totals if t.complete), default=10**9)
        section = ""
        body = segment.place.body
        bare: list[Chunk] = []
        for at, chunk in enumerate(segment.chunks):
            if chunk.start < body:
                continue
            section = self._section(segment, chunk.start, section)
            before = [m for m in out.found if not m.shared and m.start < first_total]
            late = totals_end >= 0 and chunk.start > totals_end and len(before) >= 2
            if chunk.kind == "amount":
                ahead = segment.chunks[at + 1] if at + 1 < len(segment.chunks) else None
                if self._told_before(chunk, ahead, out.found[-1] if out.found else None):
                    continue
                self._told(chunk, out, bare, segment)
            elif chunk.kind == "both":
                assert chunk.mention is not None
                self._both(chunk.mention, out, section, late or chunk.start >= tail, segment)
            else:
                assert chunk.mention is not None
                back = said_before(chunk) if said_before is not None and not any(
                    named_again(chunk.mention.food, m.food) for m in out.found
                ) else None  # fmt: skip
                if back is not None:
                    back.start, back.end = chunk.start, chunk.end
                    out.found.append(back)
                    out.marks.append(
                        ("reference", chunk.start, chunk.end, back, "its amount was said before")
                    )
                    continue
                bare.append(chunk)
                self._bare(chunk.mention, out, section, late or chunk.start >= tail, segment)
        for mention in out.found:
            self._trailing(mention)
        self._product_figures(out, segment)
        return out

    def _section(self, segment: Segment, at: int, section: str) -> str:
        """ "for the sauce", "on top" shortly before a mention."""
        said = self.talk.said(max(at - 7, segment.start), at)
        every = list(_SECTION.finditer(said))
        found = every[-1] if every else None
        if found is not None and len(said[found.end() :].split()) <= 4:
            return found["name"] or "topping"
        return section

    def _told_before(self, chunk: Chunk, ahead: Chunk | None, last: Mention | None) -> bool:
        """ "a tablespoon or so, about 20 grams of honey": two amounts, then the food."""
        if ahead is None or ahead.kind != "both" or ahead.mention is None or chunk.amount is None:
            return False
        had, more = ahead.mention.amount, chunk.amount
        if had is None or had.unit is None or more.unit is None or had.unit.name == more.unit.name:
            return False
        if last is not None and self._links(last.end, more.start, 9):
            return False
        if not 0 < ahead.start - chunk.end <= 6 or not self._links(chunk.end, ahead.start, 6):
            return False
        if re.search(r"\b(?:and|of)\b", self.talk.said(chunk.end, ahead.start)) or more.unit.kind not in (
            "mass", "volume", "trade"
        ):  # fmt: skip
            return False
        ahead.mention.also.append(more)
        ahead.mention.amount_spans.append((chunk.start, chunk.end))
        return True

    # --- amounts told --------------------------------------------------------------------------

    def _told(self, chunk: Chunk, out: Reading, bare: list[Chunk], segment: Segment) -> None:
        """An amount without a food of its own."""
        talk, amount = self.talk, chunk.amount
        assert amount is not None
        lead = talk.said(amount.start - 4, amount.start)
        last = out.found[-1] if out.found else None
        if re.search(r"\b(?:remaining|other)$", lead):
            self._rest(chunk, out, segment)
            return
        after = talk.said(chunk.end, chunk.end + 8)
        of_that = re.match(r"^(?:of (?:that|it|those|them))\b", after) or (
            talk.text[chunk.end - 1] in ("that", "it") and chunk.end - amount.end >= 1
        )
        if of_that and last is not None and last.amount is not None and amount.value < 1 and (
            amount.unit is None and last.amount.unit is None and last.amount.value == 1
            and amount.start - last.end < 8
        ):  # fmt: skip
            last.amount = amount
            last.amount_spans.append((chunk.start, chunk.end))
            return
        if of_that and last is not None and last.amount is not None and last.amount.each is not None and (
            amount.value < 1 and amount.unit is None and amount.start - last.end < 8
        ):  # fmt: skip
            last.share *= amount.value
            last.amount_spans.append((chunk.start, chunk.end))
            return
        if re.match(r"^is (?:too|way|not|plenty|enough)\b", after):
            out.left.append(Left(chunk.start, chunk.end, "mentioned in passing"))
            return
        if of_that and last is not None:
            out.left.append(Left(chunk.start, chunk.end, "a part of what was named before"))
            return
        on = re.match(r"^(?:by the way )?(?:on|of|for) (?:the|my|your) ", after)
        if chunk.end < talk.n and talk.words[chunk.end].breaks == STRONG:
            on = None
        target: Mention | None = None
        if on and amount.measured:
            begin = chunk.end + len(on[0].split())
            food = talk.food_span(begin, measured=False) if begin < talk.n else None
            target = (
                self._waiting(food, out, segment, bare) if food is not None and food.known else None
            )
            if target is not None:
                self._give(target, amount, chunk, out)
                return
        placed = amount.article and talk.word(amount.start - 1) in ("in", "on", "into", "onto")
        if (
            last is not None
            and not placed
            and self._links(last.end, amount.start, 9, back=bool(last.shared))
        ):
            corrected = CORRECTS.search(talk.said(last.end, amount.start) + " ") is not None
            self._tell(last, amount, chunk, out, corrected=corrected)
            return
        named = next(
            (b for b in reversed(bare) if b.end <= amount.start and amount.start - b.end <= 8), None
        )
        if named is not None and named.mention is not None and amount.measured and self._links(
            named.end, amount.start, 8
        ):  # fmt: skip
            mention = next((m for m in out.found if m is named.mention), None)
            if mention is None and not any(
                named_again(named.mention.food, m.food) for m in out.found
            ):
                mention = named.mention
                out.found.append(mention)
            if mention is not None and mention.amount is None:
                self._give(mention, amount, chunk, out)
                return
        if self._for_unseen(chunk, out, segment):
            return
        if not out.found and amount.each is not None and segment.title_span[1]:
            food = self._title_food(segment)
            if food is not None and amount.start - segment.title_span[1] < 12:
                mention = Mention(amount.start, chunk.end, food, amount)
                mention.amount_spans.append((chunk.start, chunk.end))
                out.found.append(mention)
                return
        if amount.measured and amount.unit is not None and not amount.article and (
            amount.unit.kind in ("mass", "volume")
        ):  # fmt: skip
            out.unclear.append(amount)
        vessel = amount.unit is not None and _vessel(amount.unit)
        if chunk.start not in self.used and not vessel:
            out.left.append(Left(chunk.start, chunk.end, "an amount without a food"))

    def _for_unseen(self, chunk: Chunk, out: Reading, segment: Segment) -> bool:
        """An amount behind a food that has no line yet: "put the parsley in, I use a whole bunch"."""
        unit = chunk.amount.unit if chunk.amount is not None else None
        if unit is None or _vessel(unit) or chunk.amount is None or chunk.start in self.used:
            return False
        if unit.kind not in ("count", "package") or not chunk.amount.article:
            return False
        at = bisect_left([c.start for c in segment.chunks], chunk.start)
        for before in segment.chunks[max(at - 3, 0) : at][::-1]:
            food = before.mention.food if before.mention is not None else None
            if food is None or chunk.start - before.end > 15 or before.start < segment.place.body:
                continue
            if any(named_again(food, m.food) or same_food(food, m.food) for m in out.found):
                continue
            part = before.amount is not None and before.amount.of
            if not part and food.determined not in ("the", "that", "those", "your", "my"):
                continue
            mention = (
                Mention(before.mention.start, food.end, food, chunk.amount)
                if before.mention
                else None
            )
            if mention is None:
                return False
            mention.amount_spans.append((chunk.start, chunk.end))
            out.found.append(mention)
            return True
        return False

    def _title_food(self, segment: Segment) -> Food | None:
        """The food that the dish is named after: "the acai bowl is two of the frozen packs"."""
        talk = self.talk
        start, end = segment.title_span
        while end > start and talk.text[end - 1] in talk.known.classes["dish"]:
            end -= 1
        if end <= start:
            return None
        food = talk.food_span(start, measured=True, weighed=True)
        if food is None or food.end > segment.title_span[1]:
            name = talk.text[start:end]
            found = talk.known.sounding_like(" ".join(name))
            food = Food(
                start,
                end,
                list(found[0]) if found else name,
                found[0] if found else (),
                bool(found),
            )
        return food

    def _waiting(
        self, food: Food, out: Reading, segment: Segment, bare: list[Chunk]
    ) -> Mention | None:
        """The mention of a food that still lacks its amount."""
        for mention in out.found:
            if mention.amount is None and named_again(food, mention.food):
                return mention
        if any(named_again(food, m.food) or same_food(food, m.food) for m in out.found):
            return None
        for chunk in bare:
            if chunk.mention is not None and named_again(food, chunk.mention.food):
                out.found.append(chunk.mention)
                return chunk.mention
        mention = Mention(food.start, food.end, food)
        out.found.append(mention)
        return mention

    def _give(self, mention: Mention, amount: Amount, chunk: Chunk, out: Reading) -> None:
        mention.amount = amount
        mention.amount_spans.append((chunk.start, chunk.end))

    def _tell(
        self, mention: Mention, amount: Amount, chunk: Chunk, out: Reading, *, corrected: bool
    ) -> None:
        """The amount of a mention in other words: "a cup of dates, so roughly 150 grams"."""
        mention.amount_spans.append((chunk.start, chunk.end))
        mention.end = max(mention.end, chunk.end)
        had = mention.amount
        if had is None:
            mention.amount = amount
            return
        unit = amount.unit
        same_unit = had.unit is not None and unit is not None and had.unit.name == unit.name
        if same_unit and re.search(
            r"\b(?:each|per person|apiece)\b.*\bso\b",
            self.talk.said(mention.food.end, amount.start),
        ):
            if had.value and (amount.value / had.value).is_integer() and amount.value > had.value:
                out.servings = amount.value / had.value
            mention.amount = amount
            return
        if corrected and any(_same_amount(r, amount) for r in mention.refused):
            return
        if corrected and amount.each is None:
            mention.refused.append(had)
            mention.amount = amount
            return
        if mention.shared and amount.measured and amount.each is None:
            mention.amount, mention.also, mention.shared = amount, [], "changed"
            return
        if same_unit and not amount.apiece:
            return
        if unit is None or _vessel(unit):
            return
        behind = self.talk.said(chunk.end, chunk.end + 1)
        if unit is not None and unit.kind in ("mass", "volume") and had.each is None and had.value > 1 and (
            had.unit is not None and had.unit.kind == "package" and (behind in ("ones", "each") or amount.apiece)
        ):  # fmt: skip
            had.each = (amount.value, unit.said)
            return
        if (
            amount.each is not None
            and had.each is None
            and had.unit is not None
            and unit is not None
        ):
            had.each = amount.each
            return
        loose = had.unit is None or had.unit.kind in ("package", "count", "trade")
        one = had.value == 1 and had.unit is not None and had.unit.name in ("tin", "jar")
        if unit.kind in ("mass", "volume") and had.each is None and loose and (
            amount.apiece or one
        ):  # fmt: skip
            had.each = (amount.value, unit.said)
            return
        mention.also.append(amount)

    def _links(self, start: int, end: int, most: int, *, back: bool = False) -> bool:
        """Only words stand between "
        "that tell an amount once more (``back``: of what was said before)."""
        talk = self.talk
        if not 0 <= end - start <= most or (
            end > start and talk.text[end - 1] in ("and", "plus", "then")
        ):
            return False
        link = talk.known.classes["link"] | talk.known.classes["correct"]
        for at in range(start, end):
            text = talk.text[at]
            if back and (text in _BACK or talk.words[at].share):
                continue
            if text == "percent" or (
                talk.words[at].value is not None and talk.word(at + 1) == "percent"
            ):
                continue
            if text in link or text in talk.known.prep or text in talk.known.manners:
                continue
            if text in (
                "ones",
                "one",
                "pack",
                "weight",
                "depending",
                "size",
                "good",
                "in",
                "and",
                "obviously",
                "for",
                "i",
                "got",
                "lot",
                "call",
                "weighed",
                "on",
                "altogether",
                "my",
                "them",
                "a's",
                "do",
                "usually",
                "use",
                "using",
                "today",
            ):
                continue
            if text.endswith("'s") and talk.folded[at].removesuffix(
                "'s"
            ) in talk.known.food_words | {"punnet", "handful"}:
                continue
            return False
        return not any(
            talk.words[i].breaks == STRONG and talk.text[i] in ("and", "then", "now")
            for i in range(start, end)
        )

    # --- foods with amounts --------------------------------------------------------------------

    def _both(
        self, mention: Mention, out: Reading, section: str, late: bool, segment: Segment
    ) -> None:
        talk, amount, food = self.talk, mention.amount, mention.food
        assert amount is not None
        lead = self._lead(mention.start, 7)
        case = Case(talk, mention, lead, self._lead(mention.start, 9), segment.title)
        why = why_not(case, out.found, late=late)
        if why == "offered as a choice" and self._may_be_added(mention, segment):
            why = ""
            mention.notes.append("optional")
        corrected = self._corrected(mention, out)
        same = [
            m for m in out.found
            if same_food(m.food, food) or (m.amount is None and named_again(m.food, food))
        ]  # fmt: skip
        if corrected and (same or corrected is not True):
            target = same[-1] if same else out.found[-1]
            if not same:
                target.food = food
            if any(_same_amount(r, amount) for r in target.refused):
                return
            if target.amount is not None:
                target.refused.append(target.amount)
            target.amount = amount
            target.also = []
            target.amount_spans += mention.amount_spans
            target.end = mention.end
            out.marks.append(("ingredient", mention.start, mention.end, target, ""))
            return
        if why:
            out.left.append(Left(mention.start, mention.end, why))
            return
        told_anew = re.search(r"\b(?:it's|its|instead|but|just|only|use|make it|so)\b", lead) or (
            "instead" in talk.said(mention.end, mention.end + 3)
        )
        if same:
            had = same[-1]
            if had.shared and had.amount is not None and _same_amount(had.amount, amount):
                return
            if had.shared and had.amount is not None and told_anew:
                had.amount, had.also = amount, []
                had.amount_spans += mention.amount_spans
                had.start, had.end = mention.start, mention.end
                had.shared = "changed"
                return
            if had.shared and had.amount is not None:
                mention.section = section
                out.found.append(mention)
                return
            if had.amount is None:
                had.amount = amount
                had.food = food if len(food.name) >= len(had.food.name) else had.food
                had.amount_spans += mention.amount_spans
                return
            if _same_amount(had.amount, amount) and (
                not re.search(r"\b(?:another|more|extra)\b", talk.said(amount.start - 2, mention.food.start))
            ):  # fmt: skip
                out.marks.append(("ingredient", mention.start, mention.end, had, ""))
                return
            if 0 <= mention.start - had.end <= 12 and _same_unit(had.amount, amount) and not re.search(
                r"\b(?:another|more|extra|plus|and)\b", talk.said(had.end, mention.food.start)
            ):  # fmt: skip
                had.amount, had.also = amount, []
                had.amount_spans += mention.amount_spans
                return
            if (
                had.amount.article
                and amount.value < 1
                and amount.unit is None
                and had.amount.unit is None
            ):
                had.amount = amount
                return
            if food.determined in ("the", "that", "those", "this", "these") and amount.of:
                out.left.append(Left(mention.start, mention.end, "a part of what was named before"))
                return
        else:
            shorter = next(
                (m for m in out.found if m.shared
                 and (named_again(m.food, food) or (food.known and named_again(food, m.food)))), None,
            )  # fmt: skip
            if shorter is not None and (told_anew or not named_again(food, shorter.food)):
                if len(food.name) >= len(shorter.food.name):
                    shorter.food = food
                shorter.amount, shorter.also = amount, []
                shorter.amount_spans += mention.amount_spans
                shorter.start, shorter.end, shorter.shared = mention.start, mention.end, "changed"
                return
        mention.section = section
        out.found.append(mention)

    def _may_be_added(self, mention: Mention, segment: Segment) -> bool:
        """ "you can throw in a handful": an addition; "you can use walnuts" is another choice."""
        talk = self.talk
        wide = self._lead(mention.start, 10)
        if _OTHER_CHOICE.search(wide):
            return False
        ends = [t.end for t in segment.totals if t.complete and t.end <= mention.start]
        if ends and mention.start - max(ends) > 25:
            return False
        after = talk.said(mention.end, mention.end + 6)
        return (
            _ADDITION.search(wide) is not None
            or re.search(r"\b(?:in it|on it|on top|on there|in there|in)\b", after) is not None
        )

    def _corrected(self, mention: Mention, out: Reading) -> bool:
        """The speaker took an amount back just before this one."""
        talk = self.talk
        if not out.found:
            return False
        last = max(
            (m.end for m in out.found if m.end <= mention.start and not m.shared), default=-1
        )
        start = max(last, mention.start - 14)
        said = " " + talk.said(start, mention.start) + " "
        return CORRECTS.search(said) is not None

    def _lead(self, at: int, words: int) -> str:
        """Words before a place, back to the full stop before it."""
        talk = self.talk
        start = at
        while start > 0 and at - start < words:
            if talk.words[start].breaks == STRONG:
                break
            start -= 1
        return talk.said(start, at)

    def _bare(
        self, mention: Mention, out: Reading, section: str, late: bool, segment: Segment
    ) -> None:
        """A food without an amount becomes a line only where it plainly goes in."""
        talk, food = self.talk, mention.food
        ends = [t.end for t in segment.totals if t.complete and t.end <= mention.start]
        if late and ends and mention.start - max(ends) > 25:
            return
        if any(named_again(food, m.food) or same_food(food, m.food) for m in out.found):
            return
        lead = self._lead(mention.start, 6).replace(" ,", ",")
        vague = re.search(r"\b(?:some|a little|a little bit of|little bit of|a bit of|bit of|plenty of|loads of|"
                          r"what's left of the|a drop of|lots of)$", lead)  # fmt: skip
        if any(named_again(food, m.food) for m in out.found):
            return
        wide = self._lead(mention.start, 6)
        after = talk.said(mention.end, mention.end + 4)
        choice = CHOICE.search(wide) or re.match(r"^(?:,? ?)(?:on top )?if (?:you|they)\b", after)
        if REFUSED.search(lead.replace(",", "")):
            return
        if choice:
            added = _ADDED.search(" ".join(lead.split()[-4:])) is not None
            if not _OTHER_CHOICE.search(wide) and (vague or added):
                mention.vague = _vague(vague[0]) if vague else ""
                mention.notes.append("optional")
                mention.section = section
                out.found.append(mention)
            return
        if late:
            return
        near = any(0 <= mention.start - m.end <= 14 for m in out.found if not m.shared)
        put_in = _ADDED.search(" ".join(lead.split()[-5:])) is not None
        if vague and (near or put_in or "left" in vague[0]) and self._adds(mention):
            mention.vague = _vague(vague[0])
            mention.section = section
            out.found.append(mention)
        elif (near and re.match(r"^(?:on|in) (?:there|it|top)\b", after) and not re.search(
            r"\b(?:the|your|that|those|my|goes|back)$", lead
        ) and lead.split()[-1:] != ["and"]) or (near and set(food.name) <= _SEASONING and (
            talk.words[mention.start].breaks or re.search(r"(?:^|\b(?:and|with|some|then|plus))$", lead)
        )) or (
            near
            and re.search(r"\b(?:and then|plus|add|adding)$", lead)
            and not talk.words[mention.start].breaks
        ):  # fmt: skip
            mention.section = section
            out.found.append(mention)

    def _adds(self, mention: Mention) -> bool:
        after = self.talk.said(mention.end, mention.end + 4)
        return re.match(r"^(?:with|job|is|are|was)\b", after) is None

    def _rest(self, chunk: Chunk, out: Reading, segment: Segment) -> None:
        """ "the remaining quarter": the food whose other part was named before."""
        amount = chunk.amount
        assert amount is not None
        for mention in reversed(out.found):
            had = mention.amount
            if had is None:
                continue
            if amount.unit is None and had.unit is None and had.value < 1 and (
                abs(had.value + amount.value - 1) < 0.01
            ):  # fmt: skip
                line = Mention(chunk.start, chunk.end, mention.food, amount, notes=["the rest"])
                line.amount_spans = [(chunk.start, chunk.end)]
                out.found.append(line)
                return
        out.left.append(Left(chunk.start, chunk.end, "the rest of what was named before"))

    # --- what follows a mention ----------------------------------------------------------------

    def _trailing(self, mention: Mention) -> None:
        """Kind, state or brand "
        "told behind the food: "the five percent one", "that's dry weight"."""
        if mention.shared:
            return
        talk = self.talk
        end = max(mention.end, mention.food.end)
        said = talk.said(end, end + 9)
        each = re.match(r"^(?:, )?(per person|per serving|per portion|each)\b", said)
        if each and mention.amount is not None and not mention.amount.apiece and (
            mention.amount.unit is None or mention.amount.unit.kind != "mass"
        ):  # fmt: skip
            mention.per_person = each[1] != "each"
        one = _ONE.match(said)
        if one and not any(w in mention.food.name for w in one["what"].split()):
            what = one["what"].replace(" percent", "%").strip()
            words = what.split()
            if self._tells(words):
                mention.notes.append(f"{what} fat" if what.endswith("%") else what)
                return
        lean = re.match(r"^(?:[,|] )?the (?P<pct>\d{2})(?: percent)?(?P<lean> lean)?(?= |$)", said)
        if (
            lean
            and mention.amount is not None
            and 60 <= float(lean["pct"]) < 100
            and not mention.food.notes
        ):
            mention.notes.append(f"{lean['pct']}% lean")
            return
        state = re.match(
            r"^(?:[,|] )?(?:(?:and|that's|thats|that was|this is|it's|its|obviously|also|"
            r"which is|that one's) ){0,3}"
            r"(?P<state>raw|cooked|dry|uncooked|drained)(?: weight)?(?= [|,]|$| and| so| okay| i | weigh)", said,
        )  # fmt: skip
        if state and not mention.food.notes:
            mention.notes.append(state["state"])

    def _tells(self, words: list[str]) -> bool:
        """The words tell products apart: a flavour, a state, a percentage."""
        known = self.talk.known
        return any(
            w in known.kinds or w in known.manners or "%" in w or w == "calorie" or known.fold(w) in known.food_words
            for w in words
        ) and not any(w in known.classes["function"] for w in words)  # fmt: skip

    def _product_figures(self, out: Reading, segment: Segment) -> None:
        """Figures of products go with the line they were said of."""
        lo, hi = (bisect_left(self._figure_at, x) for x in (segment.start, segment.end))
        for figure in self.figures[lo:hi]:
            near = [
                m
                for m in out.found
                if not m.shared and m.start <= figure.end and figure.start - m.end <= 12
            ]
            if near:
                target = near[-1]
                if not any("calorie" in w for w in (*target.food.name, *target.notes)):
                    target.notes.append(figure.text)
                out.marks.append(
                    ("property", figure.start, figure.end, target, "a figure of the product")
                )


_ONE = re.compile(
    r"^(?:[,|] )?(?:(?:and|this time|i use|i got|that's|these are|those are|they're|it's|get|use|"
    r"obviously) ){0,2}the (?P<what>(?:[a-z0-9.%]+ ){1,4}?)"
    r"(?:(?:ones?|kind|type|stuff|version)\b|1(?=$| [|,]| (?:and|so|then|in|it|that|which|on)\b))"
)
_SECTION = re.compile(
    r"\b(?:for|make|now|do) (?:the|your|my|our) (?P<name>sauce|dressing|topping|marinade|"
    r"filling|salsa|glaze|frosting|dip|"
    r"crumble|dough|batter|slaw|base|icing)\b|\b(?:on|over the) top\b|\byour toppings\b"
)


def _same_unit(a: Amount, b: Amount) -> bool:
    name = a.unit.name if a.unit is not None else ""
    return name == (b.unit.name if b.unit is not None else "")


def _same_amount(a: Amount, b: Amount) -> bool:
    name = a.unit.name if a.unit is not None else ""
    other = b.unit.name if b.unit is not None else ""
    return name == other and math.isclose(a.value, b.value, rel_tol=1e-6)


def _vessel(unit: Unit) -> bool:
    """What food is put in or served as, no measure of it."""
    return unit.name in _VESSELS or unit.said in _VESSELS


def _vague(said: str) -> str:
    return "a bit of" if said.endswith("bit of") else said


def _by_weight(amount: Amount) -> bool:
    """Weighed or in millilitres, not in spoons or cups."""
    unit = amount.unit
    return (
        unit is not None
        and unit.kind in ("mass", "volume")
        and unit.name not in ("tsp", "tbsp", "cup")
    )


# --- writing --------------------------------------------------------------------------------------


def quantity(amount: Amount) -> str:
    """A quantity as recipes write it: "120 g", "2 x 400 g tins"."""
    unit = amount.unit.said if amount.unit is not None else ""
    if amount.each is not None:
        inner = f"{shown_number(amount.each[0])} {amount.each[1]}"
        if amount.unit is not None and amount.unit.kind == "package":
            return f"{shown_number(amount.value)} x {inner} {unit}"
    number = shown_number(amount.value)
    if amount.high > amount.value:
        number = f"{number}-{shown_number(amount.high)}"
    return " ".join(part for part in (number, amount.size, unit) if part)


def scaled(amount: Amount, factor: float) -> Amount:
    """An amount times a factor."""
    if amount.each is not None and factor < 1 and amount.value == 1:
        unit = Unit(amount.each[1], "mass", amount.each[1])
        value = amount.each[0] * factor
        return replace(amount, each=None, value=value, high=value, unit=unit)
    return replace(amount, value=amount.value * factor, high=amount.high * factor)


def written(mention: Mention, servings: float) -> str:
    """A mention as a recipe line."""
    name = " ".join(mention.food.name).replace(" %", "%")
    ways = [mention.amount, *mention.also]
    shown = [w for w in ways if w is not None]
    if mention.per_person and servings > 1:
        shown = [scaled(w, servings) for w in shown]
    if mention.share != 1.0:
        shown = [scaled(w, mention.share) for w in shown]
    weights = [w for w in shown if _by_weight(w)]
    if weights and shown[0].unit is not None and shown[0].unit.name in _LOOSE:
        shown = weights  # "two packs of mince, 750 grams altogether"
    behind = ""
    lead = ""
    if shown:
        first = shown[0]
        unit = first.unit
        loose = (
            unit is not None and unit.kind == "package" and unit.name not in ("tin", "jar", "pouch")
        )
        if (
            loose
            and first.each is not None
            and first.value == 1
            and first.each[1] in ("g", "kg", "oz", "lb")
        ):
            lead = f"{shown_number(first.each[0])} {first.each[1]}"
        elif first.each is not None and (unit is None or unit.kind != "package"):
            lead = quantity(replace(first, each=None))
            behind = f" ({shown_number(first.each[0])} {first.each[1]} each)"
        else:
            lead = quantity(first)
        if len(shown) > 1:
            behind = f" ({', '.join(quantity(w) for w in shown[1:2])})"
    elif mention.vague and not mention.vague.startswith("what"):
        lead = mention.vague
    text = " ".join(part for part in (lead, name) if part)
    if mention.part:
        text = f"{mention.part} {text}" if mention.part.endswith("of") else text
    notes = ", ".join(dict.fromkeys([*mention.food.notes, *mention.notes]))
    return f"{text}{behind}" + (f", {notes}" if notes else "")
