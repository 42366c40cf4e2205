"""The lines of one recipe: what is added, repeated, corrected, shared, swapped or left out."""

from __future__ import annotations

from collections.abc import Callable

from pipeline.intake.spoken.bare_foods import read_food
from pipeline.intake.spoken.loose_amounts import read_amount
from pipeline.intake.spoken.mentions import Chunk, Mention
from pipeline.intake.spoken.phrases import phrases
from pipeline.intake.spoken.reading import Reading
from pipeline.intake.spoken.segments import Segment
from pipeline.intake.spoken.stated import Figure, Total
from pipeline.intake.spoken.talk import Talk
from pipeline.intake.spoken.told_again import read_both
from pipeline.intake.spoken.told_behind import add_figures, read_behind

_FULL = 3  # nutrients of a full statement
_LEAST = 2  # lines that a recipe has before its numbers
_LEAD, _NAMED = 7, 4  # words before a food that say what it is for, and behind those


class Lines:
    """Reads the lines of segments, one after another."""

    def __init__(self, talk: Talk, figures: list[Figure]) -> None:
        self.talk = talk
        self.figures = sorted(figures, key=lambda f: f.start)
        self.amid = False  # the speaker says numbers before the last ingredients

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
        r = Reading(self.talk, list(inherited))
        first_total = min((t.start for t in segment.totals), default=10**9)
        measured = [c.start for c in segment.chunks if c.kind == "both" and c.measured]
        mostly = 2 * sum(at < first_total for at in measured) >= len(measured)  # stand before
        for chunk in segment.chunks:
            if chunk.start < segment.place.body and not chunk.measured:
                continue
            r.section = self._section(max(chunk.start - _LEAD, segment.start), chunk.start) or (
                r.section
            )
            before = [m for m in r.found if not m.shared and m.start < first_total]
            behind = mostly and not self.amid and _behind_numbers(segment.totals, chunk, before)
            r.late = behind or chunk.start >= tail
            if chunk.kind == "both":
                for mention in (chunk.of, *chunk.more):
                    read_both(r, mention, segment.title, chunk.doubt)
            elif chunk.kind == "food":
                read_food(r, chunk, said_before)
            else:
                read_amount(r, chunk)
        for mention in r.found:
            if not mention.shared:
                read_behind(self.talk, mention)
        add_figures(r, [f for f in self.figures if segment.start <= f.start < segment.end])
        return r

    def _section(self, start: int, end: int) -> str:
        """ "for the sauce", "on top" shortly before a mention; "" where nothing says so."""
        said = self.talk.said(start, end)
        told = [
            found["name"] or "topping" for found in phrases("section").finditer(said)
            if len(said[found.end() :].split()) <= _NAMED
        ]  # fmt: skip
        return told[-1] if told else ""


def _behind_numbers(totals: list[Total], chunk: Chunk, before: list[Mention]) -> bool:
    """The numbers of a recipe stand before a food or amount, and some of its lines before those."""
    if totals and len(before) >= _LEAST and chunk.start > max(t.end for t in totals):
        return True
    told = any(
        len({p.tag for p in t.parts if p.end <= chunk.start}) >= _FULL
        and sum(m.end <= t.start for m in before) >= _LEAST
        for t in totals
    )
    return told and not any(
        len({p.tag for p in t.parts if p.start >= chunk.end}) >= _FULL for t in totals
    )
