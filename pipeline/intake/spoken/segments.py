"""Where recipes begin and end: the best way to cut a script into recipes, bases and talk.

Announcements ("number two", "next up"), dish names, paragraphs and the ends of totals are places
where a recipe may begin. Each stretch between two such places has a score as a recipe, as a base
that recipes share, and as mere talk; the cut with the best sum over the whole script wins (dynamic
programming). A recipe has one final total, so a second one, or new ingredients behind it, count
against a stretch; an announcement that is passed over counts too.
"""

from __future__ import annotations

import math
import re
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import accumulate, pairwise

from pipeline.intake.spoken.asides import usual_tags
from pipeline.intake.spoken.composition import NOTHING, added, misfit
from pipeline.intake.spoken.grammar import Talk
from pipeline.intake.spoken.phrases import phrases, word_class
from pipeline.intake.spoken.tiling import Chunk
from pipeline.intake.spoken.titles import Title, named_at, title_after
from pipeline.intake.spoken.totals import ENERGY, Total, plausible
from pipeline.intake.spoken.words import STRONG, Span
from pipeline.intake.spoken.written import written
from pipeline.resources import shared_rows

#: Feature → how much of it a stretch has.
Features = dict[str, float]

_SEVERAL = 0.4  # any other number of servings than one
_SHORT = 2.0  # most that lines short of the numbers cost: others may be taken from before


@dataclass(slots=True)
class Place:
    """A place where a recipe may begin."""

    at: int
    body: int
    kind: str
    announced: bool = False
    order: int | None = None
    title: Title | None = None
    base: str = ""

    @property
    def score(self) -> float:
        """How much what stands here speaks for the beginning of a recipe."""
        return weights()[f"begins_{self.kind}"]


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
    """A segment of a cut, with the total of a row that it takes, and what speaks for it."""

    first: int
    start: int
    end: int
    kind: str
    total: Total | None
    before: tuple[int, int]
    features: Features


class Cutter:
    """Cuts a script."""

    def __init__(self, talk: Talk, totals: list[Total], chunks: list[Chunk]) -> None:
        self.talk = talk
        self.score = 0.0  # what speaks for the best cut
        self.weights = weights()
        self.totals = sorted(totals, key=lambda t: t.start)
        self.chunks = chunks
        self.both = [c for c in chunks if c.kind == "both" and not c.aside]
        self._both_at = [c.start for c in self.both]
        self._total_at = [t.start for t in self.totals]
        self._chunk_at = [c.start for c in chunks]
        self._weight = [0.0, *accumulate(_worth(c) for c in self.both)]
        lines = [written(c.of, 1.0) for c in self.both]
        talk.composition.read(lines)
        macros = [talk.composition.known[text] or NOTHING for text in lines]
        self._macros = list(accumulate(macros, lambda a, b: added((a, b)), initial=NOTHING))
        self._states = bool(self.totals)
        self._batches = [
            (a.end, b.start) for a, b in pairwise(self.totals)
            if ENERGY in a.tags & b.tags and _batch_and_share(a, b)
            and not any(c.measured for c in self.both if a.end <= c.start < b.start)
        ]  # fmt: skip
        self._usual_tags = usual_tags(self.totals)
        self._sums = {
            id(total) for at, total in enumerate(self.totals)
            if at and not self._weighs(self.totals[at - 1].end, total.start)
            and any(_is_sum(total, self.totals[at - k : at]) for k in range(2, min(at, _ADDED) + 1))
        }  # fmt: skip
        self._stated: dict[tuple[int, ...], dict[str, float]] = {}
        self._worded: dict[int, Features] = {}
        self._first_said: dict[str, int] = {}
        for at, word in enumerate(talk.folded):
            self._first_said.setdefault(word, at)
        self._next_same = _next_same(self.both)
        self._found: dict[int, Place] = {0: Place(0, 0, "script")}
        self.places = self._places()
        counted = [(at, w.value or 0.0) for at, w in enumerate(talk.words) if talk.counts(at)]
        counted = [(at, n) for at, n in counted if 2 <= n <= 36 and n == int(n)]
        self._counts_at, self._counts = [at for at, _ in counted], [n for _, n in counted]
        orders = [p for p in self.places if p.announced and p.order]
        self._first = next(
            (one.at for one, two in pairwise(orders) if (one.order, two.order) == (1, 2)),
            orders[0].at if orders and orders[0].order == 1 else 0,
        )

    def _weighs(self, start: int, end: int) -> float:
        """How much the mentions of a stretch speak for a recipe."""
        lo, hi = _within(self._both_at, start, end)
        return self._weight[hi] - self._weight[lo]

    # --- places --------------------------------------------------------------------------------

    def _put(self, place: Place) -> None:
        """Take a place up, or join it with one that lies close by."""
        found = self._found
        near = next(
            (k for k in range(place.at - 4, place.at + 5)
             if k in found and k and not self._stated_within(min(k, place.at), max(k, place.at))), None,
        )  # fmt: skip
        if near is None and place.announced:
            near = next(
                (k for k in range(place.at - 12, place.at) if k in found and found[k].announced
                 and not self._weighs(k, place.at)), None,
            )  # fmt: skip
        if near is None:
            found[place.at] = place
            return
        had = found[near]
        if place.score <= had.score and (had.title is not None or place.title is None):
            return
        best, other = (place, had) if place.score >= had.score else (had, place)
        titles = [t for t in (had.title, place.title) if t is not None]
        titles.sort(key=lambda t: (not t.dish, t.start))
        best.title = titles[0] if titles else None
        best.order = best.order if best.order is not None else other.order
        best.announced |= other.announced
        best.base = best.base or other.base
        if best.title is not None and best.title.dish and not (
            {*best.base.split("|")} & {*best.title.text.lower().split()}
        ):  # fmt: skip
            best.base = ""  # "Cheese muffins. One batter and 120 grams of cheddar"
        best.body = titles[0].end if titles else max(place.body, had.body)
        del found[had.at]
        later = max(place, had, key=lambda p: p.at)
        parted = later.announced and self.talk.words[later.at].breaks == STRONG
        best.at = later.at if parted else min(place.at, had.at)
        found[best.at] = best

    def _stated_within(self, start: int, end: int) -> bool:
        """A total ends between two places."""
        first, last = _within(self._total_at, start, end)
        return any(total.end <= end for total in self.totals[first:last])

    def _places(self) -> list[Place]:
        """Places where a recipe may begin, in order."""
        talk = self.talk
        for at in range(1, talk.n):
            if talk.words[at].paragraph or talk.words[at].breaks == STRONG:
                title = self._short(at) or self._comes_next(at)
                if title is not None:
                    body = at if talk.words[at].paragraph else title.end
                    self._put(Place(at, body, "dish_alone", title=title))
                elif talk.words[at].paragraph:
                    self._put(Place(at, at, "paragraph"))
        for total in self.totals:
            at = self.after(total)
            if at < talk.n:
                self._put(Place(at, at, "behind_total"))
        for match in phrases("mentioned").finditer(talk.flow):
            self._mentioned(match)
        for at, body, order in self._announcements():
            if self._of_an_ingredient(body, order):
                continue
            title = title_after(talk, body)
            self._put(Place(at, title.end if title else body, "announced", True, order, title))
        self._bases()
        for at, name in talk.turns.items():
            text = " ".join(talk.text[name.start : name.end]).capitalize()
            self._put(Place(at, at, "in_turn", title=Title(name.start, name.end, text, True)))
        self._named_in_row()
        self._unlisted()
        begins = sorted(self._found)
        places = [self._found[at] for at in begins]
        for match in phrases("base_closes").finditer(talk.flow):
            at = talk.at(match.start())
            index = bisect_left(begins, at) - 1
            last = bisect_left(self._total_at, at) - 1
            since = self.totals[last].end if last >= 0 else -1
            place = places[max(index, 0)]
            if 0 < at - place.at < 150 and not place.announced and place.at >= since:
                place.base = place.base or match["noun"]
        return places

    def _bases(self) -> None:
        """Places where a base is named and its lines come next. Whether it is one of several recipes
        or a part of one is decided by the cut, from who names it later."""
        talk = self.talk
        told: set[str] = set()
        for match in phrases("a_base").finditer(talk.flow):
            at, end = talk.at(match.start()), talk.from_offset(match.end())
            first, last = _within(self._both_at, end, end + _BASE)
            within = self.both[first - 1] if first else None
            if not any(c.measured for c in self.both[first:last]) or (
                within is not None and at < within.end
            ):  # fmt: skip
                continue  # "soy sauce"
            name = match[0].replace(" ", "|")
            if name in told and not word_class("points_at_base").isdisjoint(
                talk.text[max(at - 2, 0) : end + 1]
            ):
                continue  # "the base again, and into the base"
            told.add(name)
            begin = at
            while begin > max(at - _APART, 0) and not talk.words[begin].breaks:
                begin -= 1
            if not talk.words[begin].breaks:
                begin = at
            self._put(Place(begin, end, "base", base=name))

    def _named_in_row(self) -> None:
        """Places where the dishes are first named whose numbers stand in a row at the end."""
        talk = self.talk
        row = _in_a_row(self.totals, self._weighs)
        since = 0
        for total in row:
            lead = range(max(self._ends_before(total.start), total.start - _NAMED), total.start)
            for start, end in _runs_of(at for at in lead if talk.tells(at)):
                name = talk.folded[start:end]
                at = next((k for k in range(since, row[0].start - _NAMED)
                           if talk.folded[k : k + len(name)] == name and talk.tells(k)), None)  # fmt: skip
                if at is None:
                    continue
                said = " ".join(talk.text[start:end])
                title = Title(at, at + len(name), said.capitalize(), True)
                self._put(Place(at, title.end, "named_in_row", title=title))
                since = title.end
                break

    def _unlisted(self) -> None:
        """Places that no phrase of the tables tells: an ordinal, a dish, a new sentence
        far from any ingredient."""
        talk, near = self.talk, -_APART
        spans = [(t.start, t.end) for t in self.totals] + [(c.start, c.end) for c in self.both]
        inside = {at for start, end in spans for at in range(start + 1, end)}
        for at in range(1, talk.n):
            kind = "" if at in inside else self._unlisted_kind(at)
            if (
                not kind
                or at - near <= _APART
                or any(k in self._found for k in range(at - _APART, at + _APART + 1))
            ):
                continue
            near = at
            title = named_at(talk, at + (kind == "ordinal"))
            dish = title is not None and title.dish and title.start - at <= 3
            body = title.end if dish and title is not None else at
            self._found[at] = Place(at, body, kind, title=title if dish else None)

    def _unlisted_kind(self, at: int) -> str:
        """What kind of place a word may be that no phrase tells; "" for none."""
        talk = self.talk
        word, text = talk.words[at], talk.text[at]
        if text in talk.known.ordinals and not word.share and not self._refers(at):
            after = talk.close(at + 1)
            unit, _ = talk.known.unit_at(talk.words, at + 1)
            if unit is None and after not in word_class("no_nutrient_unit"):
                return "ordinal"
        marks = text in word_class("begins_talk")
        if (marks or text in word_class("names_it")) and not talk.counts(at + 1):
            title = named_at(talk, at)
            if title is not None and title.dish and not self._listed(at, title) and (
                talk.text[title.end - 1] in word_class("dish")
            ):  # fmt: skip
                return "dish_said"
        if self._names_bare(at):
            return "dish_said"
        if not marks and word.breaks != STRONG:
            return ""
        index = bisect_left(self._both_at, at)
        last = self.both[index - 1].end if index else 0
        return "sentence" if at - last >= _FAR else ""

    def _names_bare(self, at: int) -> bool:
        """A dish of several words, none of them small, stands where no clause goes on: "comes out
        like a cloud spinach feta muffins so one base mix"."""
        talk = self.talk
        if not talk.food_length(at) or talk.food_length(at - 1) or talk.text[at - 1] in talk._ends:
            return False
        title = named_at(talk, at)
        return (
            title is not None and title.start == at and title.end - at > 1
            and talk.text[title.end - 1] in word_class("dish")
            and all(talk.food_length(k) or talk.text[k] in word_class("dish") for k in range(at, title.end))
        )  # fmt: skip

    def _comes_next(self, at: int) -> Title | None:
        """The dish that a sentence begins with, and its turn: "Shakshuka first, because I'm hungry"."""
        talk, title = self.talk, named_at(self.talk, at)
        if title is None or talk.close(title.end) not in talk.known.ordinals:
            return None
        return title if talk.text[title.end - 1] in word_class("dish") else None

    def _mentioned(self, match: re.Match[str]) -> None:
        """A dish, a meal or a day is named."""
        talk = self.talk
        at, body = talk.at(match.start()), talk.from_offset(match.end())
        if talk.word(body) == "of":
            return  # "then comes of the sausage 150 grams"
        title = title_after(talk, body)
        meal = match["meal"] or match["meal2"]
        if match["weekday"] or match["weekday2"]:
            self._put(Place(at, title.end if title else body, "weekday", title=title))
        elif meal and (title is None or not title.dish):
            self._put(Place(at, body, "meal", title=Title(at, body, meal.capitalize(), False)))
        elif title is not None and title.dish and not self._listed(at, title):
            self._put(Place(at, title.end, "dish_named", title=title))

    def after(self, total: Total) -> int:
        """First word of the clause after a total."""
        talk, at = self.talk, total.end
        small = word_class("behind_totals") | word_class("container")
        if talk.close(at) in ("per", "each", "every") or (at < talk.n and talk.words[at].article):
            at += 1 + (talk.close(at + 1) in word_class("dish"))  # "205 calories per burger"
        stop = min(talk.n, total.end + 6)
        while at < stop and not talk.words[at].breaks and talk.text[at] in small:
            at += 1
        if at < talk.n and talk.words[at].breaks != STRONG and self._punctuated():
            at = self._sentence_end(at)  # "9 fat, and I have it with rice."
        end = self._sentence_end(at)
        return end if self._only_serves(at, end) else at

    def _sentence_end(self, at: int) -> int:
        """The first word of the next sentence."""
        words = self.talk.words
        return next((k for k in range(at + 1, len(words)) if words[k].breaks == STRONG), len(words))

    def _punctuated(self) -> bool:
        """Somebody wrote the full stops."""
        words = self.talk.words
        return sum(w.breaks == STRONG for w in words) * _SENTENCE >= len(words)

    def _only_serves(self, start: int, end: int) -> bool:
        """ "So that's eight bowls." A sentence that counts shares, and names no food."""
        talk, shares = self.talk, word_class("serving") | word_class("container")
        return end - start <= 2 * _APART and not any(map(talk.food_length, range(start, end))) and any(
            talk.counts(at) and not shares.isdisjoint(talk.text[at + 1 : min(at + 3, end)])
            for at in range(start, end)
        )  # fmt: skip

    def _short(self, at: int) -> Title | None:
        """A sentence that only names a dish: "Red lentil soup." """
        talk = self.talk
        end = at
        while end < talk.n and end - at < 8 and (end == at or talk.words[end].breaks == 0):
            end += 1
        if end - at > 6 or (end < talk.n and talk.words[end].breaks != STRONG):
            return None
        if talk.amount_at(at) is not None or any(
            talk.words[i].value is not None for i in range(at, end)
        ):
            return None
        title = named_at(talk, at)
        if title is None or not title.dish or title.end < end:
            return None
        return None if self._listed(at, title) else title

    def _listed(self, at: int, title: Title) -> bool:
        """ "And then cheese.", "and lingonberry jam": one more food of the same dish."""
        talk = self.talk
        one = talk.food_length(title.start) >= title.end - title.start
        goes_on = talk.text[at] in word_class("goes_on") and one
        return goes_on and word_class("dish").isdisjoint(talk.text[title.start : title.end])

    def _of_an_ingredient(self, body: int, order: int | None) -> bool:
        """ "And lastly the walnuts, 30 grams": what comes next is measured right there."""
        first, last = _within(self._both_at, body, body + _APART - 1)
        words = self.talk.words
        return order in (None, 0, -1) and any(
            not any(words[at].breaks == STRONG for at in range(body + 1, c.start + 1))
            and c.amount is not None
            and (c.measured or not c.amount.article)
            and c.amount.start - body <= 2 * _APART
            for c in self.both[first:last]
        )

    def _announcements(self) -> list[tuple[int, int, int | None]]:
        """(place, end, order) of what says that the next one comes."""
        talk = self.talk
        out: list[tuple[int, int, int | None]] = []
        for match in phrases("announced").finditer(talk.flow):
            at = talk.at(match.start())
            order = int(match["n"]) if match["n"] else None
            ordinal = match["ord"] or match["ord2"] or match["ord3"]
            if ordinal:
                order = talk.known.ordinals.get(ordinal)
            if not self._refers(at) and not (ordinal and self._amid_lines(at)):
                out.append((at, talk.from_offset(match.end()), order))
        for noun, numbers in self._series().items():
            kinds = noun in word_class("counted_recipes") or (
                phrases("kind_of_dish").fullmatch(noun) is not None
            )
            series = {1, 2} <= numbers.keys() or (kinds and any(k + 1 in numbers for k in numbers))
            if not series and noun in word_class("counted_recipes"):
                named = {k: named_at(talk, end) for k, (_, end) in numbers.items()}
                numbers = {k: numbers[k] for k, title in named.items() if title and title.dish}
            elif not series:
                continue
            last = -1
            for number, (at, end) in sorted(numbers.items()):
                if at <= last:
                    break
                last = at
                if not self._refers(at):
                    out.append((at, end, number))
        return out

    def _amid_lines(self, at: int) -> bool:
        """ "Two parsnips, the third one was for the dog": in the sentence of an ingredient."""
        words = self.talk.words
        if not self._punctuated():
            return False
        begin = next(
            (k for k in range(at, max(at - _ROW, -1), -1) if words[k].breaks == STRONG), at
        )
        first, last = _within(self._chunk_at, begin, at)
        return first < last

    def _series(self) -> dict[str, dict[int, tuple[int, int]]]:
        """Words that are numbered, "recipe one": word → number → its first place."""
        talk = self.talk
        seen: dict[str, dict[int, tuple[int, int]]] = {}
        for match in re.finditer(r"\b([a-z]{3,}) (\d{1,2})(?![\d.])", talk.flow):
            noun, number = match[1], int(match[2])
            end = talk.from_offset(match.end())
            if noun in talk._ends or noun in talk.known.verbs or noun == "number" or number < 1:
                continue
            unit, _ = talk.known.unit_at(talk.words, end)
            if talk.food_length(end - 2) or (unit is not None and unit.kind in _MEASURES):
                continue
            if noun in word_class("counted_recipes") or not (
                (noun,) in talk.known.units or noun in word_class("talk")
            ):
                places = seen.setdefault(noun, {})
                places.setdefault(number, (talk.at(match.start()), end))
        return seen

    def _refers(self, at: int) -> bool:
        """ "the same as the last one": points back, announces nothing."""
        talk = self.talk
        if talk.words[at].breaks == STRONG:
            return False
        return phrases("refers_back").search(talk.said(at - 3, at)) is not None

    # --- the best cut --------------------------------------------------------------------------

    def cut(self) -> list[Segment]:
        """The best segments in order, each recipe with its own numbers or, where several totals
        stand in a row, with the next of those."""
        out = [
            self._segment(self.places[step.first], step.start, step.end, step.kind, step.total)
            for step in self._led_in(self.best_steps())
        ]
        if self.both and not any(s.kind == "recipe" for s in out):
            whole_script = Place(0, self.places[0].body, "script", title=self.places[0].title)
            return [self._segment(whole_script, 0, self.talk.n, "recipe", None)]
        return out

    def _led_in(self, steps: Sequence[_Step]) -> list[_Step]:
        """Recipes with the few words of talk before them that name no amount: "the walnuts leave, it
        becomes the nut loaf again"."""
        out: list[_Step] = []
        for step in steps:
            before = out[-1] if out else None
            if (
                before is not None and before.kind == "talk" and step.kind == "recipe"
                and self.places[before.first].kind == "behind_total"
                and not self.places[step.first].announced
                and before.end - before.start <= _LEAD and not self._weighs(before.start, before.end)
                and not self._stated_within(before.start, before.end)
            ):  # fmt: skip
                out[-1] = replace(step, start=before.start)
            else:
                out.append(step)
        return out

    def best_steps(self) -> list[_Step]:
        """The best cut, with the numbers where they are said or, in a row, apart from that."""
        self.score, steps = max((self._best(one) for one in self.rows()), key=lambda way: way[0])
        return steps

    def rows(self) -> list[list[Total]]:
        """The ways to take totals apart from where they are said: none of them, or those in a row."""
        row = _in_a_row(self.totals, self._weighs)
        return [[], row] if len(row) > 1 else [[]]

    def _best(self, row: list[Total]) -> tuple[float, list[_Step]]:
        """The best cut and what speaks for it.

        Args:
            row: totals that are no longer where they are said: recipes may take them, in order.
        """
        count, weight, most = len(self.places), self.weights, len(row)
        best = [[float("-inf")] * (most + 1) for _ in range(count + 1)]
        back: dict[tuple[int, int], _Step] = {}
        best[0][0] = 0.0
        for i, j, kind, total, features in self.stretches(row):
            score = sum(weight.get(name, 0.0) * x for name, x in features.items())
            before = range(most + 1) if total is None else [total]
            for k in before:
                after = k + (total is not None)
                if best[i][k] + score > best[j][after]:
                    best[j][after] = best[i][k] + score
                    taken = None if total is None else row[total]
                    start, end = self.places[i].at, self.end_of(j)
                    back[j, after] = _Step(i, start, end, kind, taken, (i, k), features)
        steps: list[_Step] = []
        left = [best[count][k] + weight["talk_numbers"] * (most - k) for k in range(most + 1)]
        at = (count, left.index(max(left)))
        while at[0] > 0:
            steps.append(back[at])
            at = back[at].before
        return max(left), steps[::-1]

    def end_of(self, j: int) -> int:
        """Where a stretch ends that goes on to place ``j``."""
        return self.places[j].at if j < len(self.places) else self.talk.n

    def stretches(self, row: list[Total]) -> Iterator[tuple[int, int, str, int | None, Features]]:
        """What each stretch may be, in the order of their ends: the places it begins at and goes on
        to, its kind, the total of the row that it takes, what speaks for it."""
        self._row = {id(t) for t in row}
        places = self.places
        for j in range(1, len(places) + 1):
            end = self.end_of(j)
            for i in range(j - 1, max(j - 40, -1), -1):
                passed = sum(p.announced for p in places[i + 1 : j])
                start = places[i].at
                for kind, total, features in self._ways(places[i], start, end, row):
                    features["passed" if kind != "talk" else "passed_in_talk"] = passed
                    yield i, j, kind, total, features
                first, last = _within(self._total_at, start, end)
                if end - start > 2_500 or last - first > 5:
                    break

    def _ways(
        self, place: Place, start: int, end: int, row: list[Total]
    ) -> Iterator[tuple[str, int | None, Features]]:
        """What a stretch may be: its kind, the total of the row that it takes, what speaks for it."""
        first, last = _within(self._total_at, start, end)
        own = [t for t in self.totals[first:last] if id(t) not in self._row]
        others = last - first - len(own)
        meant = self._meant(own)
        for kind, features in self._scores(place, start, end, own, meant):
            if kind != "talk":
                features["over_a_row"] = others
                other = sum(map(_of_other, own)) - sum(map(_of_other, meant))
                features["numbers_beside"] = len(own) - len(meant) - other
                features["others_beside"] = other
            yield kind, None, features
        if own or self._weighs(start, end) < _LINES["numbers"][0]:
            return
        for at, total in enumerate(row):
            features = self._as_recipe(place, start, end, [total])
            features["over_a_row"] = others
            features["named_in_row" if self._names(total, start, end) else "not_named_in_row"] = 1.0
            yield "recipe", at, features

    def _meant(self, totals: list[Total]) -> list[Total]:
        """The totals of a stretch without the sum of several recipes and, where the script tells more
        of its recipes, and of this one too, without a bare energy of something else, "a pie from
        the shop is 700 calories"."""
        totals = [t for t in totals if id(t) not in self._sums]
        full = [t for t in totals if len(t.tags) >= max(self._usual_tags - 1, 2) and t.doubt < 0]
        if not any(ENERGY in t.tags for t in full):
            return totals
        return [
            t for t in totals
            if t in full or (t.tags != {ENERGY} and t.doubt < 0) or (t.corrects and full[0].start < t.start)
            or any(_batch_and_share(t, f) for f in full)
        ]  # fmt: skip

    def _names(self, total: Total, start: int, end: int) -> bool:
        """The words before a total are said in a stretch too, as foods or dishes."""
        talk = self.talk
        lead = range(max(self._ends_before(total.start), total.start - _NAMED), total.start)
        names = {talk.folded[at] for at in lead if talk.tells(at)}
        return not names.isdisjoint(talk.folded[start : min(end, start + _BEGINS)])

    def _ends_before(self, at: int) -> int:
        """Where the total before a place ends."""
        index = bisect_left(self._total_at, at) - 1
        return self.totals[index].end if index >= 0 else 0

    def _segment(
        self, place: Place, start: int, end: int, kind: str, taken: Total | None
    ) -> Segment:
        segment = Segment(start, end, kind, place)
        first, last = _within(self._total_at, start, end)
        found = self.totals[first:last]
        segment.totals = self._meant(found) if taken is None else [taken]
        segment.beside = [t for t in found if t not in segment.totals] if taken is None else []
        first, last = _within(self._chunk_at, start, end)
        segment.chunks = self.chunks[first:last]
        if place.title is None and kind == "recipe":
            place.title = self._title_within(segment)
        if place.title is not None:
            segment.title = place.title.text
            segment.title_span = (place.title.start, place.title.end)
        return segment

    def _title_within(self, segment: Segment) -> Title | None:
        """A dish named before the first ingredient, of a recipe that nothing announced."""
        talk = self.talk
        both = [c.start for c in segment.chunks if c.kind == "both" and not self._names_dish(c)]
        stop = min([segment.start + 45, segment.end, *(both[:1])])
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
        talk, at = self.talk, chunk.start
        if chunk.measured or not talk.words[at].article:
            return False
        before = talk.text[at - 1] if at else ""
        title = named_at(talk, at) if before in word_class("names_a_dish") else None
        return title is not None and title.dish and title.end > chunk.end

    def _scores(
        self, place: Place, start: int, end: int, totals: list[Total], meant: list[Total]
    ) -> Iterator[tuple[str, Features]]:
        """What a stretch is as talk, as a recipe with the numbers ``meant``, and as a base."""
        weight = self._weighs(start, end)
        other = sum(map(_of_other, totals))
        yield "talk", {
            "talk_lines": weight, "talk_numbers": len(totals) - other, "talk_others": other,
            "talk_announced": place.announced,
        }  # fmt: skip
        yield "recipe", self._as_recipe(place, start, end, meant)
        if place.base and not totals and weight >= 1.5:
            used = "base_used" if self._used_later(place.base, end) else "base_unused"
            yield "base", {"base": 1.0, used: 1.0, "base_place": max(place.score, 0.0)}

    def _as_recipe(self, place: Place, start: int, end: int, totals: list[Total]) -> Features:
        """What speaks for a stretch as a recipe."""
        recipe: Features = {f"begins_{place.kind}": 1.0}
        dish = place.title is not None and place.title.dish
        recipe["dish"] = dish
        recipe |= self.wording(place)
        lo, hi = _within(self._both_at, start, end)
        recipe["repeats"] = sum(self._next_same[at] < hi for at in range(lo, hi))
        recipe["many_lines"] = max(0.0, self._weight[hi] - self._weight[lo] - _USUAL_LINES)
        first = self._both_at[lo] if lo < hi else end
        recipe["gap"] = min(max(first - place.body, 0), _WIDE_GAP) / _WIDE_GAP
        if totals:
            recipe["numbers"] = 1.0
            recipe["misfit"] = self._misfit(totals, start, end, place.body)
            tags = {tag for t in totals for tag in t.tags}
            recipe["poor_numbers"] = len(tags) < self._usual_tags - 1
            recipe["others"] = min(map(_of_other, totals))
            recipe["rival_numbers"] = self._rivals(totals)
            recipe["lines_behind"] = self._behind(totals, start, end)
            recipe["named_with_numbers"] = any(self._names(t, start, end) for t in totals)
            known = "numbers"
        else:
            known = "named" if place.announced or dish else "bare"
            recipe["without_numbers"] = self._states
        recipe[f"{known}_{bisect_right(_LINES[known], self._weighs(start, end))}"] = 1.0
        recipe["parts_batch"] = any(lo <= start <= hi for lo, hi in self._batches)
        recipe["base_begins"] = bool(place.base) and not place.announced
        recipe["before_the_first"] = place.at < self._first and not totals
        return recipe

    def wording(self, place: Place) -> Features:
        """The words that a recipe begins with, and the last before them."""
        if place.at not in self._worded:
            talk, at = self.talk, place.at
            told = {f"at {k}: {talk.text[at + k]}": 1.0 for k in range(3)
                    if at + k < talk.n and not talk.food_length(at + k) and not talk.counts(at + k)}  # fmt: skip
            if at:
                told[f"after: {'.' if talk.words[at].breaks == STRONG else talk.text[at - 1]}"] = (
                    1.0
                )
            told["named_before"] = self._named_before(place)
            self._worded[at] = told
        return self._worded[place.at]

    def _named_before(self, place: Place) -> float:
        """Whether the dish was named long before, as in "today it's soup, then pie"."""
        if place.title is None or not place.title.dish:
            return 0.0
        talk, title = self.talk, place.title
        words = [w for w in talk.folded[title.start : title.end] if w]
        before = title.start - _LONG_BEFORE
        return float(bool(words) and all(self._first_said[word] < before for word in words))

    def _misfit(self, totals: list[Total], start: int, end: int, body: int) -> float:
        """How much the numbers of a stretch speak against its lines, for the best of the servings
        that a number said there may mean."""
        lo, hi = _within(self._both_at, start, end)
        while lo < hi and self._both_at[lo] < body and not self.both[lo].measured:
            lo += 1  # "a lamb and barley pot"
        first, last = self._macros[lo], self._macros[hi]
        lines = (last[0] - first[0], last[1] - first[1], last[2] - first[2], last[3] - first[3])
        key = tuple(map(id, totals))
        if key not in self._stated:
            self._stated[key] = plausible(totals)
        stated = self._stated[key]
        energy = stated.get(ENERGY)
        lo, hi = _within(self._counts_at, start, end)
        said = set(self._counts[lo:hi])
        if energy:  # those on both sides of what the energies ask for
            said = {*_beside(sorted(said), lines[0] / energy)}
        cost, n = min((misfit(lines, stated, n) + _SEVERAL * (n > 1), n) for n in {1.0, *said})
        short = energy is not None and lines[0] < energy * n
        short = short and self._weighs(0, start) >= 1.5  # lines may be taken from before
        return min(cost, _SHORT) if short else cost

    def _used_later(self, noun: str, end: int) -> bool:
        """The base is named again before the next numbers, which would else be of what it is a part
        of."""
        talk = self.talk
        at = bisect_left(self._total_at, end)
        stop = self.totals[at].end if at < len(self.totals) else talk.n
        noun = f"(?:{noun})"
        rest = talk.flow[talk.begins(end) : talk.begins(min(end + 3_000, stop))]
        return phrases("base_used_later", noun=noun).search(rest) is not None

    def _rivals(self, totals: list[Total]) -> float:
        """Cost of totals that cannot be of one recipe."""
        cost = 0.0
        for before, after in pairwise(totals):
            between = self._weighs(before.end, after.start)
            if before.tags.isdisjoint(after.tags):
                continue  # the energy first, protein and fat at the end
            near = after.start - before.end < 30 and between < 0.8
            if near and not (between and _contradict(before, after)):
                continue
            if _batch_and_share(before, after):
                cost += 0.6 * between
                continue
            cost += 3.2 + 0.3 * min(between, 4.0)
        return cost

    def _behind(self, totals: list[Total], start: int, end: int) -> float:
        """Cost of ingredients behind the last total, of a recipe that had its own before it."""
        first, last = totals[0].start, totals[-1].end
        if self._weighs(start, max(first, start)) < 1.5:
            return 0.0
        return min(0.75 * self._weighs(min(last, end), end), 5.0)


_BASE = 18  # words behind the name of a base in which its first line stands
_APART = 4  # words between two places
_FAR = 8  # words behind an ingredient in which no sentence begins a recipe
_ROW = 60  # words between two totals that stand in a row
_LEAD = 12  # words of talk that may lead in a recipe
_USUAL_LINES = 9.0  # what most recipes' lines weigh at most
_WIDE_GAP = 40  # words from where a recipe begins to its first line, as far as it counts
_LONG_BEFORE = 15  # words before a dish in which it may have been named for a start
_SENTENCE = 40  # words of a sentence, at most, in a script with full stops
_ROWS = 20  # totals of a row
_ADDED = 8  # recipes whose numbers are added up, at most
_SHARED = 0.15  # by which a nutrient of a whole may miss those of its shares, beside rounding
_NAMED = 12  # words before a total in which its dish is named
_BEGINS = 40  # words in which a recipe says what dish it is
_MEASURES = ("mass", "volume", "trade")
#: Limits of how much the lines of a stretch say, where it has numbers, a name, or neither.
_LINES = {"numbers": (0.7, 1.5), "named": (0.7, 1.5, 2.5), "bare": (1.5, 2.5, 4.0)}


@cache
def weights() -> dict[str, float]:
    """What each feature of a stretch speaks for it."""
    return {row["feature"]: float(row["weight"]) for row in shared_rows("spoken_cuts.csv")}


def _runs_of(places: Iterable[int]) -> Iterator[tuple[int, int]]:
    """Begin and end of the runs of words that stand side by side, a small one between at most."""
    start = end = -1
    for at in places:
        if end >= 0 and at - end > 1:
            yield start, end
            start = at
        start, end = (at if end < 0 else start), at + 1
    if end >= 0:
        yield start, end


def _within(places: Sequence[int], start: int, end: int) -> tuple[int, int]:
    """First and last index of the places within a stretch, the last not included."""
    return bisect_left(places, start), bisect_left(places, end)


def _beside(numbers: Sequence[float], wanted: float) -> Sequence[float]:
    """The numbers next to one, below and above."""
    at = bisect_left(numbers, wanted)
    return numbers[max(at - 1, 0) : at + 1]


def _worth(chunk: Chunk) -> float:
    """How much a mention speaks for a recipe: a bare "a lemon" says less than 40 g."""
    amount = chunk.amount
    assert amount is not None
    if amount.unit is not None:
        return 1.0
    return 0.35 if amount.article else 0.7


def _next_same(both: Sequence[Chunk]) -> list[int]:
    """For each food with an amount the place of the next of the same name with another amount."""
    out, seen = [len(both)] * len(both), dict[tuple[str, ...], int]()
    for at, chunk in enumerate(both):
        name = tuple(chunk.of.food.name)
        before = seen.get(name)
        if before is not None and chunk.measured and both[before].measured:
            one, two = both[before].amount, chunk.amount
            if one is not None and two is not None and one.value != two.value:
                out[before] = at
        seen[name] = at
    return out


def _of_other(total: Total) -> float:
    """How likely numbers are of something else (``asides.Numbers``)."""
    return 1 / (1 + math.exp(-total.doubt))


def _in_a_row(totals: list[Total], weighs: Callable[[int, int], float]) -> list[Total]:
    """Totals of different recipes with no ingredients between them."""
    out: list[Total] = []
    for before, after in pairwise(totals):
        near = after.start - before.end < _ROW and weighs(before.end, after.start) < 0.7
        if near and _contradict(before, after):
            out += [before, after] if not out or out[-1] is not before else [after]
    return out[:_ROWS]


def _contradict(a: Total, b: Total) -> bool:
    """Two full statements that differ in energy and more: of two recipes, unless one corrects."""
    if a.corrects or b.corrects or min(len(a.tags), len(b.tags)) < 3 or _batch_and_share(a, b):
        return False
    one, two = ({p.tag: p.value for p in total.parts} for total in (a, b))
    return sum(one[tag] != two[tag] for tag in one.keys() & two.keys()) >= 2


def _is_sum(total: Total, of: Sequence[Total]) -> bool:
    """Every number of a total is the sum of those of others: "if you eat all three, 608 calories"."""
    whole = {p.tag: p.value for p in total.parts}
    parts = [{p.tag: p.value for p in one.parts} for one in of]
    return ENERGY in whole and all(
        whole.keys() <= part.keys() for part in parts
    ) and all(
        abs(value - sum(part[tag] for part in parts)) <= len(parts) / 2 for tag, value in whole.items()
    )  # fmt: skip


def _batch_and_share(a: Total, b: Total) -> bool:
    """Two energies of which one is a whole number of times the other."""
    one = [p.value for p in a.parts if p.tag == ENERGY]
    two = [p.value for p in b.parts if p.tag == ENERGY]
    if not one or not two:
        return not one or not two
    high, low = max(one[-1], two[-1]), min(one[-1], two[-1])
    ratio = high / low if low else 0.0
    whole, share = (a, b) if one[-1] >= two[-1] else (b, a)
    said = [{p.tag: p.value for p in t.parts if p.tag != ENERGY} for t in (whole, share)]
    if any(
        abs(said[0][tag] - ratio * said[1][tag]) > _SHARED * said[0][tag] + ratio
        for tag in said[0].keys() & said[1].keys()
    ):  # fmt: skip
        return False  # their other numbers are not in that ratio
    return ratio >= 1.8 and abs(ratio - round(ratio)) < 0.06 * ratio / max(ratio, 1)
