"""Third pass: ingredient mentions, a shared base, swaps and shares."""

from __future__ import annotations

import re
from dataclasses import replace

from pipeline.intake.model import cut
from pipeline.intake.spoken.quantities import QuantitiesPass, is_part, quantity
from pipeline.intake.spoken.talk import Amount, Mention, Segment
from pipeline.intake.spoken.vocabulary import (
    ALL_SAME,
    BASE_DEFINED,
    BASE_ENDS,
    BASE_SAME,
    CORRECTS,
    FLUFF,
    HEDGES,
    INSTEAD,
    LEAVE_OUT,
    NEGATIVE,
    PARTS,
    PASSED,
    POINTED,
    SECTION,
    SOME,
    STOP,
    SWAP,
    TIMES,
    VERBS,
    VESSELS,
    word_set,
)
from pipeline.intake.spoken.words import STRONG, shown_number, singular
from pipeline.problems import Problem


class MentionsPass(QuantitiesPass):
    """Finds the ingredient mentions of a recipe."""

    def _mentions(
        self,
        segment: Segment,
        base: list[Mention],
        before: list[Mention],
        whole: dict[tuple[str, ...], Mention],
        base_portions: float,
    ) -> tuple[list[Mention], list[Mention]]:
        """Mentions of one recipe; also its base, when it tells one that later recipes may share."""
        found: list[Mention] = []
        own_base: list[Mention] = []
        section = ""
        in_base = segment.is_base
        swaps: list[tuple[str, ...]] = []
        pending: Amount | None = None
        at = segment.body if segment.body >= segment.start else segment.start
        for index in range(segment.start, min(at, segment.end)):
            self.taken[index] = True
        while at < segment.end:
            if self.taken[at]:
                at += 1
                continue
            flow = self.flow[self._starts[at] : self._starts[at] + 90]
            new_section = SECTION.match(flow)
            if BASE_DEFINED.match(flow):
                in_base, section = True, "Base"
                lead = re.match(r"[^|,]{0,40}?\bbase\b", flow)
                at += len(lead[0].split()) if lead else 1
                continue
            if new_section:
                name = new_section[1]
                in_base = name == "base"
                section = f"For the {name}" if not in_base else "Base"
                at += len(new_section[0].split())
                continue
            if BASE_ENDS.match(flow):
                in_base, section = False, ""
                at += 3
                continue
            same = BASE_SAME.match(flow)
            everything = ALL_SAME.match(flow)
            if (same or everything) and not in_base:
                part = same["part"] if same else None
                portions = 1.0 / float(part) if part else base_portions
                taken_over = self._taken_over(
                    base if same else [], before, portions, everything is not None
                )
                if taken_over and not any(m.section == "Base" and m.share_text for m in found):
                    found.extend(taken_over)
                section = "Plus" if same else ""
                matched = same or everything
                assert matched is not None
                at += len([w for w in matched[0].split() if w not in (",", "|")])
                continue
            swap = SWAP.match(flow)
            if swap:
                head = self._head_of(swap["old"])
                at += len(swap[0].split())
                if head:
                    swaps.append(head)
                    found = [m for m in found if m.head[-1:] != head[-1:]]
                continue
            instead = INSTEAD.match(flow) or LEAVE_OUT.match(flow)
            if instead:
                head = self._head_of(instead["old"])
                if head:
                    found = [m for m in found if m.head[-1:] != head[-1:]]
                at += len(instead[0].split())
                continue
            share_end = self._share(at, found, whole, section, segment)
            if share_end:
                at = share_end
                pending = None
                continue
            amount = self._amount(at, segment.end)
            if amount is not None:
                at, pending = self._with_amount(amount, found, section, pending, segment)
            else:
                at = self._without_amount(at, found, section, segment)
            if in_base and found:
                own_base = [m for m in found if m.section == section]
        if pending is not None:
            self._unclear(pending)
        for mention in found:
            if mention.head:
                whole[mention.head] = mention
        return found, own_base

    def _taken_over(
        self, base: list[Mention], before: list[Mention], portions: float, everything: bool
    ) -> list[Mention]:
        """Lines of an earlier recipe that this one shares."""
        taken = before if everything or not base else base
        if not everything and not base:
            cut_at = next(
                (i for i, m in enumerate(before) if m.section and m.section != "Base"), len(before)
            )
            taken = before[:cut_at]
        share = 1.0 if everything or not base else 1.0 / portions
        return [
            replace(
                m, section="" if everything else "Base", share_text="shared", share=m.share * share
            )
            for m in taken
        ]

    def _with_amount(
        self, amount: Amount, found: list[Mention], section: str, pending: Amount | None,
        segment: Segment,
    ) -> tuple[int, Amount | None]:  # fmt: skip
        """A quantity: with the food after it, before it, or told a second time."""
        words, stop = self.words, segment.end
        following = self._text(amount.end)
        if amount.unit is None and (following in TIMES or following == "percent"):
            self._percent(amount, found)
            return amount.end + 1, pending
        measured = amount.unit is not None and amount.unit.kind in (
            "mass",
            "volume",
            "package",
            "trade",
        )
        backward = self._food_before(amount, found, segment)
        name_first = (
            backward is not None and not amount.has_of and not amount.article
            and (measured or words[amount.start].breaks or amount.end >= stop or words[amount.end].breaks)
        )  # fmt: skip
        food, head, end, notes = "", (), amount.end, ""
        head_words: tuple[str, ...] = head
        broken = amount.end < stop and words[amount.end].breaks and not amount.has_of
        if amount.end < stop and not (broken and words[amount.end].breaks == STRONG) and not (
            broken and name_first
        ):  # fmt: skip
            strict = not measured
            food, head_words, end, notes = self._food(amount.end, stop, strict=strict)
            if food and measured and not amount.has_of and not self.known.food_at(
                words, self._first_food(amount.end, end)
            ):  # fmt: skip
                food = ""
        if food and name_first and not amount.has_of and self._amount_soon(end, stop):
            food = ""  # "oats 50 grams yogurt 150 grams": the food stands before its amount
        if food:
            bare = amount.article and amount.unit is None and not amount.vague and not amount.size
            if bare and (self._dish_word(end) or not self._is_added(amount.start, found, segment)):
                return amount.start + 1, pending
            if self._refused(amount.start):
                self._take(amount.start, end)
                return end, None
            begin, part = self._part_of(amount.start)
            self._take(begin, end)
            self._put(
                found,
                Mention(begin, end, food, head_words, amount, section, notes=notes, part=part),
                pending,
            )
            return self._trailing(end, found, segment), None
        if not measured and not name_first:
            return amount.start + 1, pending
        if backward is not None:
            start, food, head_words = backward
            self._take(start, amount.end)
            end, notes = self._notes(amount.end, stop)
            self._put(
                found,
                Mention(start, amount.end, food, head_words, amount, section, notes=notes),
                None,
            )
            return self._trailing(end, found, segment), None
        if not measured:
            return amount.start + 1, pending
        last = found[-1] if found else None
        next_too = (
            last is not None
            and last.end == amount.start
            and amount.end < stop
            and words[amount.end].value is not None
        )  # "30 g oats, 1 scoop (25 g) whey"
        told = last is not None and self._only_hedges(last.end, amount.start) and not next_too
        if last is not None and told and not any(
            self._text(i) == "and" for i in range(last.end, amount.start)
        ):  # fmt: skip
            corrected = any(self._text(i) in CORRECTS for i in range(last.end, amount.start))
            self._told_again(last, amount, corrected)
            self._take(amount.start, amount.end)
            last.end = amount.end
            return amount.end, None
        self._take(amount.start, amount.end)
        if pending is not None:
            self._unclear(pending)
        return amount.end, amount

    def _part_of(self, at: int) -> tuple[int, str]:
        """ "the zest and juice of" before an amount: where it begins, and its words."""
        begin = at
        if self._text(at - 1) != "of" or self._text(at - 2) not in PARTS:
            return at, ""
        begin = at - 2
        if self._text(at - 3) == "and" and self._text(at - 4) in PARTS:
            begin = at - 4
        return begin, " ".join(self.words[i].text for i in range(begin, at))

    def _trailing(self, end: int, found: list[Mention], segment: Segment) -> int:
        """What directly follows a mention and changes it: "per person", "if you like"."""
        said = self.said(end, min(end + 5, segment.end))
        each = re.match(r"(?:, )?(per person|per serving|per portion|each)\b", said)
        if found and each:
            found[-1].per_person = True
            found[-1].end = end + len(each[1].split())
            return found[-1].end
        if found and re.match(
            r"(?:, )?(?:if you(?:'re| are|'d| want| like| fancy|d)|optional)", said
        ):
            found[-1].notes = ", ".join(n for n in (found[-1].notes, "optional") if n)
            return end + 2
        return end

    def _percent(self, amount: Amount, found: list[Mention]) -> None:
        """ "500 grams of turkey mince, the five percent one"."""
        if self._text(amount.end) != "percent" or not found or amount.start - found[-1].end > 4:
            return
        found[-1].notes = ", ".join(
            n for n in (found[-1].notes, f"{shown_number(amount.value)}% fat") if n
        )
        self._take(amount.start, amount.end + 1)

    def _amount_soon(self, at: int, stop: int) -> bool:
        for index in range(at, min(at + 2, stop)):
            amount = self._amount(index, stop)
            if amount is not None and amount.unit is not None and not amount.has_of:
                return amount.unit.kind in ("mass", "volume")
        return False

    def _food_before(
        self, amount: Amount, found: list[Mention], segment: Segment
    ) -> tuple[int, str, tuple[str, ...]] | None:
        """A food named shortly before its amount: "spinach, about 50 grams"."""
        floor = max(segment.body, amount.start - 9, 0)
        for mention in reversed(found):  # an amountless mention waits for its amount
            waits = mention.amount is None and not mention.share_text
            if (
                waits
                and floor < mention.end <= amount.start
                and self._only_hedges(mention.end, amount.start, wide=True)
            ):
                return mention.start, mention.food, mention.head
        for start in range(floor, amount.start):
            if self.taken[start]:
                continue
            length = self.known.food_at(self.words, start)
            end = start + length
            if not length or end > amount.start:
                continue
            if not self._only_hedges(end, amount.start, wide=True):
                continue
            begin = start
            while begin > floor and not self.words[begin].breaks and not self.taken[begin - 1] and (
                singular(self.words[begin - 1].text) in self.known.vocabulary
                and self.words[begin - 1].text not in STOP | VERBS | FLUFF
            ):  # fmt: skip
                begin -= 1
            if self._refused(begin):
                return None
            return begin, " ".join(self._words_between(begin, end)), tuple(
                singular(w.text) for w in self.words[start:end]
            )  # fmt: skip
        return None

    def _is_said_again(self, mention: Mention, earlier: Mention) -> bool:
        """The same food by the same name, or by fewer words and "the", "those", "again"."""
        if mention.head == earlier.head or mention.food == earlier.food:
            return mention.section == earlier.section or not mention.section
        pointed = {self._text(i) for i in range(max(mention.start - 4, 0), mention.start)}
        return is_part(mention, earlier) and bool(pointed & POINTED)

    def _joined_by_and(self, start: int, end: int) -> bool:
        """ "and" or a full stop stands between: two things, not one told twice."""
        return any(
            self.words[i].text == "and" or (self.words[i].breaks == STRONG and i > start)
            for i in range(start, min(end + 1, len(self.words)))
        )

    def _only_hedges(self, start: int, end: int, *, wide: bool = False) -> bool:
        """Nothing but small words between two places, so that the second tells the first again."""
        if end - start > (7 if wide else 6) or end < start:
            return False
        allowed = (
            HEDGES | word_set("i'm im doing use using we're were here there go for me and in on")
            if wide
            else HEDGES
        )
        return all(
            self.words[i].text in allowed or self.words[i].text in self.known.manners
            or self.taken[i] or self.words[i].text in ("torn", "up", "weight", "obviously", "lot")
            for i in range(start, end)
        )  # fmt: skip

    def _told_again(self, mention: Mention, amount: Amount, corrected: bool) -> None:
        """The amount of a mention in other words: "a cup of dates, so roughly 150 grams"."""
        had = mention.amount
        if had is None:
            mention.amount = amount
            return
        same_unit = (
            had.unit is not None
            and amount.unit is not None
            and had.unit.written == amount.unit.written
        )
        if same_unit and mention.per_person and had.value > 0 and not corrected:
            people = amount.value / had.value
            if people > 1.5 and abs(people - round(people)) < 0.02:
                self._derived = float(round(people))
        if same_unit and (corrected or mention.per_person or had.value != amount.value):
            mention.amount = replace(amount, start=had.start)
            mention.per_person = False
        elif not same_unit and not mention.also:
            mention.also = quantity(amount)

    def _put(self, found: list[Mention], mention: Mention, pending: Amount | None) -> None:
        """Add a mention, unless it tells an earlier one again."""
        if pending is not None and mention.amount is not None:
            joined = self._joined_by_and(pending.end, mention.start)
            if self._only_hedges(pending.end, mention.start, wide=True) and not joined:
                self._told_again(mention, pending, corrected=False)
            else:
                self._unclear(pending)
        for at, earlier in enumerate(found):
            if mention.amount is None and is_part(mention, earlier):
                return
            if earlier.head[-1:] != mention.head[-1:] or not mention.head:
                continue
            if earlier.amount is None and mention.amount is not None and not earlier.share_text:
                mention.section = mention.section or earlier.section
                found[at] = mention
                return
            if mention.amount is None:
                return
            same = earlier.amount is not None and quantity(earlier.amount) == quantity(
                mention.amount
            )
            if same and not earlier.share_text and self._is_said_again(mention, earlier):
                earlier.end = max(earlier.end, mention.end)
                return
        last = found[-1] if found else None
        if (
            last is not None and last.amount is None and mention.amount is not None
            and not last.share_text and not last.food.startswith("some ")
            and last.end <= mention.start and self._only_hedges(last.end, mention.start)
            and mention.start > last.end and not self._joined_by_and(last.end, mention.start)
        ):  # fmt: skip
            found[-1] = mention  # "you start with pasta, so 250 grams of fusilli"
            return
        found.append(mention)

    def _is_added(self, at: int, found: list[Mention], segment: Segment) -> bool:
        """True when a food without a measured amount is put in, not merely spoken of."""
        for back in range(1, 6):
            index = at - back
            if index < segment.start:
                return back <= 2
            word = self.words[index]
            if word.text in VERBS or word.text in ("plus",):
                return True
            if found and index < found[-1].end + 1 and found[-1].end <= at:
                return True
            if self.words[index + 1].breaks == STRONG:
                return index + 1 == at
        return False

    def _refused(self, at: int) -> bool:
        """ "no butter", "without oil", "instead of"."""
        for back in (1, 2, 3):
            index = at - back
            if index < 0 or self.words[index + 1].breaks == STRONG:
                return False
            if self.words[index].text in NEGATIVE:
                return True
            if self.words[index].text == "of" and self._text(index - 1) == "instead":
                return True
            if self.words[index].text not in FLUFF | word_set("add any need use need the"):
                return False
        return False

    def _without_amount(self, at: int, found: list[Mention], section: str, segment: Segment) -> int:
        """A food that is added without an amount: "top it off with some pumpkin seeds"."""
        length = self.known.food_at(self.words, at)
        if not length or (self._text(at) in VERBS and length == 1):
            return at + 1
        if length == 1 and self._joined(at + 1) in word_set(
            "it them this that everything into up out"
        ):
            return at + 1  # "roll it"
        begin = at
        floor = max(segment.start, at - 6)
        added = self._added_before(begin, floor, found)
        food, head, end, notes = self._food(at, segment.end, strict=True, first_only=True)
        if not food or not head:
            return at + 1
        nxt = self._amount_follows(end, segment.end)
        if not added or nxt or self._refused(begin) or self._dish_word(end):
            return end if not nxt else at + max(end - at, 1)
        quantity = self._text(begin - 1)
        vague = "some " if quantity in SOME else ""
        self._take(begin, end)
        mention = Mention(begin, end, f"{vague}{food}".strip(), head, None, section, notes=notes)
        self._put(found, mention, None)
        return self._trailing(end, found, segment)

    def _dish_word(self, end: int) -> bool:
        """The food is part of a dish's or a vessel's name: "the rice cooker", "tuna bowl"."""
        after = self.words[end] if end < len(self.words) else None
        return after is not None and not after.breaks and after.text in VESSELS

    def _amount_follows(self, end: int, stop: int) -> bool:
        """The food's own amount comes next: it will be read together with it."""
        for index in range(end, min(end + 6, stop)):
            amount = self._amount(index, stop)
            if amount is None:
                continue
            if amount.article and amount.unit is None:
                return False
            measured = amount.unit is not None and amount.unit.kind in ("mass", "volume", "package")
            alone = (
                amount.end >= stop
                or self.words[amount.end].breaks
                or not self.known.food_at(self.words, amount.end)
            )
            lone = amount.unit is None and self.words[index].breaks and alone and index == end
            if not self._only_hedges(end, index, wide=True):
                return False
            return bool((measured and not amount.has_of and alone) or lone)
        return False

    def _added_before(self, at: int, floor: int, found: list[Mention]) -> bool:
        for index in range(at - 1, floor - 1, -1):
            word = self.words[index]
            if self.words[index + 1].breaks == STRONG:
                return False
            if found and found[-1].end == index + 1:  # a list goes on: "... and paprika"
                between = {self.words[i].text for i in range(index + 1, at)}
                return (
                    bool(between & {"and", "plus", "with"} or self.words[at].breaks)
                    or index + 1 == at
                )
            if word.text in VERBS or word.text in ("plus", "some"):
                return True
            if word.text in FLUFF or word.text in PASSED or word.article:
                continue
            if word.text in SOME or word.value is not None:
                continue
            return False
        return False

    def _share(
        self, at: int, found: list[Mention], whole: dict[tuple[str, ...], Mention], section: str,
        segment: Segment,
    ) -> int:  # fmt: skip
        """ "the remaining quarter of the tofu", "the rest of the sauce", "three quarters of it"."""
        word = self.words[at]
        said = self.said(at, min(at + 8, segment.end))
        rest = re.match(
            r"(?:the |that )?(?:remaining|other|leftover|last) (?P<f>\S+)(?P<of> of)?", said
        )
        part: float | None = None
        remaining = False
        if rest is not None and word.text in (
            "the",
            "that",
            "remaining",
            "other",
            "leftover",
            "last",
        ):
            offset = 1 if word.text in ("the", "that") else 0
            fraction = self._text(at + offset + 1)
            number = self.words[at + offset + 1] if at + offset + 1 < segment.end else word
            if number.share and number.value is not None:
                part, remaining = number.value, True
                end = at + offset + 2
            elif fraction in ("half", "quarter", "third"):
                part, remaining = {"half": 0.5, "quarter": 0.25, "third": 1 / 3}[fraction], True
                end = at + offset + 2
            elif word.text in ("the", "that") and self._text(at + 1) in ("remaining", "leftover"):
                remaining, end = True, at + 2
            else:
                return 0
        elif re.match(r"the rest of (?:the |that )", said):
            remaining, end = True, at + 3
        elif (
            word.share
            and word.value is not None
            and re.match(r"\S+(?: \S+)? of (?:it|that|the|them)\b", said)
        ):
            part, end = word.value, at + 1
        else:
            return 0
        if self._text(end) == "of":
            end += 1
        pronoun = self._text(end) in ("it", "that", "them", "those")
        food, head, after, _ = (
            ("", (), end + 1, "") if pronoun else self._food(end, segment.end, strict=True)
        )
        head_words: tuple[str, ...] = head
        if not food:
            measured = [m for m in found if m.amount is not None]
            known = measured[-1] if measured and (pronoun or not remaining) else None
            if known is None and remaining:
                known = (
                    next(iter(reversed(list(whole.values()))), None)
                    if whole
                    else (found[-1] if found else None)
                )
            if known is None:
                return 0
            food, head_words = known.food, known.head
            after = max(end, end + 1 if pronoun else end)
        self._take(at, after)
        mine = next((m for m in found if m.head[-1:] == head_words[-1:]), None)
        if mine is not None:
            if part is not None and part < 1 and not remaining:
                mine.share = part
                mine.end = max(mine.end, after)
            elif remaining:
                mine.share = 1.0  # the rest is used in this recipe too
            return after
        earlier = next(
            (m for h, m in reversed(list(whole.items())) if h[-1:] == head_words[-1:]), None
        )
        if earlier is not None and earlier.amount is not None:
            used = part if part is not None else max(1.0 - earlier.share, 0.0)
            mention = replace(earlier, start=at, end=after, share=used or 1.0, section=section, share_text="",
                              also="", per_person=False)  # fmt: skip
            found.append(mention)
            return after
        lead = "the remaining " if remaining else ""
        size = {0.5: "half", 0.25: "quarter"}.get(part or 0.0, shown_number(part) if part else "")
        text = (
            f"{lead}{size} of the {food}".replace("  ", " ") if size else f"the rest of the {food}"
        )
        found.append(
            Mention(at, after, text.strip(), head_words, None, section, share_text="share")
        )
        return after

    def _unclear(self, amount: Amount) -> None:
        if amount.article and amount.unit is not None and amount.unit.written in VESSELS:
            return  # "on a tray"
        word = self.words[amount.start]
        around = self.said(max(amount.start - 5, 0), min(amount.end + 5, len(self.words)))
        when = f" at {word.time}" if word.time else ""
        self.problems.append(
            Problem(
                "spoken-amount-unclear",
                f'"{quantity(amount)}"{when} belongs to no food that could be made out',
                "it was left out",
                "add the line to the card if it is an ingredient",
                source=self.source,
                source_line=word.line,
                severity="warning",
                text=cut(around.replace(" |", ".")),
            )
        )
