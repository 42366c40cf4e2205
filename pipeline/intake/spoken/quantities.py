"""Quantities and foods in the words of a script, and how a recipe writes them."""

from __future__ import annotations

from dataclasses import replace

from pipeline.intake.spoken.starts import StartsPass
from pipeline.intake.spoken.talk import Amount, Mention
from pipeline.intake.spoken.vocabulary import (
    FLUFF,
    GOOD,
    PACKED_IN,
    PREP_AFTER,
    STOP,
    TIMES,
    VERBS,
    VESSELS,
)
from pipeline.intake.spoken.words import STRONG, Unit, Word, shown_number, singular


class QuantitiesPass(StartsPass):
    """Reads quantities and the foods they are of."""

    def _head_of(self, text: str) -> tuple[str, ...]:
        parts = [Word(w, 0, "") for w in text.split()]
        for at in range(len(parts)):
            length = self.known.food_at(parts, at)
            if length:
                return tuple(singular(w.text) for w in parts[at : at + length])
        return tuple(singular(w.text) for w in parts[-1:])

    def _amount(self, at: int, stop: int) -> Amount | None:
        """The quantity that begins at ``at``: number, size, unit; None when none does."""
        word = self.words[at]
        if word.value is None and not self.taken[at]:
            return self._bare_unit(at)
        if word.value is None or self.taken[at]:
            return None
        value = high = word.value
        end = at + 1
        if self._joined(end) in ("to", "or", "-") and end + 1 < stop:
            upper = self.words[end + 1]
            if upper.value is not None and not upper.article and upper.value > value:
                high, end = upper.value, end + 2
        if self._joined(end) in ("x", "times", "lots"):
            end += 1
        each: tuple[float, str] | None = None
        if end + 1 < stop and self.words[end].value is not None and not self.words[end].breaks:
            inner, length = self.known.unit_at(self.words, end + 1)
            if inner is not None and inner.kind in ("mass", "volume"):
                container, more = self.known.unit_at(self.words, end + 1 + length)
                if container is not None and container.kind in ("package", "count"):
                    each = (self.words[end].value or 0.0, inner.written)
                    end = end + 1 + length + more
                    has_of = self._joined(end) == "of"
                    return Amount(
                        at, end + has_of, value, high, container, "", word.article, each, has_of
                    )
        size = ""
        while (
            end < stop
            and not self.words[end].breaks
            and self._joined(end) in self.known.sizes | GOOD
        ):
            if self.known.food_at(self.words, end) > 1:
                break
            size = self._joined(end) if self._joined(end) in self.known.sizes else size
            end += 1
        unit, length = self.known.unit_at(self.words, end) if end < stop else (None, 0)
        if unit is not None and self.words[end].breaks == STRONG:
            unit, length = None, 0
        if (
            unit is not None
            and unit.kind in ("count", "trade")
            and not self._unit_is_meant(end, length)
        ):
            unit, length = None, 0
        end += length
        if unit is not None and self._joined(end) == "and" and end + 1 < stop:
            half = self.words[end + 1]
            after_half = self._joined(end + 2)
            closes = not after_half or after_half == "of" or after_half in STOP
            measure = unit.kind != "mass" or unit.written in ("kg", "lb")
            if half.share and half.value is not None and not half.breaks and closes and measure:
                value, high, end = value + half.value, high + half.value, end + 2
        if self._joined(end) == "worth":
            end += 1
        has_of = self._joined(end) == "of"
        vague = ""
        named = self.known.food_at(self.words, at + 1) > 1  # "a little gem lettuce"
        if (
            word.article
            and not named
            and self._joined(at + 1) in ("few", "couple", "bit", "load", "little")
        ):
            vague = f"a {self._joined(at + 1)}"
            end = at + 2
            if vague == "a little" and self._joined(end) == "bit":
                end += 1
            has_of = self._joined(end) == "of"
            unit = None
        return Amount(at, end + has_of, value, high, unit, size, word.article, each, has_of, vague)

    def _bare_unit(self, at: int) -> Amount | None:
        """ "handful of spinach", "bit of mustard": one of it, though no number is said."""
        if self._joined(at) == "bit" and self._joined(at + 1) == "of":
            return Amount(at, at + 2, 1.0, 1.0, None, "", True, has_of=True, vague="a bit")
        unit, length = self.known.unit_at(self.words, at)
        if unit is None or unit.kind != "trade" or self._joined(at + length) != "of":
            return None
        if self.known.food_at(self.words, at) > length:
            return None
        return Amount(at, at + length + 1, 1.0, 1.0, unit, "", True, has_of=True)

    def _unit_is_meant(self, at: int, length: int) -> bool:
        """A word such as "slice" or "ball" counts as a unit before "of" or a food, not by itself."""
        after = at + length
        if self._joined(after) == "of":
            return True
        if after < len(self.words) and self.words[after].value is not None:
            inner = self.known.unit_at(self.words, after + 1)[0]
            vessel = self._joined(at) in VESSELS or self._joined(at) in ("glass", "mug", "plate")
            return inner is not None and inner.kind == "mass" and not vessel
        if self.known.food_at(self.words, at) > length:
            return False
        return self.known.food_at(self.words, after) > 0 and not self.words[after].breaks

    def _food(
        self, at: int, stop: int, *, strict: bool, first_only: bool = False
    ) -> tuple[str, tuple[str, ...], int, str]:
        """The food named at ``at``: words, head, the index after it, and notes; "" when none is.

        Args:
            strict: only a food of the tables will do, and it must begin within three words.
            first_only: a second food behind a name of two words is another one ("soy sauce garlic").
        """
        words = self.words
        index = at
        while index < stop and words[index].breaks != STRONG and index - at < 4:
            word = words[index]
            fluff = word.text in FLUFF and word.value is None
            known = self.known.food_at(words, index) > 0
            strange = (
                not known
                and word.value is None
                and word.text not in STOP
                and singular(word.text) not in self.known.vocabulary
                and any(self.known.food_at(words, index + more) for more in (1, 2))
                and not words[min(index + 1, len(words) - 1)].breaks
                and word.text not in VERBS
            )
            if (fluff and not known) or strange:
                index += 1
            else:
                break
        begin, end = index, index
        last_food, head = 0, ()
        head_words: tuple[str, ...] = head
        lead: list[str] = []
        while end < stop and end - begin < 9:
            word = words[end]
            if end > begin and word.breaks and not (word.breaks and self._text(end - 1) == "of"):
                break
            if self.taken[end]:
                break
            if word.value is not None:
                if self._text(end + 1) == "percent":
                    lead.append(f"{shown_number(word.value)}%")
                    end += 2
                    if self._text(end) == "fat" and self.known.food_at(words, end + 1):
                        lead.append("fat")
                        end += 1
                    continue
                break
            length = self.known.food_at(words, end)
            if length and first_only and len(head_words) > 1:
                break
            if length:
                last_food = end + length
                head_words = tuple(singular(w.text) for w in words[end : end + length])
                lead.extend(w.text for w in words[end : end + length])
                end += length
                continue
            if word.text in STOP or word.text in VERBS:
                break
            strange = singular(word.text) not in self.known.vocabulary or word.text in FLUFF
            if last_food and strange and word.text not in self.known.manners:
                break
            lead.append(word.text)
            end += 1
        if not lead:
            return "", (), at, ""
        if not last_food:
            if strict:
                return "", (), at, ""
            named = [w for w in lead[:3] if w not in TIMES]
            return " ".join(named), tuple(singular(w) for w in named[-1:]), begin + len(named), ""
        if strict and self._first_food(begin, last_food) > begin + 2:
            return "", (), at, ""
        last_food = self._to_the_break(last_food, stop)
        text = " ".join(self._words_between(begin, last_food))
        end, notes = self._notes(last_food, stop)
        return text, head_words, end, notes

    def _to_the_break(self, at: int, stop: int) -> int:
        """Past one or two unknown words that a comma closes: "bacon medallions, one pepper"."""
        for end in range(at + 1, min(at + 3, stop)):
            said = [self.words[i] for i in range(at, end)]
            if any(
                w.breaks or w.value is not None or w.text in STOP | VERBS | FLUFF | TIMES
                or w.text in self.known.manners or w.text in PREP_AFTER or w.text in VESSELS
                for w in said
            ):  # fmt: skip
                return at
            if end < len(self.words) and self.words[end].breaks:
                return end
        return at

    def _first_food(self, begin: int, end: int) -> int:
        return next((i for i in range(begin, end) if self.known.food_at(self.words, i)), end)

    def _words_between(self, begin: int, end: int) -> list[str]:
        out: list[str] = []
        index = begin
        while index < end:
            word = self.words[index]
            if word.value is not None and self._text(index + 1) == "percent":
                out.append(f"{shown_number(word.value)}%")
                index += 2
                continue
            out.append(word.text)
            index += 1
        return out

    def _notes(self, at: int, stop: int) -> tuple[int, str]:
        """What is said of a food behind it: "in spring water drained", "sliced", "dry weight"."""
        notes: list[str] = []
        end = at
        if self._joined(end) == "in":
            for more in (1, 2, 3):
                if self._text(end + more) in PACKED_IN:
                    notes.append(" ".join(self.words[i].text for i in range(end, end + more + 1)))
                    end += more + 1
                    break
        said: list[str] = []
        while end < stop and end - at < 6:
            word = self.words[end]
            if word.breaks == STRONG or self.taken[end] or word.value is not None:
                break
            if word.text not in VERBS and (
                word.text in self.known.manners or word.text in PREP_AFTER
            ):
                if self.known.food_at(self.words, end) > 1:
                    break
                said.append(word.text)
                end += 1
            elif (
                said and word.text == "and" and self._joined(end + 1) in self.known.manners - VERBS
            ):
                said.append("and")
                end += 1
            else:
                break
        if said == ["whole"]:
            said = []
        if said:
            notes.append(" ".join(said))
        return end, ", ".join(notes)


def is_part(mention: Mention, earlier: Mention) -> bool:
    """The mention names an earlier food again, in fewer words: "the tuna"."""
    named = {singular(w) for w in earlier.food.split()}
    return set(mention.head) <= named


def quantity(amount: Amount) -> str:
    """A quantity as recipes write it: "120 g", "2 x 400 g tins", "a pinch of"."""
    unit = amount.unit.written if amount.unit is not None else ""
    if amount.each is not None:
        inner = f"{shown_number(amount.each[0])} {amount.each[1]}"
        if amount.unit is not None and amount.unit.kind == "package":
            return f"{shown_number(amount.value)} x {inner} {unit}"
        return f"{shown_number(amount.value * amount.each[0])} {amount.each[1]}"
    if amount.vague:
        return amount.vague
    number = shown_number(amount.value)
    if amount.high > amount.value:
        number = f"{number}-{shown_number(amount.high)}"
    return " ".join(part for part in (number, amount.size, unit) if part)


def scaled(amount: Amount, factor: float) -> Amount:
    if amount.each is not None and factor < 1 and amount.value == 1:
        return replace(amount, each=None, value=amount.each[0] * factor, high=amount.each[0] * factor,
                       unit=Unit(amount.each[1], "mass"))  # fmt: skip
    return replace(amount, value=amount.value * factor, high=amount.high * factor)


def written(mention: Mention, servings: float) -> str:
    """The line of a mention: "120 g rolled oats", "1 cup dates (150 g)", "some pumpkin seeds"."""
    notes = f", {mention.notes}" if mention.notes else ""
    if mention.amount is None:
        return f"{mention.food}{notes}"
    amount = mention.amount
    if mention.share != 1.0:
        amount = scaled(amount, mention.share)
    if mention.per_person and servings > 1:
        amount = scaled(amount, servings)
    also = f" ({mention.also})" if mention.also and mention.share == 1.0 else ""
    vague_of = "of " if amount.vague in ("a bit", "a load", "a little bit") else ""
    part = f"{mention.part} " if mention.part else ""
    return f"{part}{quantity(amount)} {vague_of}{mention.food}{also}{notes}"
