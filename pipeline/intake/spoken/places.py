"""Places where a recipe may begin.

Announcements ("number two", "next up"), dishes that are named, paragraphs, bases and the ends of
totals are such places. Of those that lie close by, one is kept, with what all of them say.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache

from pipeline.intake.spoken.amounts import amount_at
from pipeline.intake.spoken.announced import announcements, refers_back
from pipeline.intake.spoken.contents import NAMED, Contents
from pipeline.intake.spoken.phrases import phrases, word_class
from pipeline.intake.spoken.talk import Talk
from pipeline.intake.spoken.titles import Title, named_at, title_after
from pipeline.intake.spoken.words import STRONG
from pipeline.resources import shared_rows

_NEAR = 4  # words between two places
_LED = 12  # and between two announcements with no ingredient between
_BASE = 18  # words behind the name of a base in which its first line stands
_CLOSES = 150  # words of a base that is named at its end
_FAR = 8  # words behind an ingredient in which no sentence begins a recipe


@cache
def weights() -> dict[str, float]:
    """What each feature of a stretch speaks for it."""
    return {row["feature"]: float(row["weight"]) for row in shared_rows("spoken_cuts.csv")}


@dataclass(slots=True)
class Place:
    """A place where a recipe may begin.

    Attributes:
        at: the word; ``body`` that behind what announces or names it.
        kind: what stands there, of the weights ``begins_KIND``.
        announced: words say that the next one comes, and ``order`` perhaps which.
        title: what is named there.
        base: of a base, its name; words of it that stand for it between ``|``.
    """

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


def places_of(contents: Contents) -> list[Place]:
    """The places of a script where a recipe may begin, in order; the first is where it begins."""
    return _Places(contents).found()


class _Places:
    """Gathers places."""

    def __init__(self, contents: Contents) -> None:
        self._contents = contents
        self._talk = contents.talk
        self._at: dict[int, Place] = {0: Place(0, 0, "script")}

    def found(self) -> list[Place]:
        """All of them, in order."""
        talk, contents = self._talk, self._contents
        self._sentences()
        for total in contents.totals:
            at = contents.behind(total)
            if at < talk.n:
                self._put(Place(at, at, "behind_total"))
        for match in phrases("mentioned").finditer(talk.flow):
            self._mentioned(match)
        for at, body, order in announcements(contents):
            title = title_after(talk, body)
            self._put(Place(at, title.end if title else body, "announced", True, order, title))
        self._bases()
        for at, name in talk.turns.items():
            text = " ".join(talk.text[name.start : name.end]).capitalize()
            self._put(Place(at, at, "in_turn", title=Title(name.start, name.end, text, True)))
        self._named_in_row()
        self._unlisted()
        places = [self._at[at] for at in sorted(self._at)]
        self._bases_that_close(places)
        return places

    def _put(self, place: Place) -> None:
        """Take a place up, or join it with one that lies close by."""
        found, contents = self._at, self._contents
        near = next(
            (k for k in range(place.at - _NEAR, place.at + _NEAR + 1)
             if k in found and k and not contents.states(min(k, place.at), max(k, place.at))), None,
        )  # fmt: skip
        if near is None and place.announced:
            near = next(
                (k for k in range(place.at - _LED, place.at) if k in found and found[k].announced
                 and not contents.weighs(k, place.at)), None,
            )  # fmt: skip
        if near is None:
            found[place.at] = place
            return
        had = found[near]
        if place.score <= had.score and (had.title is not None or place.title is None):
            return
        del found[had.at]
        best = self._joined(had, place)
        found[best.at] = best

    def _joined(self, had: Place, place: Place) -> Place:
        """Two places that lie close by as one."""
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
        later = max(place, had, key=lambda p: p.at)
        parted = later.announced and (
            self._talk.words[later.at].breaks == STRONG
            or (
                (had if later is place else place).kind == "behind_total"
                and any(map(self._talk.counts, range(min(had.at, place.at), later.at)))
            )
        )  # the servings of the dish before: "for two people, next thing is salad"
        best.at = later.at if parted else min(place.at, had.at)
        return best

    def _sentences(self) -> None:
        """Paragraphs, and sentences that only name a dish."""
        talk = self._talk
        for at in range(1, talk.n):
            if talk.words[at].paragraph or talk.stops(at):
                title = _named_alone(talk, at) or _comes_next(talk, at)
                if title is not None:
                    body = at if talk.words[at].paragraph else title.end
                    self._put(Place(at, body, "dish_alone", title=title))
                elif talk.words[at].paragraph:
                    self._put(Place(at, at, "paragraph"))

    def _mentioned(self, match: re.Match[str]) -> None:
        """A dish, a meal or a day is named."""
        talk = self._talk
        at, body = talk.at(match.start()), talk.from_offset(match.end())
        if talk.word(body) == "of":
            return  # "then comes of the sausage 150 grams"
        title = title_after(talk, body)
        meal = match["meal"] or match["meal2"]
        if match["weekday"] or match["weekday2"]:
            self._put(Place(at, title.end if title else body, "weekday", title=title))
        elif meal and (title is None or not title.dish):
            self._put(Place(at, body, "meal", title=Title(at, body, meal.capitalize(), False)))
        elif title is not None and title.dish and not _listed(talk, at, title):
            self._put(Place(at, title.end, "dish_named", title=title))

    def _bases(self) -> None:
        """Places where a base is named and its lines come next. Whether it is one of several recipes
        or a part of one is decided by the cut, from who names it later."""
        talk, contents = self._talk, self._contents
        told: set[str] = set()
        for match in phrases("a_base").finditer(talk.flow):
            at, end = talk.at(match.start()), talk.from_offset(match.end())
            around = contents.both_before(end)
            if not any(c.measured for c in contents.both_in(end, end + _BASE)) or (
                around is not None and at < around.end
            ):  # fmt: skip
                continue  # "soy sauce"
            name = match[0].replace(" ", "|")
            if name in told and not word_class("points_at_base").isdisjoint(
                talk.text[max(at - 2, 0) : end + 1]
            ):
                continue  # "the base again, and into the base"
            told.add(name)
            back = range(at, max(at - _NEAR, 0) - 1, -1)
            begin = next((k for k in back if talk.words[k].breaks), at)
            self._put(Place(begin, end, "base", base=name))

    def _bases_that_close(self, places: list[Place]) -> None:
        """Call a place a base that is named so at its end: "and that's the base"."""
        talk = self._talk
        begins = [place.at for place in places]
        for match in phrases("base_closes").finditer(talk.flow):
            at = talk.at(match.start())
            place = places[max(bisect_left(begins, at) - 1, 0)]
            since = self._contents.end_before(at)
            if 0 < at - place.at < _CLOSES and not place.announced and place.at >= since:
                place.base = place.base or match["noun"]

    def _named_in_row(self) -> None:
        """Places where the dishes are first named whose numbers stand in a row at the end."""
        talk, row = self._talk, self._contents.row
        since = 0
        for total in row:
            for start, end in _runs_of(self._contents.lead(total)):
                name = talk.folded[start:end]
                at = next((k for k in range(since, row[0].start - NAMED)
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
        talk, near = self._talk, -_NEAR
        inside = {
            at for one in (*self._contents.totals, *self._contents.both)
            for at in range(one.start + 1, one.end)
        }  # fmt: skip
        for at in range(1, talk.n):
            kind = "" if at in inside else self._unlisted_kind(at)
            if (
                not kind
                or at - near <= _NEAR
                or any(k in self._at for k in range(at - _NEAR, at + _NEAR + 1))
            ):
                continue
            near = at
            title = named_at(talk, at + (kind == "ordinal"))
            dish = title is not None and title.dish and title.start - at <= 3
            body = title.end if dish and title is not None else at
            self._at[at] = Place(at, body, kind, title=title if dish else None)

    def _unlisted_kind(self, at: int) -> str:
        """What kind of place a word may be that no phrase tells; "" for none."""
        talk = self._talk
        word, text = talk.words[at], talk.text[at]
        if text in talk.known.ordinals and not word.share and not refers_back(talk, at):
            after = talk.close(at + 1)
            unit, _ = talk.unit_at(at + 1)
            if unit is None and after not in word_class("no_nutrient_unit"):
                return "ordinal"
        marks = text in word_class("begins_talk")
        if (marks or text in word_class("names_it")) and not talk.counts(at + 1):
            title = named_at(talk, at)
            if title is not None and title.dish and not _listed(talk, at, title) and (
                _ends_as_dish(talk, title)
            ):  # fmt: skip
                return "dish_said"
        if _names_bare(talk, at):
            return "dish_said"
        if not marks and word.breaks != STRONG:
            return ""
        before = self._contents.both_before(at)
        return "sentence" if at - (before.end if before is not None else 0) >= _FAR else ""


def _named_alone(talk: Talk, at: int) -> Title | None:
    """A sentence that only names a dish: "Red lentil soup." """
    end = at
    while end < talk.n and end - at < 8 and (end == at or talk.words[end].breaks == 0):
        end += 1
    if end - at > 6 or (end < talk.n and not talk.stops(end)):
        return None
    if amount_at(talk, at) is not None or any(
        talk.words[i].value is not None for i in range(at, end)
    ):
        return None
    title = named_at(talk, at)
    if title is None or not title.dish or title.end < end:
        return None
    return None if _listed(talk, at, title) else title


def _comes_next(talk: Talk, at: int) -> Title | None:
    """The dish that a sentence begins with, and its turn: "Shakshuka first, because I'm hungry"."""
    title = named_at(talk, at)
    if title is None or talk.close(title.end) not in talk.known.ordinals:
        return None
    return title if _ends_as_dish(talk, title) else None


def _names_bare(talk: Talk, at: int) -> bool:
    """A dish of several words, none of them small, stands where no clause goes on: "comes out
    like a cloud spinach feta muffins so one base mix"."""
    if not talk.food_length(at) or talk.food_length(at - 1) or talk.text[at - 1] in talk.small:
        return False
    title = named_at(talk, at)
    return (
        title is not None and title.start == at and title.end - at > 1 and _ends_as_dish(talk, title)
        and all(talk.food_length(k) or talk.text[k] in word_class("dish") for k in range(at, title.end))
    )  # fmt: skip


def _ends_as_dish(talk: Talk, title: Title) -> bool:
    """The last word of a name is that of a dish: soup, muffins."""
    return talk.text[title.end - 1] in word_class("dish")


def _listed(talk: Talk, at: int, title: Title) -> bool:
    """ "And then cheese.", "and lingonberry jam": one more food of the same dish."""
    one = talk.food_length(title.start) >= title.end - title.start
    goes_on = talk.text[at] in word_class("goes_on") and one
    return goes_on and word_class("dish").isdisjoint(talk.text[title.start : title.end])


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
