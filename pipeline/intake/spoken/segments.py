"""Where recipes begin and end: the best way to cut a script into recipes, bases and talk.

Each stretch between two places (``places``) has a score as a recipe, as a base that recipes share, and
as mere talk (``stretches``); the cut with the best sum over the whole script wins (dynamic
programming).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

from pipeline.intake.spoken.contents import Contents
from pipeline.intake.spoken.mentions import Chunk
from pipeline.intake.spoken.phrases import word_class
from pipeline.intake.spoken.places import Place, places_of, weights
from pipeline.intake.spoken.stated import Total
from pipeline.intake.spoken.stretches import Stretches
from pipeline.intake.spoken.titles import Title, named_at
from pipeline.intake.spoken.words import STRONG, Span

_LEAD = 12  # words of talk that may lead in a recipe
_TITLE = 45  # words of a recipe in which it may be named
T = TypeVar("T")


@dataclass(slots=True)
class Segment(Span):
    """A stretch of the script: ``recipe``, ``base`` or ``talk``."""

    kind: str
    place: Place
    title: str = ""
    title_span: tuple[int, int] = (0, 0)
    totals: list[Total] = field(default_factory=list)
    chunks: list[Chunk] = field(default_factory=list)
    beside: list[Total] = field(default_factory=list)  # numbers said of something else


@dataclass(slots=True)
class _Step:
    """A segment of a cut, with the total of a row that it takes."""

    place: Place
    start: int
    end: int
    kind: str
    total: Total | None


class Cutter:
    """Cuts a script.

    Attributes:
        contents: what the script holds.
        stretches: what it may be cut into.
        score: what speaks for the best cut, once it is found.
        amid: by it, the speaker says numbers before the last ingredients.
    """

    def __init__(self, contents: Contents) -> None:
        self.contents = contents
        self.stretches = Stretches(contents, places_of(contents))
        self.score, self.amid = 0.0, False

    def cut(self) -> list[Segment]:
        """The best segments in order, each recipe with its own numbers or, where several totals
        stand in a row, with the next of those."""
        ways = [(amid, *self._best(row, amid)) for row in self.rows() for amid in self.habits()]
        self.amid, self.score, steps = max(ways, key=lambda way: way[1])
        out = [
            self.segment(step.place, step.start, step.end, step.kind, step.total)
            for step in self._led_in(steps)
        ]
        if self.contents.both and not any(s.kind == "recipe" for s in out):
            first = self.stretches.places[0]
            whole_script = Place(0, first.body, "script", title=first.title)
            return [self.segment(whole_script, 0, self.contents.talk.n, "recipe", None)]
        return out

    def rows(self) -> list[list[Total]]:
        """The ways to take totals apart from where they are said: none of them, or those in a row."""
        return [[], self.contents.row] if len(self.contents.row) > 1 else [[]]

    def habits(self) -> list[bool]:
        """Whether the speaker may say numbers before the last ingredients: never where there are
        hardly any numbers to tell it by."""
        return [False, True] if len(self.contents.totals) > 1 else [False]

    def segment(
        self, place: Place, start: int, end: int, kind: str, taken: Total | None
    ) -> Segment:
        """A stretch with what it holds, and the total of a row that it takes."""
        segment = Segment(start, end, kind, place)
        found = self.contents.totals_in(start, end)
        segment.totals = self.stretches.meant(found) if taken is None else [taken]
        segment.beside = [t for t in found if t not in segment.totals] if taken is None else []
        segment.chunks = self.contents.chunks_in(start, end)
        if place.title is None and kind == "recipe":
            place.title = self._title_within(segment)
        if place.title is not None:
            segment.title = place.title.text
            segment.title_span = (place.title.start, place.title.end)
        return segment

    def _best(self, row: list[Total], amid: bool) -> tuple[float, list[_Step]]:
        """The best cut and what speaks for it, with a row of totals apart from where they are said,
        by a speaker who says numbers before the last ingredients or not."""
        weight, places, end_of = weights(), self.stretches.places, self.stretches.end_of
        score, _, path = best_path(
            len(places), len(row), weight["talk_numbers"],
            (
                (i, j, total, sum(weight.get(name, 0.0) * x for name, x in features.items()), (i, j, kind, total))
                for i, j, kind, total, features in self.stretches.ways(row, amid)
            ),
        )  # fmt: skip
        return score + amid * weight["told_amid"], [
            _Step(places[i], places[i].at, end_of(j), kind, None if total is None else row[total])
            for i, j, kind, total in path
        ]

    def _led_in(self, steps: Sequence[_Step]) -> list[_Step]:
        """Recipes with the few words of talk before them that name no amount: "the walnuts leave, it
        becomes the nut loaf again"."""
        contents = self.contents
        out: list[_Step] = []
        for step in steps:
            before = out[-1] if out else None
            if (
                before is not None and before.kind == "talk" and step.kind == "recipe"
                and before.place.kind == "behind_total" and not step.place.announced
                and before.end - before.start <= _LEAD
                and not contents.weighs(before.start, before.end)
                and not contents.states(before.start, before.end)
            ):  # fmt: skip
                out[-1] = replace(step, start=before.start)
            else:
                out.append(step)
        return out

    def _title_within(self, segment: Segment) -> Title | None:
        """A dish named before the first ingredient, of a recipe that nothing announced."""
        talk = self.contents.talk
        both = [c.start for c in segment.chunks if c.kind == "both" and not self._names_dish(c)]
        stop = min([segment.start + _TITLE, segment.end, *(both[:1])])
        best: Title | None = None
        for at in range(segment.place.body, stop):
            text, word = talk.text[at], talk.words[at]
            begins = word.breaks == STRONG or text in word_class("names_it") or word.article
            if not (begins or at == segment.start):
                continue
            title = named_at(talk, at)
            if title is None or title.end > stop + 1 or not title.dish:
                continue
            if talk.text[title.end - 1] in word_class("dish"):
                return title
            if best is None and text in word_class("names_a_dish"):
                best = title
        return best

    def _names_dish(self, chunk: Chunk) -> bool:
        """Whether what looks like one of a food begins a longer name: "it's a barley and lamb broth"."""
        talk, at = self.contents.talk, chunk.start
        if chunk.measured or not talk.words[at].article:
            return False
        before = talk.text[at - 1] if at else ""
        title = named_at(talk, at) if before in word_class("names_a_dish") else None
        return title is not None and title.dish and title.end > chunk.end


def best_path(
    count: int, most: int, unspent: float, ways: Iterable[tuple[int, int, int | None, float, T]]
) -> tuple[float, int, list[T]]:
    """The stretches, one behind the other over a whole script, whose scores have the best sum.

    Args:
        count: places between stretches.
        most: totals of a row, which stretches take in order.
        unspent: the score of one that none takes.
        ways: what stretches may be, in the order of their ends: the places they begin at and go on to,
            the total that one takes, its score, and what stands for it in the result.

    Returns:
        The score, how many totals none takes, and what stands for the stretches.
    """
    best = [[float("-inf")] * (most + 1) for _ in range(count + 1)]
    back: dict[tuple[int, int], tuple[tuple[int, int], T]] = {}
    best[0][0] = 0.0
    for i, j, total, score, way in ways:
        for k in range(most + 1) if total is None else [total]:
            after = k + (total is not None)
            if best[i][k] + score > best[j][after]:
                best[j][after] = best[i][k] + score
                back[j, after] = ((i, k), way)
    left = [best[count][k] + unspent * (most - k) for k in range(most + 1)]
    taken = left.index(max(left))
    at, path = (count, taken), list[T]()
    while at[0] > 0:
        at, way = back[at]
        path.append(way)
    return max(left), most - taken, path[::-1]
