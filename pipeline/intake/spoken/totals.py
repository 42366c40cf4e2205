"""Statements of numbers of a script: passages bound the best way, without what is no total of a dish."""

from __future__ import annotations

from pipeline.intake.spoken.amounts import amount_at
from pipeline.intake.spoken.basis import add_share, set_bases
from pipeline.intake.spoken.binding import Binder
from pipeline.intake.spoken.labels import number_at
from pipeline.intake.spoken.owners import DISH, PRODUCT, owner
from pipeline.intake.spoken.passages import names_dish, passages
from pipeline.intake.spoken.phrases import word_class
from pipeline.intake.spoken.stated import ENERGY, MACROS, Figure, Stated, Total, is_share
from pipeline.intake.spoken.talk import Talk

_AGAIN = (0.7, 1.4)  # a number told again, by the one before
_SOON = 8  # words behind a number in which it is told again
_BACK = 14  # words before a passage in which those of correction stand


class Totals:
    """The statements of a script and the figures of products.

    Attributes:
        talk: all that is said.
        found: the statements, in order.
        figures: of products.
    """

    def __init__(self, talk: Talk) -> None:
        self.talk = talk
        self.found: list[Total] = []
        self.figures: list[Figure] = []
        self._bind()
        self.found = [one for t in self.found if t.complete for one in self._told_apart(t)]
        taken = {at for t in self.found for p in t.parts for at in range(p.start, p.end)}
        for total in self.found:
            for part in list(total.parts):
                self._told_again(part, taken)
                if part.tag == ENERGY:
                    add_share(talk, total, part, taken)

    def _bind(self) -> None:
        """Bind the passages and keep what is of a dish or of a product."""
        binder = Binder(self.talk)
        for items in passages(self.talk):
            best = binder.best(items)
            owners = [(part, owner(self.talk, part, best.parts)) for part in best.parts]
            self.figures += [
                Figure(part.start, part.end, f"{part.value:g} calorie")
                for part, of in owners if of == PRODUCT
            ]  # fmt: skip
            parts = [part for part, of in owners if of == DISH]
            if not any(p.tag in (ENERGY, *MACROS) for p in parts):
                continue
            set_bases(self.talk, parts)
            start, end = min(p.start for p in parts), max(p.end for p in parts)
            self.found.append(Total(start, end, parts, self._corrects(items[0].start)))
            binder.remember(best)

    def _corrects(self, at: int) -> bool:
        """Words of correction stand shortly before a passage."""
        back = word_class("correct") - {"mean", "actually"}
        return not back.isdisjoint(self.talk.text[max(at - _BACK, 0) : at])

    def _told_apart(self, total: Total) -> list[Total]:
        """The statements of a passage that states the same nutrients anew, in a sentence of its own
        or behind the name of another dish; a batch and its share stay together."""
        parts = sorted(total.parts, key=lambda p: p.start)
        energies = [at for at, part in enumerate(parts) if part.tag == ENERGY]
        out: list[Total] = []
        begin, corrects = 0, total.corrects
        for at in energies[1:]:
            one, two, before = {p.tag for p in parts[begin:at]}, parts[at:], parts[at - 1]
            again = len(one) > 1 and one <= {p.tag for p in two} and parts[begin].tag == ENERGY
            low, high = sorted((parts[begin].value, parts[at].value))
            if not again or is_share(high, low) or (
                not self._of_another(before.end, parts[at].start)
            ):  # fmt: skip
                continue
            out.append(Total(parts[begin].start, before.end, parts[begin:at], total.corrects))
            begin, corrects = at, self._corrects(parts[at].start)
        return [*out, Total(parts[begin].start, total.end, parts[begin:], corrects)]

    def _of_another(self, start: int, end: int) -> bool:
        """Between numbers a new sentence begins, or how many another dish makes is told, or its name;
        no ingredient."""
        talk, makes = self.talk, word_class("makes_servings")
        if any((amount := amount_at(talk, at)) and amount.measured for at in range(start, end)):
            return False
        counted = any(
            talk.counts(at) and talk.word(at - 1) in makes for at in range(start + 1, end)
        )
        return counted or talk.stopped(start, end + 1) or names_dish(talk, start, end)

    def _told_again(self, part: Stated, taken: set[int]) -> None:
        """ "fat 9 and a bit, so call it ten": a number near it behind words that take it back."""
        talk = self.talk
        again = word_class("correct") | {"it", "so", "say"}
        for at in range(part.end, min(part.end + _SOON, talk.n)):
            if at in taken or (talk.counts(at) and number_at(talk, at) is None):
                return
            if not talk.counts(at):
                continue
            value = talk.number(at)
            led = talk.text[at - 1] in again and not talk.stops(at)
            if led and _AGAIN[0] <= value / max(part.value, 1e-9) <= _AGAIN[1]:
                part.value, part.end = value, at + 1
                taken.update(range(part.start, part.end))
            return
