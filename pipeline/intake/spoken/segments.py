"""Where recipes begin and end: the best way to cut a script into recipes, bases and talk.

Announcements ("number two", "next up"), dish names, paragraphs and the ends of totals are places
where a recipe may begin. Each stretch between two such places has a score as a recipe, as a base
that recipes share, and as mere talk; the cut with the best sum over the whole script wins (dynamic
programming). A recipe has one final total, so a second one, or new ingredients behind it, count
against a stretch; an announcement that is passed over counts too.
"""

from __future__ import annotations

import bisect
import re
from dataclasses import dataclass, field
from itertools import pairwise

from pipeline.intake.spoken.grammar import Talk
from pipeline.intake.spoken.tiling import Chunk
from pipeline.intake.spoken.titles import Title, named_at, title_after
from pipeline.intake.spoken.totals import ENERGY, Total
from pipeline.intake.spoken.words import STRONG, word_set

_N = r"\d{1,2}"
_ORD = "first|second|third|fourth|fifth|sixth|seventh|eighth|ninth|tenth|next|last|final"
_KIND = (
    "recipe|meal|breakfast|brunch|lunch|dinner|supper|snack|dessert|pudding|dish|bowl|flavou?r|"
    "idea|option|"
    "version|variation|smoothie|wrap|salad|shake|combo|box|plate|prep|bake|tiffin|bowl|day|"
    "course|thing|one|"
    "soup|curry|stew|pot|pan|tray|batch|bite"
)
_OPEN = r"(?:(?:okay|ok|alright|right|so|now|and|then|well|um|uh|oh|all|but|righto|anyway|yeah|yep|you know) )*"
_ANNOUNCED = re.compile(
    rf"\b(?:(?:{_KIND}) )?(?:number|no) (?P<n>{_N})\b"
    rf"|\b(?:the |our |my |your |another )?(?P<ord>{_ORD}) (?P<kind>{_KIND}|up|off|on the list|"
    rf"of it|of all|"
    rf"two|of these|of them)(?:'s)?\b(?! (?:time|week|year|night|month|two|few|minute)s?\b)"
    rf"|(?<=\| )(?:okay |ok |right |so |now |and |then |the )*(?P<ord2>{_ORD})(?= [|,]| is\b|"
    rf" it's\b| we\b| comes\b| we've\b| i\b)"
    rf"|\b(?:okay|ok|alright|right|so|now) (?P<ord3>{_ORD})(?= (?:is|we've|comes)\b)"
    rf"|\b(?:up next|last but not least|next (?:we've got|we have|weve got|we got|is|it's|its|"
    rf"i've got|comes)|moving on)\b"
    rf"|\b(?:let's|lets|we'll|i'll|we're going to|we|i'm gonna|we're gonna) (?:start|kick off|"
    rf"begin)(?: off)? with\b"
    rf"|\b(?:starting|kicking (?:it|things|us) off|start off|starting off|"
    rf"we're starting)(?: with)?\b(?= (?:with|this|the|a|is))"
    rf"|\b(?:to finish(?: off)?|and finally|finally (?:we|it's|the|my|a)|lastly)\b"
    rf"|\bafter that (?:comes|is|it's|we)\b|\bonto the\b|\bon to the\b"
)
_SERIES = re.compile(rf"\b(?P<noun>[a-z]{{3,}}) (?P<n>{_N})(?![\d.])")
_MEAL = r"(?:breakfast|brunch|lunch|dinner|supper|dessert|pudding|snacks?)"
_MENTIONED = re.compile(
    r"\b(?:then|and then|now|next|so|okay|after that) (?:there's|there is|we've got|we got|"
    r"we have|i've got|i got|comes) "
    r"(?:the|a|an|my|our)?\b"
    rf"|(?:(?<=\| )|\b(?:then|so|now|and|for|last thing the) )(?:for )?(?P<meal>{_MEAL})(?= )"
    r"|(?:(?<=\| )|\b(?:then|so|and|on|now|for) )(?:on |for )?(?P<weekday>monday|tuesday|wednesday|"
    r"thursday|friday|saturday|sunday)"
    r"(?:'s| night| lunch| dinner)?(?= (?:we|i|i've|i'm|it's|its|is|was|\||,))(?: (?:we|i've|i'm|i|it's|its|is|"
    r"was)\b)?(?: (?:have|had|are having|make|made|do|done|got|having)\b)?"
    r"|\b(?P<weekday2>monday|tuesday|wednesday|thursday|friday|saturday|sunday) (?:is|its|it's|"
    r"we)\b"
    rf"|\b(?P<meal2>{_MEAL})(?= (?:was|is|i had|we had|i made) )"
    r"|\bthis (?:one )?(?:is|one's) (?:called |what i call )?(?:my|the|our|a|an)\b"
    r"|\b(?:i'm|im|we're|i am|we are|today i'm|i'll be|we'll be) (?:going to (?:be )?|"
    r"gonna (?:be )?)?"
    r"(?:making|make|cooking|doing|do|showing you|show you)\b"
    r"|\blet's (?:make|do)\b|\bhow to make\b|\brecipe for\b|\bwe call it\b|\bi call (?:it|this)\b"
    r"|\b(?:oh )?and the\b(?= [a-z ]{3,24} \|)|\boh and the\b"
    r"|\b(?:and|so) the (?:[a-z]+ ){1,3}is the next one\b|\bi always make\b|\bi do a\b"
)
_BASE_NOUN = r"(?P<noun>base|sauce|filling|mix|mixture|dough|batter|marinade|stock|blend|rice mix)"
_BASE_OPENS = re.compile(
    rf"\b(?:there's|i make|i do|i've got|we make|i've|i have|i use) (?:one|1|a|the|this|my) (?:[a-z]+ ){{0,2}}?"
    rf"{_BASE_NOUN.replace('noun', 'noun4')}\b(?= (?:and|that|which|for|it's|is|so|\\||,))|"
    rf"(?:(?<=\| )|\b(?:so|now|and|with|first|do|make) )(?:the|our|my|"
    rf"for the) (?:[a-z]+ )?{_BASE_NOUN}\b"
    rf"|\bsame (?:[a-z]+ ){{0,3}}?{_BASE_NOUN.replace('noun', 'noun3')} (?:which|that) is\b"
)
_BASE_CLOSES = re.compile(
    rf"\b(?:that's|this is|that is|there's|so that's) (?:the|your|our|my) {_BASE_NOUN}\b"
)
_CLOSING = re.compile(
    r"\b(?:that's (?:it|all|us|me|the lot|everything|your (?:two|three|four|five|"
    r"\d))(?: for (?:me|today|this week|now))?|"
    r"so there you go|there you go|see (?:you|y'all|yous|ya)|bye|thanks for watching|"
    r"thank you for watching|subscribe|"
    r"like and subscribe|let me know|in the comments|so that's|so that is|okay that is|"
    r"catch (?:you|ya|yous)|"
    r"cheerio|cheers|peace|take care|if you(?:'ve)? made it)\b"
)


@dataclass(slots=True)
class Place:
    """A place where a recipe may begin."""

    at: int
    body: int
    score: float
    announced: bool = False
    order: int | None = None
    title: Title | None = None
    base: str = ""


@dataclass(slots=True)
class Segment:
    """A stretch of the script: ``recipe``, ``base`` or ``talk``."""

    start: int
    end: int
    kind: str
    place: Place
    title: str = ""
    title_span: tuple[int, int] = (0, 0)
    totals: list[Total] = field(default_factory=list)
    chunks: list[Chunk] = field(default_factory=list)


class Cutter:
    """Cuts a script."""

    def __init__(self, talk: Talk, totals: list[Total], chunks: list[Chunk]) -> None:
        self.talk = talk
        self.totals = sorted((t for t in totals), key=lambda t: t.start)
        self.chunks = chunks
        self.complete = [t for t in self.totals if t.complete]
        self.both = [c for c in chunks if c.kind == "both"]
        self._both_at = [c.start for c in self.both]
        self._total_at = [t.start for t in self.complete]
        self._all_totals_at = [t.start for t in self.totals]
        self._chunk_at = [c.start for c in self.chunks]
        self._weight = [0.0]
        for chunk in self.both:
            self._weight.append(self._weight[-1] + self._worth(chunk))
        self.places = self._places()
        first = next((p for p in self.places if p.announced), None)
        self._counted = first is not None and first.order == 1

    def _worth(self, chunk: Chunk) -> float:
        """How much a mention speaks for a recipe: a bare "a lemon" says less than 40 g."""
        amount = chunk.amount
        assert amount is not None
        if amount.unit is not None:
            return 1.0
        return 0.35 if amount.article else 0.7

    # --- places --------------------------------------------------------------------------------

    def _places(self) -> list[Place]:
        talk = self.talk
        found: dict[int, Place] = {0: Place(0, 0, 0.0)}

        def put(place: Place) -> None:
            near = next((k for k in range(place.at - 4, place.at + 5) if k in found and k), None)
            if near is None and place.announced:
                near = next(
                    (k for k in range(place.at - 12, place.at) if k in found and found[k].announced
                     and not self._both_between(k, place.at)), None,
                )  # fmt: skip
            had = found.get(near) if near is not None else None
            if had is None:
                found[place.at] = place
            elif place.score > had.score or (had.title is None and place.title is not None):
                keep = min(place.at, had.at)
                best = place if place.score >= had.score else had
                other = had if best is place else place
                titles = [t for t in (had.title, place.title) if t is not None]
                titles.sort(key=lambda t: (not t.dish, t.start))
                best.title = titles[0] if titles else None
                best.order = best.order if best.order is not None else other.order
                best.announced |= other.announced
                best.base = best.base or other.base
                best.score = max(place.score, had.score)
                best.body = titles[0].end if titles else max(place.body, had.body)
                found.pop(had.at, None)
                best.at = keep
                found[keep] = best

        for at in range(1, talk.n):
            if talk.words[at].paragraph:
                title = self._short(at)
                put(Place(at, at, -2.2 if title is None else -0.2, title=title))
            elif talk.words[at].breaks == STRONG and (title := self._short(at)) is not None:
                put(Place(at, title.end, -0.2, title=title))
        for total in self.complete:
            at = self._after(total)
            if at < talk.n:
                put(Place(at, at, -1.0))
        for match in _MENTIONED.finditer(talk.flow):
            at, body = talk.at(match.start()), self._index(match.end())
            title = title_after(talk, body)
            if match["weekday"] or match["weekday2"]:
                put(Place(at, title.end if title else body, 1.2, title=title))
            elif (meal := match["meal"] or match["meal2"]) and (title is None or not title.dish):
                name = Title(meal.capitalize(), talk.at(match.start()), body, False)
                put(Place(at, body, 0.5, title=name))
            elif title is not None and title.dish:
                put(Place(at, title.end, 0.2, title=title))
        for at, body, order in self._announcements():
            title = title_after(talk, body)
            put(Place(at, title.end if title else body, 2.6, True, order, title))
        for match in _BASE_OPENS.finditer(talk.flow):
            at, body = talk.at(match.start()), self._index(match.end())
            put(Place(at, body, 0.0, base=match["noun"] or match["noun3"] or match["noun4"]))
        places = [found[k] for k in sorted(found)]
        at_places = [p.at for p in places]
        for match in _BASE_CLOSES.finditer(talk.flow):
            at = talk.at(match.start())
            index = bisect.bisect_left(at_places, at) - 1
            told = bisect.bisect_left(self._total_at, at) - 1
            since = self.complete[told].end if told >= 0 else -1
            if index < 0:
                continue
            place = places[index]
            if at - place.at < 150 and not place.announced and place.at >= since:
                place.base = place.base or match["noun"]
        return places

    def _both_between(self, start: int, end: int) -> bool:
        return bisect.bisect_left(self._both_at, start) != bisect.bisect_left(self._both_at, end)

    def _index(self, offset: int) -> int:
        """First word that begins at or after a character of the flow."""
        return bisect.bisect_left(self.talk._starts, offset)

    def _after(self, total: Total) -> int:
        """First word of the clause after a total."""
        talk, at = self.talk, total.end
        while at < talk.n and at < total.end + 6 and not talk.words[at].breaks and (
            talk.text[at] in ("a", "per", "each", "in", "of", "for", "one", "serving", "on", "that", "all", "g",
                              "gram", "grams", "portion")
            or talk.text[at] in talk.known.classes["container"]
        ):  # fmt: skip
            at += 1
        return at

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
        return title

    def _announcements(self) -> list[tuple[int, int, int | None]]:
        """(place, end, order) of what says that the next one comes."""
        talk = self.talk
        out: list[tuple[int, int, int | None]] = []
        ordinals = talk.known.ordinals
        for match in _ANNOUNCED.finditer(talk.flow):
            at, end = talk.at(match.start()), self._index(match.end())
            order: int | None = None
            if match["n"]:
                order = int(match["n"])
            elif match["ord"] or match["ord2"] or match["ord3"]:
                order = ordinals.get(match["ord"] or match["ord2"] or match["ord3"])
            if self._refers(at):
                continue
            out.append((at, end, order))
        seen: dict[str, dict[int, tuple[int, int]]] = {}
        for match in _SERIES.finditer(talk.flow):
            noun, number = match["noun"], int(match["n"])
            end = self._index(match.end())
            if noun in talk._ends or noun in talk.known.verbs or noun in ("number",) or number < 1:
                continue
            unit, _ = talk.known.unit_at(talk.words, end)
            if talk.food_length(end - 2) or (
                unit is not None and unit.kind in ("mass", "volume", "trade")
            ):
                continue
            if noun not in _SERIES_NOUNS and (
                (noun,) in talk.known.units or noun in talk.known.classes["talk"]
            ):  # fmt: skip
                continue
            seen.setdefault(noun, {}).setdefault(
                number, (talk.at(match.start()), self._index(match.end()))
            )
        for noun, numbers in seen.items():
            kinds = noun in _SERIES_NOUNS or noun in _KIND.split("|")
            if (1 in numbers and 2 in numbers) or (
                kinds and any(k + 1 in numbers for k in numbers)
            ):
                last = -1
                for number in sorted(numbers):
                    at, end = numbers[number]
                    if at <= last:
                        break
                    last = at
                    if not self._refers(at):
                        out.append((at, end, number))
        return out

    def _refers(self, at: int) -> bool:
        """ "the same as the last one": points back, announces nothing."""
        talk = self.talk
        if talk.words[at].breaks == STRONG:
            return False
        before = talk.said(at - 3, at).split()
        return bool(before) and (
            (
                before[-1]
                in (
                    "as",
                    "like",
                    "than",
                    "of",
                    "from",
                    "with",
                    "for",
                    "to",
                    "on",
                    "in",
                    "after",
                    "before",
                    "at",
                )
                and before[-2:] != ["moving", "on"]
            )
            or before[-2:]
            in (
                ["as", "the"],
                ["like", "the"],
                ["of", "the"],
                ["for", "the"],
                ["around", "for"],
                ["in", "the"],
                ["at", "the"],
                ["to", "the"],
            )
        )

    # --- the best cut --------------------------------------------------------------------------

    def cut(self) -> list[Segment]:
        """The best segments in order."""
        places = self.places
        ends = [p.at for p in places[1:]] + [self.talk.n]
        count = len(places)
        best = [float("-inf")] * (count + 1)
        back: list[tuple[int, str]] = [(0, "talk")] * (count + 1)
        best[0] = 0.0
        for j in range(1, count + 1):
            for i in range(j - 1, max(j - 40, -1), -1):
                skipped = places[i + 1 : j]
                passed = sum(2.4 for p in skipped if p.announced)
                start, end = places[i].at, ends[j - 1]
                for kind, score in self._scores(places[i], start, end):
                    whole = best[i] + score - (passed if kind != "talk" else 0.6 * passed)
                    if whole > best[j]:
                        best[j], back[j] = whole, (i, kind)
                inside = bisect.bisect_left(self._total_at, end) - bisect.bisect_left(
                    self._total_at, start
                )
                if end - start > 2_500 or inside > 5:
                    break
        out: list[Segment] = []
        j = count
        while j > 0:
            i, kind = back[j]
            out.append(self._segment(places[i], places[i].at, ends[j - 1], kind))
            j = i
        if self.both and not any(s.kind == "recipe" for s in out):
            first = places[0]
            return [
                self._segment(
                    Place(0, first.body, 0.0, title=first.title), 0, self.talk.n, "recipe"
                )
            ]
        return out[::-1]

    def _segment(self, place: Place, start: int, end: int, kind: str) -> Segment:
        segment = Segment(start, end, kind, place)
        lo, hi = (bisect.bisect_left(self._all_totals_at, x) for x in (start, end))
        segment.totals = self.totals[lo:hi]
        lo, hi = (bisect.bisect_left(self._chunk_at, x) for x in (start, end))
        segment.chunks = self.chunks[lo:hi]
        if place.title is None and kind == "recipe":
            place.title = self._title_within(segment)
        if place.title is not None:
            segment.title, segment.title_span = (
                place.title.text,
                (place.title.start, place.title.end),
            )
        return segment

    def _title_within(self, segment: Segment) -> Title | None:
        """A dish named before the first ingredient, of a recipe that nothing announced."""
        talk = self.talk
        both = [c.start for c in segment.chunks if c.kind == "both"]
        stop = min([segment.start + 45, segment.end, *(both[:1])])
        best: Title | None = None
        for at in range(segment.place.body, stop):
            lead = talk.words[at].breaks == STRONG or talk.text[at] in _NAMES_IT or (
                talk.words[at].article
            )  # fmt: skip
            if not lead:
                continue
            title = named_at(talk, at)
            if title is None or title.end > stop + 1 or not title.dish:
                continue
            if talk.text[title.end - 1] in talk.known.classes["dish"]:
                return title
            if best is None and talk.text[at] in (
                "it's",
                "its",
                "is",
                "called",
                "make",
                "making",
                "do",
                "have",
            ):
                best = title
        return best

    def _scores(self, place: Place, start: int, end: int) -> list[tuple[str, float]]:
        lo = bisect.bisect_left(self._both_at, start)
        hi = bisect.bisect_left(self._both_at, end)
        weight = self._weight[hi] - self._weight[lo]
        first = bisect.bisect_left(self._total_at, start)
        last = bisect.bisect_left(self._total_at, end)
        totals = self.complete[first:last]
        talk = -0.45 * weight - 1.6 * len(totals) - (1.2 if place.announced else 0.0)
        out = [("talk", talk)]
        recipe = place.score + (0.4 if place.title is not None and place.title.dish else 0.0)
        if not totals:
            if place.announced or (place.title is not None and place.title.dish):
                recipe += (
                    -3.5 if weight < 0.7 else -1.2 if weight < 1.5 else 0.2 if weight < 2.5 else 1.6
                )
            else:
                recipe += (
                    -3.5 if weight < 1.5 else -1.5 if weight < 2.5 else -0.5 if weight < 4 else 0.6
                )
        else:
            recipe += 2.0 + (-2.4 if weight < 0.7 else 0.0 if weight < 1.5 else 2.2)
            recipe -= self._rivals(totals)
            recipe -= self._behind(totals, lo, hi)
        if place.base and not place.announced:
            recipe -= 2.0
        if place.at == 0 and self._counted:
            recipe -= 4.5  # what comes before "number one" is talk
        out.append(("recipe", recipe))
        if place.base and not totals and weight >= 1.5:
            out.append(
                (
                    "base",
                    1.2
                    + max(place.score, 0.0)
                    + (0.8 if self._used_later(place.base, start, end) else -3.0),
                )
            )
        return out

    def _used_later(self, noun: str, start: int, end: int) -> bool:
        talk = self.talk
        rest = talk.flow[talk.begins(end) : talk.begins(end + 3_000)]
        own = talk.flow[talk.begins(start) : talk.begins(end)]
        return re.search(
            rf"\b(?:same|the|your|that|whole|our|my|lot of|of) (?:[a-z]+ )?{noun}\b|"
            rf"\b{noun} (?:again|goes|in|first|plus|and|then)\b"
            rf"|[|,] {noun}\b", rest
        ) is not None or re.search(
            rf"\bsame (?:[a-z]+ )?{noun}\b"
            rf"|\b{noun} (?:[a-z']+ ){{0,4}}?(?:for|in) (?:both|all|each|every|everything)\b", own
        ) is not None  # fmt: skip

    def _rivals(self, totals: list[Total]) -> float:
        """Cost of totals that cannot be of one recipe."""
        cost = 0.0
        for before, after in pairwise(totals):
            lo = bisect.bisect_left(self._both_at, before.end)
            hi = bisect.bisect_left(self._both_at, after.start)
            between = self._weight[hi] - self._weight[lo]
            if after.start - before.end < 30 and between < 0.8:
                continue
            if _batch_and_share(before, after):
                cost += 0.6 * between
                continue
            cost += 3.2 + 0.3 * min(between, 4.0)
        return cost

    def _behind(self, totals: list[Total], lo: int, hi: int) -> float:
        """Cost of ingredients "
        "behind the last total, of a recipe that had its ingredients before it."""
        first, last = totals[0], totals[-1]
        split = bisect.bisect_left(self._both_at, last.end)
        before = (
            self._weight[max(bisect.bisect_left(self._both_at, first.start), lo)] - self._weight[lo]
        )
        behind = self._weight[hi] - self._weight[min(split, hi)]
        return min(0.75 * behind, 5.0) if before >= 1.5 else 0.0


_NAMES_IT = word_set("the my our is called it's its make making do have having made")
_SERIES_NOUNS = word_set(
    "recipe day dish bowl plate dinner lunch breakfast supper snack meal week video"
)


def _batch_and_share(a: Total, b: Total) -> bool:
    """Two energies of which one is a whole number of times the other."""
    one = [p.value for p in a.parts if p.tag == ENERGY]
    two = [p.value for p in b.parts if p.tag == ENERGY]
    if not one or not two:
        return not one or not two
    high, low = max(one[-1], two[-1]), min(one[-1], two[-1])
    ratio = high / low if low else 0.0
    return ratio >= 1.8 and abs(ratio - round(ratio)) < 0.06 * ratio / max(ratio, 1)


def closing_at(talk: Talk, start: int, end: int) -> int:
    """First word of a farewell within a stretch; ``end`` when there is none."""
    stretch = talk.flow[talk.begins(start) : talk.begins(end)]
    found = _CLOSING.search(stretch)
    return end if found is None else talk.at(talk.begins(start) + found.start())


def announces(talk: Talk) -> bool:
    """The words announce recipes by number and state totals: a terse script."""
    return _ANNOUNCED.search(talk.flow) is not None and any(
        word in ("calories", "kcal", "cals") for word in talk.text
    )
