"""What speaks for a stretch of a script as a recipe, as a base that recipes share, and as mere talk.

Each feature has its weight in ``shared/spoken_cuts.csv``. A recipe has one final total, so a second
one, or new ingredients behind it, count against a stretch; an announcement that is passed over counts
too.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from itertools import accumulate, pairwise

from pipeline.intake.spoken.asides import usual_tags
from pipeline.intake.spoken.composition import NOTHING, added, misfit
from pipeline.intake.spoken.contents import Contents
from pipeline.intake.spoken.mentions import Chunk
from pipeline.intake.spoken.phrases import phrases
from pipeline.intake.spoken.places import Place
from pipeline.intake.spoken.stated import ENERGY, Total
from pipeline.intake.spoken.statements import batch_and_share, contradict, is_sum, plausible
from pipeline.intake.spoken.written import written

#: Feature → how much of it a stretch has.
Features = dict[str, float]

_SEVERAL = 0.4  # any other number of servings than one
_SHORT = 2.0  # most that lines short of the numbers cost: others may be taken from before
_LEAST = 1.5  # what foods weigh that are several lines
_USUAL_LINES = 9.0  # what most recipes' lines weigh at most
_WIDE_GAP = 40  # words from where a recipe begins to its first line, as far as it counts
_LONG_BEFORE = 15  # words before a dish in which it may have been named for a start
_ADDED = 8  # recipes whose numbers are added up, at most
_BEGINS = 40  # words in which a recipe says what dish it is
#: Limits of how much the lines of a stretch say, where it has numbers, a name, or neither.
_LINES = {"numbers": (0.7, 1.5), "named": (0.7, 1.5, 2.5), "bare": (1.5, 2.5, 4.0)}
_REACH = 40  # places in one stretch
_MOST_WORDS, _MOST_TOTALS = 2_500, 5  # and its words and totals, where it has no more to go
_USED_WITHIN = 3_000  # words behind a base in which it is used


class Stretches:
    """The stretches between the places of a script."""

    def __init__(self, contents: Contents, places: Sequence[Place]) -> None:
        self.places = places
        self._contents = contents
        self._talk = talk = contents.talk
        totals, both = contents.totals, contents.both
        lines = [written(c.of, 1.0) for c in both]
        talk.composition.read(lines)
        macros = [talk.composition.known[text] or NOTHING for text in lines]
        self._macros = list(accumulate(macros, lambda a, b: added((a, b)), initial=NOTHING))
        self._batches = [
            (a.end, b.start) for a, b in pairwise(totals)
            if ENERGY in a.tags & b.tags and batch_and_share(a, b)
            and not any(c.measured for c in contents.both_in(a.end, b.start))
        ]  # fmt: skip
        self._usual_tags = usual_tags(totals)
        self._sums = {
            id(total) for at, total in enumerate(totals)
            if at and not contents.weighs(totals[at - 1].end, total.start)
            and any(is_sum(total, totals[at - k : at]) for k in range(2, min(at, _ADDED) + 1))
        }  # fmt: skip
        self._stated: dict[tuple[int, ...], dict[str, float]] = {}
        self._worded: dict[int, Features] = {}
        self._first_said: dict[str, int] = {}
        for at, word in enumerate(talk.folded):
            self._first_said.setdefault(word, at)
        self._next_same = _next_same(both)
        counted = [(at, w.value or 0.0) for at, w in enumerate(talk.words) if talk.counts(at)]
        counted = [(at, n) for at, n in counted if 2 <= n <= 36 and n == int(n)]
        self._counts_at, self._counts = [at for at, _ in counted], [n for _, n in counted]
        orders = [p for p in places if p.announced and p.order]
        self._first = next(
            (one.at for one, two in pairwise(orders) if (one.order, two.order) == (1, 2)),
            orders[0].at if orders and orders[0].order == 1 else 0,
        )

    def end_of(self, j: int) -> int:
        """Where a stretch ends that goes on to place ``j``."""
        return self.places[j].at if j < len(self.places) else self._talk.n

    def ways(
        self, row: Sequence[Total], amid: bool = False
    ) -> Iterator[tuple[int, int, str, int | None, Features]]:
        """What each stretch may be, in the order of their ends: the places it begins at and goes on
        to, its kind, the total of the row that it takes, what speaks for it.

        Args:
            row: totals that are no longer where they are said: recipes may take them, in order.
            amid: the speaker says numbers before the last ingredients, in one recipe as in another.
        """
        places = self.places
        for j in range(1, len(places) + 1):
            end = self.end_of(j)
            for i in range(j - 1, max(j - _REACH, -1), -1):
                passed = sum(p.announced for p in places[i + 1 : j])
                start = places[i].at
                totals = self._contents.totals_in(start, end)
                for kind, total, features in self._ways(places[i], end, totals, row):
                    if amid and "lines_behind" in features:
                        behind = features.pop("lines_behind")
                        features |= {"lines_amid": behind, "none_amid": not behind}
                    features["passed" if kind != "talk" else "passed_in_talk"] = passed
                    yield i, j, kind, total, features
                if end - start > _MOST_WORDS or len(totals) > _MOST_TOTALS:
                    break

    def meant(self, totals: list[Total]) -> list[Total]:
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
            or any(batch_and_share(t, f) for f in full)
        ]  # fmt: skip

    def _ways(
        self, place: Place, end: int, totals: list[Total], row: Sequence[Total]
    ) -> Iterator[tuple[str, int | None, Features]]:
        """What a stretch may be: its kind, the total of the row that it takes, what speaks for it."""
        start, apart = place.at, {id(t) for t in row}
        own = [t for t in totals if id(t) not in apart]
        others = len(totals) - len(own)
        meant = self.meant(own)
        other = sum(map(_of_other, own))
        weight = self._contents.weighs(start, end)
        yield "talk", None, {
            "talk_lines": weight, "talk_numbers": len(own) - other, "talk_others": other,
            "talk_announced": place.announced,
        }  # fmt: skip
        beside = other - sum(map(_of_other, meant))
        around = {
            "over_a_row": others, "numbers_beside": len(own) - len(meant) - beside,
            "others_beside": beside,
        }  # fmt: skip
        yield "recipe", None, self._as_recipe(place, end, meant) | around
        if place.base and not own and weight >= _LEAST:
            used = "base_used" if self._used_later(place.base, end) else "base_unused"
            told: Features = {"base": 1.0, used: 1.0, "base_place": max(place.score, 0.0)}
            yield "base", None, told | around
        if own or weight < _LINES["numbers"][0]:
            return
        for at, total in enumerate(row):
            features = self._as_recipe(place, end, [total])
            features["over_a_row"] = others
            features["named_in_row" if self._names(total, start, end) else "not_named_in_row"] = 1.0
            yield "recipe", at, features

    def _as_recipe(self, place: Place, end: int, totals: list[Total]) -> Features:
        """What speaks for a stretch as a recipe with some numbers."""
        contents, start = self._contents, place.at
        recipe: Features = {f"begins_{place.kind}": 1.0}
        dish = place.title is not None and place.title.dish
        recipe["dish"] = dish
        recipe |= self.wording(place)
        lo, hi = contents.within(start, end)
        weight = contents.weighs(start, end)
        recipe["repeats"] = sum(self._next_same[at] < hi for at in range(lo, hi))
        recipe["many_lines"] = max(0.0, weight - _USUAL_LINES)
        first = contents.both[lo].start if lo < hi else end
        recipe["gap"] = min(max(first - place.body, 0), _WIDE_GAP) / _WIDE_GAP
        if totals:
            recipe["numbers"] = 1.0
            recipe["misfit"] = self._misfit(totals, place, end)
            tags = {tag for t in totals for tag in t.tags}
            recipe["poor_numbers"] = len(tags) < self._usual_tags - 1
            recipe["others"] = min(map(_of_other, totals))
            recipe["rival_numbers"] = self._rivals(totals)
            recipe["lines_behind"] = self._behind(totals, start, end)
            recipe["named_with_numbers"] = any(self._names(t, start, end) for t in totals)
            known = "numbers"
        else:
            known = "named" if place.announced or dish else "bare"
            recipe["without_numbers"] = bool(contents.totals)
        recipe[f"{known}_{bisect_right(_LINES[known], weight)}"] = 1.0
        recipe["parts_batch"] = any(lo <= start <= hi for lo, hi in self._batches)
        recipe["base_begins"] = bool(place.base) and not place.announced
        recipe["before_the_first"] = start < self._first and not totals
        return recipe

    def wording(self, place: Place) -> Features:
        """The words that a recipe begins with, and the last before them."""
        if place.at not in self._worded:
            talk, at = self._talk, place.at
            told = {f"at {k}: {talk.text[at + k]}": 1.0 for k in range(3)
                    if at + k < talk.n and not talk.food_length(at + k) and not talk.counts(at + k)}  # fmt: skip
            if at:
                last = "." if talk.stops(at) else talk.text[at - 1]
                told[f"after: {last}"] = 1.0
            told["named_before"] = self._named_before(place)
            self._worded[at] = told
        return self._worded[place.at]

    def _named_before(self, place: Place) -> float:
        """Whether the dish was named long before, as in "today it's soup, then pie"."""
        if place.title is None or not place.title.dish:
            return 0.0
        talk, title = self._talk, place.title
        words = [w for w in talk.folded[title.start : title.end] if w]
        before = title.start - _LONG_BEFORE
        return float(bool(words) and all(self._first_said[word] < before for word in words))

    def _misfit(self, totals: list[Total], place: Place, end: int) -> float:
        """How much the numbers of a stretch speak against its lines, for the best of the servings
        that a number said there may mean."""
        contents, start = self._contents, place.at
        lo, hi = contents.within(start, end)
        while lo < hi and contents.both[lo].start < place.body and not contents.both[lo].measured:
            lo += 1  # "a lamb and barley pot"
        first, last = self._macros[lo], self._macros[hi]
        lines = (last[0] - first[0], last[1] - first[1], last[2] - first[2], last[3] - first[3])
        key = tuple(map(id, totals))
        if key not in self._stated:
            self._stated[key] = plausible(totals)
        stated = self._stated[key]
        energy = stated.get(ENERGY)
        lo, hi = bisect_left(self._counts_at, start), bisect_left(self._counts_at, end)
        said = set(self._counts[lo:hi])
        if energy:  # those on both sides of what the energies ask for
            said = {*_beside(sorted(said), lines[0] / energy)}
        cost, n = min((misfit(lines, stated, n) + _SEVERAL * (n > 1), n) for n in {1.0, *said})
        short = energy is not None and lines[0] < energy * n
        short = short and contents.weighs(0, start) >= _LEAST  # lines may be taken from before
        return min(cost, _SHORT) if short else cost

    def _used_later(self, noun: str, end: int) -> bool:
        """The base is named again before the next numbers, which would else be of what it is a part
        of."""
        talk, total = self._talk, self._contents.total_from(end)
        stop = total.end if total is not None else talk.n
        rest = talk.flow[talk.begins(end) : talk.begins(min(end + _USED_WITHIN, stop))]
        return phrases("base_used_later", noun=f"(?:{noun})").search(rest) is not None

    def _names(self, total: Total, start: int, end: int) -> bool:
        """The words before a total are said in a stretch too, as foods or dishes."""
        folded = self._talk.folded
        names = {folded[at] for at in self._contents.lead(total)}
        return not names.isdisjoint(folded[start : min(end, start + _BEGINS)])

    def _rivals(self, totals: list[Total]) -> float:
        """Cost of totals that cannot be of one recipe."""
        cost = 0.0
        for before, after in pairwise(totals):
            between = self._contents.weighs(before.end, after.start)
            if before.tags.isdisjoint(after.tags):
                continue  # the energy first, protein and fat at the end
            near = after.start - before.end < 30 and between < 0.8
            if near and not (between and contradict(before, after)):
                continue
            if batch_and_share(before, after):
                cost += 0.6 * between
                continue
            cost += 3.2 + 0.3 * min(between, 4.0)
        return cost

    def _behind(self, totals: list[Total], start: int, end: int) -> float:
        """Cost of ingredients behind the last total, of a recipe that had its own before it."""
        first, last = totals[0].start, totals[-1].end
        if self._contents.weighs(start, max(first, start)) < _LEAST:
            return 0.0
        return min(0.75 * self._contents.weighs(min(last, end), end), 5.0)


def _beside(numbers: Sequence[float], wanted: float) -> Sequence[float]:
    """The numbers next to one, below and above."""
    at = bisect_left(numbers, wanted)
    return numbers[max(at - 1, 0) : at + 1]


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
