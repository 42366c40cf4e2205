"""Spoken scripts: recipes talked through, pulled apart into recipes, lines and stated totals.

Three passes over the words, none of them guessing at what is not there:

1. stated totals ("that comes to 430 calories, 31 of protein"), which also tell where a recipe ends;
2. where recipes begin ("first up is", "number two", "moving on to", or new ingredients after a total);
3. within each recipe its ingredient mentions: an amount with a food, or a food that is added.

Everything found keeps its line and time. An amount that fits nowhere is reported, never invented.
"""

from __future__ import annotations

import bisect
import math
import re
from dataclasses import dataclass, field, replace
from itertools import pairwise

from pipeline.intake.captions import pieces
from pipeline.intake.model import Basis, RawLine, RawRecipe, RawStated, Read, cut
from pipeline.intake.spoken_words import (
    STRONG,
    Lexicon,
    Unit,
    Word,
    lexicon,
    shown_number,
    singular,
    words_of,
)
from pipeline.nutrients import NET_CARBS_TAG
from pipeline.problems import Problem


def _set(words: str) -> frozenset[str]:
    return frozenset(words.split())


# --- words with a part to play ------------------------------------------------------------------

_VERBS = _set("""
    add adding added chuck chucking throw throwing toss tossing pour pouring stir stirring mix mixing fold
    folding sprinkle sprinkling drizzle drizzling top topping topped finish finishing season seasoning
    serve serving squeeze squeezing grate grating crack cracking spread dollop drop dropping use using
    grab take taking need needs want get got put putting goes go going with plus start starts starting
    begin whisk whisking blend blitz layer press whack bung pop slice cube fry brown boil cook bake
    roast scatter rub marinate combine includes including having have has
""")
_STOP = _set("""
    and or then plus into in on onto to for which that so because i you we he she they it its it's is are
    was be gives give makes make making i'm im i've you're youre you'll we're were we've that's thats
    this these those there if until while when where but as at from over under with without just um uh er
    erm like okay ok alright right now again maybe about around roughly you'd i'd i'll let's lets not no
    don't dont obviously basically honestly literally really very per each every all both also too well
    know see think mean want need done say says said go goes going does do did can could will would should
    before after off out up down by through straight nice gonna whole thing
""")
_FLUFF = _set("""
    of the your my our some any those these that this um uh er erm like really nice good lovely basically
    literally just whatever about around roughly maybe beautiful gorgeous amazing favourite favorite
    generous lots more extra of her his their same another actual proper standard normal regular
""")
_HEDGES = _set("""
    so that's thats that is or which about around roughly approximately it's its i.e like um uh again yeah
    say just comes to works out at equals and maybe be gives you of the same um er so's around that
    grams's weighs i mean sorry wait no actually means i'd
""")
_LINKS = _set("i'm im doing use using we're were here there go for me and in on")
_POINTED = _set("the those that that's again your these")
_PARTS = _set("juice zest rind")
_CORRECTS = _set("sorry wait actually oops")
_NEGATIVE = _set("no without not don't dont never skip isn't avoid minus zero")
_TIMES = _set("""
    minute minutes min mins second seconds hour hours degree degrees celsius fahrenheit day days week weeks
    month months time times people person portions portion servings serving ways way step steps o'clock
    am pm centimetres centimeters cm inch inches ingredients recipes meals percent star stars bucks
    dollars quid cents pence euros videos video subscribers layers batches c f
""")
_SOME = _set("some few couple bit load loads plenty little lots several")
_PREP_AFTER = _set("dry uncooked weight drained whole dried finely roughly thinly freshly")
_GOOD = _set("good nice heaped little generous")
_VESSELS = _set(
    "tin case cases bowl mixture mix cooker tray pan pot packet instructions side dish dishes "
    "recipe recipes meals ideas"
)
_PACKED_IN = _set("water brine oil juice syrup")

_DISH_VERBS = _set("with fry bake roast slice")

_NUMBER_WORD = r"(?:one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|\d{1,2})"
_KIND = (
    r"(?:recipe|meal|breakfast|lunch|dinner|supper|snack|dessert|pudding|dish|bowl|flavou?r|idea|option|"
    r"version|variation|smoothie|wrap|salad|shake|combo|box|plate|prep)"
)
_ORDER = (
    r"(?:first|second|third|fourth|fifth|sixth|seventh|eighth|ninth|tenth|next|last|final|other)"
)
_MEAL = r"(?:breakfast|brunch|lunch|dinner|supper|tea|dessert|pudding|snacks?)"
_STRONG_CUE = re.compile(
    rf"\b(?:{_KIND} )?(?:number|no) {_NUMBER_WORD}\b|\b{_KIND} {_NUMBER_WORD}\b(?! (?:g|grams?|ml|cups?)\b)"
    rf"|\bday {_NUMBER_WORD}\b"
    rf"|\b(?:(?:the|our|my|your) )?{_ORDER} (?:{_KIND}|one|up|thing)\b"
    r"|\bup next\b|\bnext (?:we've got|we have|weve got|is|it's|its|i've got|i have|comes)\b"
    r"|\blast but not least\b|\bmoving on(?: to)?\b|\bon to (?:the|my|our)\b|\bonto (?:the|my|our)\b"
    r"|\band finally\b|\bfinally (?:we|it's|its|the|my|a)\b|\blastly\b"
    r"|\b(?:let's|lets|we'll|i'll|we're going to|i'm going to) (?:start|kick off|begin)(?: off)? with\b"
    rf"|\b(?:for |my |our )*(?P<meal>{_MEAL}) (?:we|i|it's|its|i'm|im|was|is|today)\b(?: (?:had|have|made|make))?"
    r"|\b(?:on |then |so )*(?P<weekday>monday|tuesday|wednesday|thursday|friday|saturday|sunday)"
    r"(?:'s| night| lunch| dinner)?(?: (?:we|i|it's|its|i'm|im|was|is)\b(?: (?:had|have|made|make|are having))?| [,|])"
)  # fmt: skip
_NUMBERED_CUE = re.compile(
    rf"(?:{_KIND} )?(?:number|no) {_NUMBER_WORD}$|(?:{_KIND}|day) {_NUMBER_WORD}$"
)
_WEAK_CUE = re.compile(
    r"\b(?:we're|were|we are|i'm|im|i am|i'll be|we'll be) (?:going to (?:be )?|gonna (?:be )?)?"
    r"(?:making|make|cooking|doing|showing you)\b|\blet'?s make\b|\bhow to make\b"
    r"|\brecipe for (?:the|my|our|a)\b|\bstarting (?:off )?with (?:a|an|my)\b"
    r"|\bthis is (?:my|the|our|a)\b|\bthis (?:one )?(?:is|here is) (?:my|the|our|a)\b|\bi make (?:is|a|this|my)\b"
)  # fmt: skip
_TITLE_SKIP = _set("""
    is are was it's its it we've weve we have i've ive i got a an the my our some your these those this that
    thing things one going to be making make i'm im we're were doing do called um uh er erm like kind of
    sort for you with so okay ok and another up just really super favourite favorite absolute now
    probably alright right then oh well today recipe going gonna here let's lets us number first everyone's
    easiest simplest quickest make is's had ate having always i'd second third last next other
""")
_TITLE_STOP = _set("""
    so which that this these it it's its i i'm im i've you you'll you'd you're youre we we're were we'll okay ok
    alright right um uh now because start starting first begin grab take put just super at if when as but
    then again same all they they're let's lets from who where what coming is are was has have makes takes
    really today honestly guys everyone literally my your
""")
_KIND_WORD = re.compile(rf"^{_KIND}s?$")
_SECTION = re.compile(
    r"^(?:for|start with|starting with|make|making|now) (?:the|your|my|our) "
    r"(base|sauce|dressing|topping|marinade|filling|salsa|glaze|frosting|dip|crumble|dough|batter|slaw)\b"
)
_ANY_BASE = r"(?:the|our|my|that|your) (?:same )?(?:(?!same|of)[a-z]+ ){0,3}?base"
_BASE_DEFINED = re.compile(
    rf"\b{_ANY_BASE} (?:is|which is|that is|that's|for|of|mix is|recipe is|goes|starts|has|uses)\b"
    r"(?! (?:exactly )?the same(?! for (?:all|every|each|them|both)))"
    r"|\bfor (?:the|our|my) base\b|\b(?:start with|starting with|make|making|mix up) (?:the|our|my) base\b"
)
_BASE_SAME = re.compile(
    r"\b(?:same|exact same|identical) (?:[a-z]+ ){0,2}?base\b(?! (?:which|that|is|for all))"
    r"|\bbase (?:stays|is|remains|stay|was|being)(?: exactly)?(?: the)? same\b(?! for)"
    r"|\bbase (?:stays|remains) as\b|\bbase again\b|\bbase (?:as|from|like) before\b|\bsame as before\b"
    r"|\bto (?:the|our|my|that|your) base (?:add|i add|we add|goes|you add|stir|mix)\b"
    r"|\b(?:take|grab|use|using|with|onto|into|to) (?:the|our|my|that|your) base\b"
    rf"|\b(?:(?:a|1|another) (?:portion|serving|scoop)|(?P<part>0\.\d+)) of {_ANY_BASE}\b"
)
_BASE_ENDS = re.compile(
    r"\bthat's (?:the|our|my|your) base\b|\bthats (?:the|our|my|your) base\b|\bbase (?:is )?done\b"
)
_ALL_SAME = re.compile(
    r"\b(?:everything(?: else)?|the rest|all (?:of )?(?:that|it)|ingredients) (?:else )?"
    r"(?:stays|is|are|stay|remains)(?: exactly)?(?: the)? same\b"
    r"|\b(?:exactly )?(?:the )?same as (?:the )?(?:last|first|previous|that) (?:one|recipe|bowl|time)\b"
)
_SWAP = re.compile(
    r"\b(?:swap|swapping|switch|switching|replace|replacing) (?:out )?(?:the )?(?P<old>[a-z' ]{3,30}?) "
    r"(?:for|with|to) "
)
_INSTEAD = re.compile(
    r"\binstead of (?:the )?(?P<old>[a-z' ]{3,30}?)(?= (?:it's|its|use|we|i|this|there|we're)\b| [,|]|$)"
)

# --- totals -------------------------------------------------------------------------------------

_NUTRIENT_WORDS: dict[str, str] = {
    "calories": "ENERC_KCAL", "calorie": "ENERC_KCAL", "cals": "ENERC_KCAL", "cal": "ENERC_KCAL",
    "kcal": "ENERC_KCAL", "kcals": "ENERC_KCAL", "kilocalories": "ENERC_KCAL",
    "protein": "PROCNT", "proteins": "PROCNT",
    "carbs": "CHOCDF", "carb": "CHOCDF", "carbohydrate": "CHOCDF", "carbohydrates": "CHOCDF",
    "fat": "FAT", "fats": "FAT", "fibre": "FIBTG", "fiber": "FIBTG",
    "sugar": "SUGAR", "sugars": "SUGAR", "saturates": "FASAT",
}  # fmt: skip
_LETTERS = {"p": "PROCNT", "c": "CHOCDF", "f": "FAT"}
_OPENS_TOTAL = _set("at to is about around roughly just")
_CAPPED = _set(
    "under below over exceeding least goal target aim limit budget need hitting max maximum"
)
_SAID_BETWEEN = _set("""
    is are at of comes coming come in to sits about around roughly works out be should would just its it's
    as was the a total a's only approximately approx
""")
_AFTER_TOTAL_NO = re.compile(
    r"^(?:a|per|every) (?:day|week)\b|^(?:daily|already|so far|from|deficit|left)\b"
)
_NOT_ITS_FOOD = _set(
    "powder shake bar bars shakes yogurt yoghurt pancake wrap wraps bread free reduced pudding"
)
_PER_UNIT = re.compile(
    r"\b(?:per|a|in a|in one|each) (?:tablespoon|teaspoon|tbsp|tsp|scoop|gram|cup|slice of bread|egg)\b"
)
_WHOLE = re.compile(
    r"\b(?:whole|entire|full) (?:thing|batch|tray|lot|recipe|pot|tin|pan|dish|loaf|cake)\b"
    r"|\bfor (?:the lot|all of it)\b|\ball of it\b|\bin total for (?:the|all)\b|\bthe lot\b"
)
_PER_SERVING = re.compile(
    r"\b(?:per|a|each|every|one) (?:serving|portion|bowl|jar|person|wrap|plate|ball|bar|muffin|slice|piece|pancake|"
    r"head|tub|box|bagel|glass|cookie)\b|\bper (?!100|hundred)[a-z]+\b|\beach\b"
)
_PER_100 = re.compile(r"\bper (?:100|hundred) (?:g|grams?|ml)\b")
_THINGS = (
    r"(?P<w>servings?|portions?|people|persons?|bowls?|meals?|bars?|jars?|balls?|muffins?|pancakes?|"
    r"slices?|pieces?|wraps?|cookies|squares?|boxes|tubs?|lunches|dinners|plates?|pots?|bagels?|"
    r"burgers?|patties)"
)
_N = rf"(?P<n>\d+|{_NUMBER_WORD})"
_SERVINGS = tuple(
    re.compile(pattern)
    for pattern in (
        rf"\b(?:makes?|making|gives? you|gets?|yields?)(?: about| around| roughly| you)? {_N} (?:[a-z]+ )?{_THINGS}\b",
        rf"\b(?:serves?|feeds?|serving) (?:about )?{_N}\b",
        rf"\b(?:splits?|divides?|divided|portion(?:ed)?)(?: up| out| it| this| that)* "
        rf"(?:in)?(?:to|between|into) {_N}\b(?: {_THINGS})?",
        rf"\b(?:cut|cuts|slice|roll|shape)(?: it| this| that| them)? (?:in)?to {_N} (?:[a-z]+ )?{_THINGS}\b",
        rf"\b(?:do|for|feed|enough for|good for) {_N} (?P<w>people|of us)\b",
        rf"\b(?:that|this) one's for {_N}\b",
        rf"\bfor the {_N} of us\b",
        rf"\b{_N} (?P<w>servings|portions)\b",
        rf"\b(?:makes|does|that's) {_N}(?= of us\b| \||$)",
    )
)
_REACH = 14  # words between the numbers of one statement


@dataclass(slots=True)
class _Total:
    """Numbers stated together: their tags and values, and the words they take."""

    start: int
    end: int
    amounts: list[tuple[str, float, float, int, int]] = field(default_factory=list)
    basis: Basis = "per_serving"
    brings: bool = False
    of_several: bool = False  # "each", "per portion": it serves more than one


@dataclass(slots=True)
class _Amount:
    """A quantity in the words: number, unit, and where the food after it may begin."""

    start: int
    end: int
    value: float
    high: float
    unit: Unit | None
    size: str
    article: bool
    each: tuple[float, str] | None = None
    has_of: bool = False
    vague: str = ""


@dataclass(slots=True)
class _Mention:
    """One ingredient of a recipe."""

    start: int
    end: int
    food: str
    head: tuple[str, ...]
    amount: _Amount | None
    section: str = ""
    also: str = ""
    notes: str = ""
    per_person: bool = False
    share: float = 1.0
    share_text: str = ""
    part: str = ""  # "juice of"


@dataclass(slots=True)
class _Segment:
    """One recipe of the script: the words it takes and its title."""

    start: int
    end: int
    title: str
    body: int
    is_base: bool = False


def looks_spoken(text: str) -> bool:
    """True for a plain text that reads like a script: sentences with amounts of foods in them."""
    if len(text) > 2_000_000:
        return False
    words = words_of(pieces(text, "script"))
    if len(words) < 25:
        return False
    known = lexicon()
    amounts = sum(
        1
        for at, word in enumerate(words)
        if word.value is not None and known.unit_at(words, at + 1)[0] is not None
    )
    talk = sum(1 for w in words if w.text in _STOP)
    script = _Script(words, known, "")
    announced = _STRONG_CUE.search(script.flow) is not None and bool(script._totals())
    return amounts >= 2 and (talk / len(words) > 0.15 or announced)


def read_script(text: str, source: str, *, kind: str) -> Read:
    """Recipes of a spoken script; total.

    Args:
        text: the file.
        source: its name in messages.
        kind: webvtt, srt or script (plain text).
    """
    read = Read(found="a spoken script")
    spoken = pieces(text, kind)
    words = words_of(spoken)
    if not words:
        return read
    script = _Script(words, lexicon(), source)
    read.recipes = script.recipes()
    read.problems = script.problems
    return read


class _Script:
    """The passes over the words of one script."""

    def __init__(self, words: list[Word], known: Lexicon, source: str) -> None:
        self.words = words
        self.known = known
        self.source = source
        self.problems: list[Problem] = []
        self.taken = [False] * len(words)
        self._derived: float | None = None  # servings, from "half a tin each, so one tin"
        self._starts: list[int] = []
        parts: list[str] = []
        length = 0
        for word in words:
            if word.breaks:
                mark = "| " if word.breaks == STRONG else ", "
                parts.append(mark)
                length += 2
            self._starts.append(length)
            said = word.text if word.value is None else "a" if word.article else f"{word.value:g}"
            parts.append(said + " ")
            length += len(said) + 1
        self.flow = "".join(parts)

    def at(self, offset: int) -> int:
        """Index of the word at a character of ``flow``."""
        return max(bisect.bisect_right(self._starts, offset) - 1, 0)

    def said(self, start: int, end: int) -> str:
        """Words from ``start`` to ``end``, with their breaks as ``|`` and ``,``."""
        if start >= len(self.words):
            return ""
        stop = self._starts[end] if end < len(self.words) else len(self.flow)
        return self.flow[self._starts[start] : stop].rstrip(" ,|")

    # --- the whole --------------------------------------------------------------------------

    def recipes(self) -> list[RawRecipe]:
        totals = self._totals()
        segments = self._segments(totals)
        made: list[RawRecipe] = []
        base: list[_Mention] = []
        base_portions = 1.0
        whole: dict[tuple[str, ...], _Mention] = {}
        shares: list[tuple[RawRecipe, list[_Mention]]] = []
        before: list[_Mention] = []
        for segment in segments:
            mine = [t for t in totals if segment.start <= t.start < segment.end]
            servings = self._servings(segment)
            self._derived = None
            mentions, own_base = self._mentions(segment, base, before, whole, base_portions)
            if segment.is_base and not mine:
                base = own_base or mentions
                base_portions = servings[0] if servings[0] > 1 else 1.0
                continue
            if own_base:
                base, base_portions = own_base, 1.0
            if not mentions and not mine:
                continue
            recipe = self._recipe(segment, mentions, mine, servings, len(made))
            made.append(recipe)
            shares.append((recipe, mentions))
            before = mentions
        self._not_understood(segments)
        return made

    def _recipe(
        self,
        segment: _Segment,
        mentions: list[_Mention],
        totals: list[_Total],
        told_servings: tuple[float, str],
        position: int,
    ) -> RawRecipe:
        first = self.words[segment.start]
        recipe = RawRecipe(segment.title or f"Recipe {position + 1}", "script", position,
                           source_line=first.line)  # fmt: skip
        servings, word = told_servings
        if math.isnan(servings) and self._derived is not None:
            servings, word = self._derived, "servings"
        if math.isnan(servings) and not any(t.of_several for t in totals):
            servings, word = 1.0, "serving"
            recipe.problems.append(
                Problem(
                    "servings-assumed",
                    f'"{cut(recipe.title, 60)}" does not say how many servings it makes',
                    "its numbers were read as for everything that is named",
                    "say how many it serves, or write it into the card",
                    source_line=first.line,
                    severity="note",
                )
            )
        recipe.servings, recipe.serving_word = servings, word
        if any(m.share_text == "shared" for m in mentions):
            recipe.problems.append(
                Problem(
                    "lines-taken-over",
                    f'"{cut(recipe.title, 60)}" shares lines with what was said before it',
                    "those lines were copied from there, each with its first place in the script",
                    "check them in the card",
                    source_line=first.line,
                    severity="note",
                )
            )
        section = ""
        for mention in mentions:
            if mention.section != section:
                section = mention.section
                if section:
                    at = self.words[min(mention.start, len(self.words) - 1)]
                    recipe.lines.append(RawLine(f"{section}:", "", at.line, at.time))
            at = self.words[mention.start]
            text = _written(mention, servings)
            recipe.lines.append(RawLine(text, section, at.line, at.time))
        for total in totals:
            for tag, value, step, start, end in total.amounts:
                word_at = self.words[start]
                recipe.stated = [
                    s for s in recipe.stated if not (total.brings and s.nutrient == tag)
                ]
                recipe.stated.append(
                    RawStated(tag, value, total.basis, step, self.said(start, end).replace(" |", ""),
                              word_at.line, word_at.time)
                )  # fmt: skip
        return recipe

    # --- totals -----------------------------------------------------------------------------

    def _totals(self) -> list[_Total]:
        found: list[tuple[str, float, float, int, int]] = []
        at = 0
        while at < len(self.words):
            pair = self._pair(at)
            if pair is None:
                at += 1
                continue
            found.append(pair)
            at = pair[4]
        blocks: list[_Total] = []
        for pair in found:
            last = blocks[-1] if blocks else None
            near = last is not None and pair[3] - last.end <= _REACH
            if last is None or not near or any(a[0] == pair[0] for a in last.amounts):
                blocks.append(_Total(pair[3], pair[4], [pair]))
            else:
                last.amounts.append(pair)
                last.end = pair[4]
        kept = [b for b in blocks if self._is_statement(b)]
        for block in kept:
            self._find_bare_energy(block)
            for index in range(block.start, block.end):
                self.taken[index] = True
            self._set_basis(block)
        return kept

    def _pair(self, at: int) -> tuple[str, float, float, int, int] | None:
        """A number with the nutrient it is of, beginning at ``at``; tag, value, step, start, end."""
        word = self.words[at]
        if word.value is not None and not word.article:
            end = at + 1
            if self._text(end) in ("g", "gram", "grams", "gs", "milligrams", "mg"):
                end += 1
            if self._text(end) in ("of", "total"):
                end += 1
            tag, stop = self._nutrient(end)
            if (
                tag and self.words[end].breaks
            ):  # "protein 38, carbs 45": the number is not the carbs'
                return None
            if tag and not self._is_food(stop) and not self._is_food_phrase(end, stop):
                return tag, word.value, self._step(word), at, stop
            return None
        tag, stop = self._nutrient(at)
        if not tag or (
            self.words[at].breaks == 0 and self._text(at - 1) in ("low", "high", "full", "reduced")
        ):
            return None
        end = stop
        while end < len(self.words) and end - stop < 5 and self.words[end].text in _SAID_BETWEEN:
            if self.words[end].breaks == STRONG:
                return None
            end += 1
        if end >= len(self.words) or self.words[end].value is None or self.words[end].article:
            return None
        if self.words[end].breaks == STRONG:
            return None
        number = self.words[end]
        after = end + 1
        if self._text(after) in ("g", "gram", "grams"):
            after += 1
        of = after + 1 if self._text(after) == "of" else after
        if of > after or (self._nutrient(of)[0] == "ENERC_KCAL" and not self.words[of].breaks):
            return None  # "protein 430 calories": that number is the energy's
        if self.known.unit_at(self.words, end + 1)[0] is not None and after == end + 1:
            return None
        return tag, number.value or 0.0, self._step(number), at, after

    @staticmethod
    def _step(word: Word) -> float:
        return 1.0 if word.value is None or word.value.is_integer() else 0.1

    def _text(self, at: int) -> str:
        return self.words[at].text if 0 <= at < len(self.words) else ""

    def _nutrient(self, at: int) -> tuple[str, int]:
        text, following = self._text(at), self._text(at + 1)
        if text in _LETTERS and self._is_letter(at):
            return _LETTERS[text], at + 1
        if text == "net" and following in ("carbs", "carb", "carbohydrate", "carbohydrates"):
            return NET_CARBS_TAG, at + 2
        if text in ("saturated", "sat") and following in ("fat", "fats"):
            return "FASAT", at + 2
        tag = _NUTRIENT_WORDS.get(text, "")
        return (tag, at + 1) if tag else ("", at)

    def _is_letter(self, at: int) -> bool:
        """ "29P / 28C / 4F": a letter behind a number, and another such pair beside it."""

        def pair(index: int) -> bool:
            return (
                index > 0
                and index < len(self.words)
                and self.words[index].text in _LETTERS
                and self.words[index - 1].value is not None
            )

        return pair(at) and (pair(at + 2) or pair(at - 2))

    def _is_food(self, after: int) -> bool:
        """The nutrient word is part of a food: "30 grams of protein powder", "fat free yogurt"."""
        following = self.words[after] if after < len(self.words) else None
        if following is None or following.breaks or following.value is not None:
            return False
        return following.text in _NOT_ITS_FOOD

    def _is_food_phrase(self, start: int, stop: int) -> bool:
        return self.known.food_at(self.words, start) > stop - start

    def _is_statement(self, block: _Total) -> bool:
        """False for limits, goals and the numbers of a single food."""
        before = [self._text(i) for i in range(max(block.start - 4, 0), block.start)]
        capped = [w for w in before if w in _CAPPED]
        if capped and not ("just" in before and capped == [before[-1]]):
            return False
        after = self.said(block.end, min(block.end + 4, len(self.words))).replace(", ", "")
        if _AFTER_TOTAL_NO.match(after):
            return False
        if _PER_UNIT.match(after) and len(block.amounts) == 1:
            return False
        tags = {a[0] for a in block.amounts}
        return "ENERC_KCAL" in tags or len(tags) >= 2

    def _find_bare_energy(self, block: _Total) -> None:
        """ "at 480 each, nineteen protein": the number that opens the statement is the energy."""
        if any(a[0] == "ENERC_KCAL" for a in block.amounts) or len(block.amounts) < 2:
            return
        for at in range(block.start - 1, max(block.start - 6, 0), -1):
            word = self.words[at]
            if word.value is None or word.article:
                continue
            plausible = 50 <= word.value <= 5000 and not self.taken[at]
            led = self._text(at - 1) in _OPENS_TOTAL
            follows = self.said(at + 1, block.start)
            if (
                plausible
                and led
                and re.fullmatch(r"(?:, |\| )?(?:each|a [a-z]+|per [a-z]+|with|,| )*", follows)
            ):
                block.amounts.insert(0, ("ENERC_KCAL", word.value, 1.0, at, at + 1))
                block.start = at
            return

    def _set_basis(self, block: _Total) -> None:
        around = self.said(max(block.start - 8, 0), min(block.end + 6, len(self.words)))
        if _PER_100.search(around):
            block.basis = "per_100g"
        elif _WHOLE.search(around) and not re.search(r"\b(?:per|each) ", around):
            block.basis = "per_recipe"
        elif _PER_SERVING.search(
            self.said(max(block.start - 4, 0), min(block.end + 4, len(self.words)))
        ):
            block.of_several = True
        lead = self.said(max(block.start - 8, 0), block.start)
        block.brings = (
            re.search(r"\b(?:brings?|bringing|takes|taking|now (?:we're|it's|its))\b", lead)
            is not None
        )

    # --- where recipes begin ----------------------------------------------------------------

    def _segments(self, totals: list[_Total]) -> list[_Segment]:
        starts = self._cues(totals)
        starts = self._with_unannounced(starts, totals)
        if not starts or starts[0].start > 0:
            first_end = starts[0].start if starts else len(self.words)
            told = any(t.start < first_end for t in totals) and self._amounts_between(0, first_end)
            base = _BASE_DEFINED.search(self.said(0, first_end)) is not None and bool(starts)
            if self._measured_between(0, first_end) >= 2 or told or base or not starts:
                title, body = ("", 0)
                starts.insert(0, _Segment(0, 0, "Base" if base else title, body, is_base=base))
        for here, following in zip(starts, [*starts[1:], None], strict=True):
            here.end = following.start if following is not None else len(self.words)
        return starts

    def _cues(self, totals: list[_Total]) -> list[_Segment]:
        cues = [
            (m.start(), m.end(), True, m["meal"] or m["weekday"] or "")
            for m in _STRONG_CUE.finditer(self.flow)
        ]
        cues += [(m.start(), m.end(), False, "") for m in _WEAK_CUE.finditer(self.flow)]
        starts: list[_Segment] = []
        for begin, finish, strong, meal in sorted(cues):
            start = self.at(begin)
            after = bisect.bisect_left(self._starts, finish)
            if self.taken[start]:
                continue
            last = starts[-1] if starts else None
            title, body = self._title(after)
            amounts = self._amounts_between(last.body if last else 0, start)
            has_total = any((last.start if last else 0) <= t.start < start for t in totals)
            if (
                self._text(start - 1) in ("as", "like", "than", "of")
                and not self.words[start].breaks
            ):
                continue  # "the same as the last one"
            numbered = _NUMBERED_CUE.match(self.flow[begin:finish]) is not None
            complete = last is None or (amounts and has_total)
            numbered = numbered or (
                strong and bool(complete) and not self._total_soon(after, totals)
            )
            if meal and not title and not self._total_soon(after, totals):
                title, body = meal.capitalize(), after
            if not title and not numbered:
                continue
            if not strong and (not title or (last is not None and amounts and not has_total)):
                continue
            if not strong and not self._names_a_dish(title):
                continue
            if strong and not numbered and not meal and last is not None and amounts and not has_total and (
                self._text(start) in ("first", "next", "the", "finally", "lastly", "and")
                and not self._names_a_dish(title)
            ):  # fmt: skip
                continue
            if last is not None and not amounts and not any(
                last.start <= t.start < start for t in totals
            ):  # fmt: skip
                if title:
                    last.title, last.body = title, body  # said again, closer to the recipe
                elif numbered:
                    last.body = max(last.body, after)
                continue
            starts.append(_Segment(start, 0, title, body if title else after))
        return starts

    @staticmethod
    def _total_soon(at: int, totals: list[_Total]) -> bool:
        return any(at <= t.start <= at + 4 for t in totals)

    def _names_a_dish(self, title: str) -> bool:
        return any(singular(w) in self.known.vocabulary for w in title.lower().split())

    def _title(self, at: int) -> tuple[str, int]:
        """Title that begins at ``at`` and the index of the word after it; "" when none does."""
        index, skipped = at, 0
        words = self.words
        while index < len(words) and skipped < 10:
            word = words[index]
            if word.breaks == STRONG and skipped and word.text not in _TITLE_SKIP:
                break
            kind = _KIND_WORD.match(word.text) and self._text(index + 1) in ("is", "its", "it's")
            if (word.text in _TITLE_SKIP and word.value is None) or word.article or kind:
                index += 1
                skipped += 1
                continue
            break
        said: list[str] = []
        end = index
        while end < len(words) and len(said) < 9:
            word = words[end]
            if word.breaks == STRONG and said:
                break
            if word.breaks and said and word.text in _VERBS:
                break
            if word.text in _TITLE_STOP or (word.value is not None and not word.article):
                break
            if word.text == "for" and self._text(end + 1) in (
                "this",
                "that",
                "it",
                "the",
                "which",
                "two",
                "four",
            ):
                break
            dish_verb = word.text in _DISH_VERBS or (
                word.text == "stir" and self._text(end + 1) in ("fry", "fried")
            )
            if word.text in ("in", "to", "on") or (word.text in _VERBS and not dish_verb):
                break
            if word.breaks and said:
                break
            said.append("a" if word.article else word.text)
            end += 1
        while said and said[-1] in ("and", "with", "for", "a", "the", "of", "or", "by"):
            said.pop()
            end -= 1
        title = " ".join(said)
        if (
            not title
            or said[0] in (_VERBS - {"slice"}) | {"same", "exactly"}
            or self._section_word(title)
        ):
            return "", at
        return title[:1].upper() + title[1:], end

    @staticmethod
    def _section_word(title: str) -> bool:
        return re.fullmatch(r"(?:base|sauce|dressing|topping|marinade|filling|dry ingredients|wet ingredients)s?",
                            title) is not None  # fmt: skip

    def _amounts_between(self, start: int, end: int) -> int:
        return sum(
            1
            for at in range(start, min(end, len(self.words)))
            if self.words[at].value is not None
            and not self.taken[at]
            and (self.known.unit_at(self.words, at + 1)[0] is not None
                 or self.known.food_at(self.words, at + 1) > 0)
        )  # fmt: skip

    def _measured_between(self, start: int, end: int) -> int:
        units = (
            self.known.unit_at(self.words, at + 1)[0]
            for at in range(start, min(end, len(self.words)))
            if self.words[at].value is not None and not self.taken[at]
        )
        return sum(1 for u in units if u is not None and u.kind in ("mass", "volume", "package"))

    def _with_unannounced(self, starts: list[_Segment], totals: list[_Total]) -> list[_Segment]:
        """A recipe that begins without a cue: new ingredients after a total, then another total."""
        out = list(starts)
        for here, following in pairwise(totals):
            between = [s for s in out if here.start < s.start <= following.start]
            if between or following.brings or self._amounts_between(here.end, following.start) < 2:
                continue
            first = next(
                (i for i in range(here.end, following.start)
                 if self.words[i].value is not None and not self.taken[i]), following.start
            )  # fmt: skip
            title, body = "", here.end
            for at in range(here.end, first):
                if self.words[at].breaks == STRONG:
                    title, body = self._title(at)
                    if title and self._names_a_dish(title):
                        break
                    title, body = "", here.end
            out.append(_Segment(here.end, 0, title, body))
        return sorted(out, key=lambda s: s.start)

    def _servings(self, segment: _Segment) -> tuple[float, str]:
        said = self.said(segment.start, segment.end)
        for pattern in _SERVINGS:
            match = pattern.search(said)
            if match is None:
                continue
            groups = match.groupdict()
            told = groups["n"]
            value = _NUMBERS.get(told) or (float(told) if told.isdigit() else math.nan)
            word = groups.get("w") or "servings"
            first = self.at(self._starts[segment.start] + match.start("n"))
            self._take(first, first + 1)  # "makes six muffins" is no ingredient
            if value and value > 0:
                return value, "servings" if word in (
                    "people",
                    "of us",
                    "person",
                    "persons",
                ) else word
        return math.nan, ""

    # --- ingredient mentions ----------------------------------------------------------------

    def _mentions(
        self,
        segment: _Segment,
        base: list[_Mention],
        before: list[_Mention],
        whole: dict[tuple[str, ...], _Mention],
        base_portions: float,
    ) -> tuple[list[_Mention], list[_Mention]]:
        """Mentions of one recipe; also its base, when it tells one that later recipes may share."""
        found: list[_Mention] = []
        own_base: list[_Mention] = []
        section = ""
        in_base = segment.is_base
        swaps: list[tuple[str, ...]] = []
        pending: _Amount | None = None
        at = segment.body if segment.body >= segment.start else segment.start
        for index in range(segment.start, min(at, segment.end)):
            self.taken[index] = True
        while at < segment.end:
            if self.taken[at]:
                at += 1
                continue
            flow = self.flow[self._starts[at] : self._starts[at] + 90]
            new_section = _SECTION.match(flow)
            if _BASE_DEFINED.match(flow):
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
            if _BASE_ENDS.match(flow):
                in_base, section = False, ""
                at += 3
                continue
            same = _BASE_SAME.match(flow)
            everything = _ALL_SAME.match(flow)
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
            swap = _SWAP.match(flow)
            if swap:
                head = self._head_of(swap["old"])
                at += len(swap[0].split())
                if head:
                    swaps.append(head)
                    found = [m for m in found if m.head[-1:] != head[-1:]]
                continue
            instead = _INSTEAD.match(flow)
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
        self, base: list[_Mention], before: list[_Mention], portions: float, everything: bool
    ) -> list[_Mention]:
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

    def _head_of(self, text: str) -> tuple[str, ...]:
        parts = [Word(w, 0, "") for w in text.split()]
        for at in range(len(parts)):
            length = self.known.food_at(parts, at)
            if length:
                return tuple(singular(w.text) for w in parts[at : at + length])
        return tuple(singular(w.text) for w in parts[-1:])

    # quantities

    def _amount(self, at: int, stop: int) -> _Amount | None:
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
                    return _Amount(
                        at, end + has_of, value, high, container, "", word.article, each, has_of
                    )
        size = ""
        while (
            end < stop
            and not self.words[end].breaks
            and self._joined(end) in self.known.sizes | _GOOD
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
            closes = not after_half or after_half == "of" or after_half in _STOP
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
        return _Amount(at, end + has_of, value, high, unit, size, word.article, each, has_of, vague)

    def _bare_unit(self, at: int) -> _Amount | None:
        """ "handful of spinach", "bit of mustard": one of it, though no number is said."""
        if self._joined(at) == "bit" and self._joined(at + 1) == "of":
            return _Amount(at, at + 2, 1.0, 1.0, None, "", True, has_of=True, vague="a bit")
        unit, length = self.known.unit_at(self.words, at)
        if unit is None or unit.kind != "trade" or self._joined(at + length) != "of":
            return None
        if self.known.food_at(self.words, at) > length:
            return None
        return _Amount(at, at + length + 1, 1.0, 1.0, unit, "", True, has_of=True)

    def _joined(self, at: int) -> str:
        """Text of a word that no full stop parts from the word before it."""
        if at >= len(self.words) or self.words[at].breaks == STRONG:
            return ""
        return self.words[at].text

    def _unit_is_meant(self, at: int, length: int) -> bool:
        """A word such as "slice" or "ball" counts as a unit before "of" or a food, not by itself."""
        after = at + length
        if self._joined(after) == "of":
            return True
        if after < len(self.words) and self.words[after].value is not None:
            inner = self.known.unit_at(self.words, after + 1)[0]
            vessel = self._joined(at) in _VESSELS or self._joined(at) in ("glass", "mug", "plate")
            return inner is not None and inner.kind == "mass" and not vessel
        if self.known.food_at(self.words, at) > length:
            return False
        return self.known.food_at(self.words, after) > 0 and not self.words[after].breaks

    # foods

    def _food(self, at: int, stop: int, *, strict: bool) -> tuple[str, tuple[str, ...], int, str]:
        """The food named at ``at``: words, head, the index after it, and notes; "" when none is.

        Args:
            strict: only a food of the tables will do, and it must begin within three words.
        """
        words = self.words
        index = at
        while index < stop and words[index].breaks != STRONG and index - at < 4:
            word = words[index]
            fluff = word.text in _FLUFF and word.value is None
            known = self.known.food_at(words, index) > 0
            strange = (
                not known
                and word.value is None
                and word.text not in _STOP
                and singular(word.text) not in self.known.vocabulary
                and any(self.known.food_at(words, index + more) for more in (1, 2))
                and not words[min(index + 1, len(words) - 1)].breaks
                and word.text not in _VERBS
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
            if length:
                last_food = end + length
                head_words = tuple(singular(w.text) for w in words[end : end + length])
                lead.extend(w.text for w in words[end : end + length])
                end += length
                continue
            if word.text in _STOP or word.text in _VERBS:
                break
            strange = singular(word.text) not in self.known.vocabulary or word.text in _FLUFF
            if last_food and strange and word.text not in self.known.manners:
                break
            lead.append(word.text)
            end += 1
        if not lead:
            return "", (), at, ""
        if not last_food:
            if strict:
                return "", (), at, ""
            named = [w for w in lead[:3] if w not in _TIMES]
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
                w.breaks or w.value is not None or w.text in _STOP | _VERBS | _FLUFF | _TIMES
                or w.text in self.known.manners or w.text in _PREP_AFTER or w.text in _VESSELS
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
                if self._text(end + more) in _PACKED_IN:
                    notes.append(" ".join(self.words[i].text for i in range(end, end + more + 1)))
                    end += more + 1
                    break
        said: list[str] = []
        while end < stop and end - at < 6:
            word = self.words[end]
            if word.breaks == STRONG or self.taken[end] or word.value is not None:
                break
            if word.text not in _VERBS and (
                word.text in self.known.manners or word.text in _PREP_AFTER
            ):
                if self.known.food_at(self.words, end) > 1:
                    break
                said.append(word.text)
                end += 1
            elif (
                said and word.text == "and" and self._joined(end + 1) in self.known.manners - _VERBS
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

    # mentions

    def _with_amount(
        self, amount: _Amount, found: list[_Mention], section: str, pending: _Amount | None,
        segment: _Segment,
    ) -> tuple[int, _Amount | None]:  # fmt: skip
        """A quantity: with the food after it, before it, or told a second time."""
        words, stop = self.words, segment.end
        following = self._text(amount.end)
        if amount.unit is None and (following in _TIMES or following == "percent"):
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
                _Mention(begin, end, food, head_words, amount, section, notes=notes, part=part),
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
                _Mention(start, amount.end, food, head_words, amount, section, notes=notes),
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
            corrected = any(self._text(i) in _CORRECTS for i in range(last.end, amount.start))
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
        if self._text(at - 1) != "of" or self._text(at - 2) not in _PARTS:
            return at, ""
        begin = at - 2
        if self._text(at - 3) == "and" and self._text(at - 4) in _PARTS:
            begin = at - 4
        return begin, " ".join(self.words[i].text for i in range(begin, at))

    def _trailing(self, end: int, found: list[_Mention], segment: _Segment) -> int:
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

    def _percent(self, amount: _Amount, found: list[_Mention]) -> None:
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
        self, amount: _Amount, found: list[_Mention], segment: _Segment
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
                and self.words[begin - 1].text not in _STOP | _VERBS | _FLUFF
            ):  # fmt: skip
                begin -= 1
            if self._refused(begin):
                return None
            return begin, " ".join(self._words_between(begin, end)), tuple(
                singular(w.text) for w in self.words[start:end]
            )  # fmt: skip
        return None

    def _is_said_again(self, mention: _Mention, earlier: _Mention) -> bool:
        """The same food by the same name, or by fewer words and "the", "those", "again"."""
        if mention.head == earlier.head or mention.food == earlier.food:
            return mention.section == earlier.section or not mention.section
        pointed = {self._text(i) for i in range(max(mention.start - 4, 0), mention.start)}
        return _is_part(mention, earlier) and bool(pointed & _POINTED)

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
            _HEDGES | _set("i'm im doing use using we're were here there go for me and in on")
            if wide
            else _HEDGES
        )
        return all(
            self.words[i].text in allowed or self.words[i].text in self.known.manners
            or self.taken[i] or self.words[i].text in ("torn", "up", "weight", "obviously", "lot")
            for i in range(start, end)
        )  # fmt: skip

    def _told_again(self, mention: _Mention, amount: _Amount, corrected: bool) -> None:
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
            mention.also = _quantity(amount)

    def _put(self, found: list[_Mention], mention: _Mention, pending: _Amount | None) -> None:
        """Add a mention, unless it tells an earlier one again."""
        if pending is not None and mention.amount is not None:
            joined = self._joined_by_and(pending.end, mention.start)
            if self._only_hedges(pending.end, mention.start, wide=True) and not joined:
                self._told_again(mention, pending, corrected=False)
            else:
                self._unclear(pending)
        for at, earlier in enumerate(found):
            if mention.amount is None and _is_part(mention, earlier):
                return
            if earlier.head[-1:] != mention.head[-1:] or not mention.head:
                continue
            if earlier.amount is None and mention.amount is not None and not earlier.share_text:
                mention.section = mention.section or earlier.section
                found[at] = mention
                return
            if mention.amount is None:
                return
            same = earlier.amount is not None and _quantity(earlier.amount) == _quantity(
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

    def _is_added(self, at: int, found: list[_Mention], segment: _Segment) -> bool:
        """True when a food without a measured amount is put in, not merely spoken of."""
        for back in range(1, 6):
            index = at - back
            if index < segment.start:
                return back <= 2
            word = self.words[index]
            if word.text in _VERBS or word.text in ("plus",):
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
            if self.words[index].text in _NEGATIVE:
                return True
            if self.words[index].text == "of" and self._text(index - 1) == "instead":
                return True
            if self.words[index].text not in _FLUFF | _set("add any need use need the"):
                return False
        return False

    def _without_amount(
        self, at: int, found: list[_Mention], section: str, segment: _Segment
    ) -> int:
        """A food that is added without an amount: "top it off with some pumpkin seeds"."""
        length = self.known.food_at(self.words, at)
        if not length or (self._text(at) in _VERBS and length == 1):
            return at + 1
        if length == 1 and self._joined(at + 1) in _set("it them this that everything into up out"):
            return at + 1  # "roll it"
        begin = at
        floor = max(segment.start, at - 6)
        added = self._added_before(begin, floor, found)
        food, head, end, notes = self._food(at, segment.end, strict=True)
        if not food or not head:
            return at + 1
        nxt = self._amount_follows(end, segment.end)
        if not added or nxt or self._refused(begin) or self._dish_word(end):
            return end if not nxt else at + max(end - at, 1)
        quantity = self._text(begin - 1)
        vague = "some " if quantity in _SOME else ""
        self._take(begin, end)
        mention = _Mention(begin, end, f"{vague}{food}".strip(), head, None, section, notes=notes)
        self._put(found, mention, None)
        return self._trailing(end, found, segment)

    def _dish_word(self, end: int) -> bool:
        """The food is part of a dish's or a vessel's name: "the rice cooker", "tuna bowl"."""
        after = self.words[end] if end < len(self.words) else None
        return after is not None and not after.breaks and after.text in _VESSELS

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

    def _added_before(self, at: int, floor: int, found: list[_Mention]) -> bool:
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
            if word.text in _VERBS or word.text in ("plus", "some"):
                return True
            if (
                word.text in _FLUFF
                or word.text in _set("in on it off over and bit of a little with")
                or word.article
            ):
                continue
            if word.text in _SOME or word.value is not None:
                continue
            return False
        return False

    # shares

    def _share(
        self, at: int, found: list[_Mention], whole: dict[tuple[str, ...], _Mention], section: str,
        segment: _Segment,
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
            _Mention(at, after, text.strip(), head_words, None, section, share_text="share")
        )
        return after

    def _take(self, start: int, end: int) -> None:
        for index in range(start, min(end, len(self.taken))):
            self.taken[index] = True

    # --- what is left -----------------------------------------------------------------------

    def _unclear(self, amount: _Amount) -> None:
        word = self.words[amount.start]
        around = self.said(max(amount.start - 5, 0), min(amount.end + 5, len(self.words)))
        when = f" at {word.time}" if word.time else ""
        self.problems.append(
            Problem(
                "spoken-amount-unclear",
                f'"{_quantity(amount)}"{when} belongs to no food that could be made out',
                "it was left out",
                "add the line to the card if it is an ingredient",
                source=self.source,
                source_line=word.line,
                severity="warning",
                text=cut(around.replace(" |", ".")),
            )
        )

    def _not_understood(self, segments: list[_Segment]) -> None:
        """Measured amounts that no pass took."""
        said = {(p.source_line, p.text) for p in self.problems}
        for segment in segments:
            for at in range(segment.start, segment.end):
                if self.taken[at]:
                    continue
                amount = self._amount(at, segment.end)
                if amount is None or amount.unit is None or amount.article:
                    continue
                if amount.unit.kind in ("mass", "volume", "package"):
                    self._unclear(amount)
        del said


def _is_part(mention: _Mention, earlier: _Mention) -> bool:
    """The mention names an earlier food again, in fewer words: "the tuna"."""
    named = {singular(w) for w in earlier.food.split()}
    return set(mention.head) <= named


_NUMBERS: dict[str, float] = {
    "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
    "ten": 10, "eleven": 11, "twelve": 12,
}  # fmt: skip


def _quantity(amount: _Amount) -> str:
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


def _scaled(amount: _Amount, factor: float) -> _Amount:
    if amount.each is not None and factor < 1 and amount.value == 1:
        return replace(amount, each=None, value=amount.each[0] * factor, high=amount.each[0] * factor,
                       unit=Unit(amount.each[1], "mass"))  # fmt: skip
    return replace(amount, value=amount.value * factor, high=amount.high * factor)


def _written(mention: _Mention, servings: float) -> str:
    """The line of a mention: "120 g rolled oats", "1 cup dates (150 g)", "some pumpkin seeds"."""
    notes = f", {mention.notes}" if mention.notes else ""
    if mention.amount is None:
        return f"{mention.food}{notes}"
    amount = mention.amount
    if mention.share != 1.0:
        amount = _scaled(amount, mention.share)
    if mention.per_person and servings > 1:
        amount = _scaled(amount, servings)
    also = f" ({mention.also})" if mention.also and mention.share == 1.0 else ""
    vague_of = "of " if amount.vague in ("a bit", "a load", "a little bit") else ""
    part = f"{mention.part} " if mention.part else ""
    return f"{part}{_quantity(amount)} {vague_of}{mention.food}{also}{notes}"
