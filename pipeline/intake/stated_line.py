"""Free-form stated lines: "Per serving: 412 kcal, P 32 g, C 45 g, F 11 g" and its many cousins.

A line is read as a run of nutrient names and amounts. Which comes first is decided within each
comma part: "Calories 412 Protein 32g" is name first, "12P 20C 9F" amount first, "P/C/F: 32/45/11"
names together and then amounts together. Energy units that cannot be names ("kcal", "kJ") bind to
the number before them.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache

from pipeline.intake.amounts import in_tag_unit
from pipeline.intake.columns import basis_above, nutrient_named
from pipeline.intake.facts_line import find_facts
from pipeline.intake.model import Basis
from pipeline.intake.numbers import DIGITS, Quantity, Roles, is_kj, quantity, read_number, words_of
from pipeline.intake.patterns import pattern

_LETTERS = {"p": "PROCNT", "c": "CHOCDF", "f": "FAT"}
_THING = "[word portion serving servings serve whole container slice small item thing unit metric length]"
_PORTION = "[portion serve slice item]"
_NOTE = "(?: open [^ open close energy energy_unit nutrient letter]{0,12} close)?"
#: Several things that numbers follow: "2 balls = 154 kcal", "Nutrition (4 crackers): 213 kcal".
_COUNTED = (
    "(?: ^ [mark bar]* | (?<= announce) open? | (?<= announce open)) hedge? (?P<several> [number count]) size?"
    " (?! [portion serving servings serve recipe entire metric unit length time times])"
    f" (?P<things> {_THING} {{1,2}}) {_NOTE} close? (?: [colon has bar mark to]+ | (?= open))"
    f" (?= mark* hedge? {DIGITS} (?: [energy energy_unit] | metric? [nutrient letter])"
    f" | [nutrient energy energy_unit letter] colon? hedge? {DIGITS})"
)
#: Pieces in a serving: "A portion of 3 meatballs: 240 kcal", "3 meatballs per serving", "480 kcal (2 pancakes)".
_THINGS = (
    "hedge? (?P<several> [number count]) size?"
    " (?! [portion serving servings serve recipe entire metric unit length time times energy energy_unit])"
    " (?P<things> [word slice item whole container small thing])"
)
_PIECES = (
    f"[portion serving] [of colon has] {_THINGS}",
    f"{_THINGS} [per article each slash] [portion serving]",
    f"(?<= [energy energy_unit nutrient metric letter]) open {_THINGS} close",
)
_BASIS: tuple[tuple[Basis, str], ...] = (
    ("per_100g", "[per in for each slash] hundred [metric beside] | ^ [mark open]* hundred metric colon"),
    ("per_recipe",
     "[per for in]? [article definite]? entire [recipe container whole thing item]"
     " | [per for in]? entire (?= $ | [colon close has bar dot]) | ^ mark* makes definite thing"
     " | [per for in] entire [number count] (?= $ | [comma close bar dot])"
     " | (?: per [article definite]? | [for in] definite) recipe | recipe total"
     " | [one article definite each] recipe (?= [has colon]) | (?<= [energy energy_unit]) article recipe"
     " | (?<= [number unity hundred] [energy energy_unit]) total (?= $ | [comma dot close bar])"
     " | (?<! nutrient comma) (?<! nutrient) total (?= [colon open number unity hundred]) | together"
     f" | ^ mark* definite [recipe container whole thing] [^ number unity hundred dot comma]{{0,4}}"
     f" (?= {DIGITS} energy_unit)"),
    ("per_recipe", f"^ mark* recipe colon (?= hedge? {DIGITS} [energy energy_unit] (?! .* [per each slash]))"),
    ("per_recipe", f"^ mark* definite? entire definite? [number count] {_THING} {{1,2}} (?= [colon has])"),
    ("per_recipe", f"^ mark* definite? entire word colon (?= mark* hedge? {DIGITS} [energy energy_unit])"),
    ("per_serving",
     f"[per for] (?: [number unity one hundred count fraction] (?! metric))? size? (?! recipe | entire | hundred)"
     f" (?: {DIGITS} metric)? (?: {_THING} | count) {_NOTE}"
     " (?= $ | [colon comma bar open number unity hundred hedge to has])"
     f" | {_COUNTED} | (?<= [energy energy_unit]) slash {_THING} | slash {_PORTION}"
     f" | per (?: {_PORTION} | serving) {_NOTE}"
     f" | (?<= [nutrient energy energy_unit metric open announce]) article {_THING} {_NOTE}"
     " (?= $ | [colon comma bar open close dot number])"
     f" | (?<= [energy energy_unit]) to definite {_THING}"
     f" | (?<= [number unity hundred]) article {_THING} (?= $ | [dot comma bar open])"
     f" | ^ mark* [unity one article each] {_THING} {{1,2}} dot? {_NOTE} [colon has bar mark]+"
     f" (?= hedge? {DIGITS} [energy energy_unit] | [nutrient energy energy_unit] hedge? {DIGITS})"
     f" | ^ mark* [word slice item thing] colon (?= hedge? {DIGITS} [energy energy_unit])"
     f" | [article one unity each] {_PORTION} {_NOTE} has? | each {_THING}? [has colon] | portion colon | each"),
)  # fmt: skip
_WHOLE_OF = _BASIS[4][1]
_LEAD = "^ [mark dot]* announce (?: open? hedge dot? close?)?"
#: What is promised of the energy, as titles do: "Prawn spaghetti under 400 calories!!".
_CLAIM = f"limit hedge? {DIGITS} [energy energy_unit]"
_PERCENT = f"open? {DIGITS} percent close?"
_DEGREES = f"(?P<value> {DIGITS}) mark? letter"
#: Of an oven, in either scale, at least; below it "45C" beside other nutrients is carbohydrate.
_OVEN = 100
_TOKEN = (
    f"(?P<less> less)? (?P<low> {DIGITS}) (?: to (?P<high> {DIGITS}))?"
    " (?P<unit> metric | energy_unit (?! colon))? | (?P<its_unit> open [metric energy_unit] close) | ."
)
#: Roles of words that say nothing of their own beside stated numbers.
_FILLER = frozenset(
    ("per", "portion", "servings", "serving", "serve", "of", "each", "hedge", "total", "and", "in",
     "for", "has", "article", "definite", "from", "beside", "announce", "energy_unit", "times", "to", "one", "metric")
)  # fmt: skip
#: Energy of a gram of each macro, and the share by which their sum may miss the energy.
KCAL_OF = {"PROCNT": 4.0, "CHOCDF": 4.0, "FAT": 9.0}
#: and for a macro that nothing names to be told by it; and the units of such a number.
ENERGY_OFF, _MACRO_OFF = 0.2, 0.04
_UNITS_OF_ONE = ("", "g")
#: The high end of a range, over its low end, at most.
_WIDEST = 4.0
_SEPARATORS = frozenset(("comma", "bar", "open", "close"))
#: Words that are not understood, beside an energy that says what it is for.
_BESIDE = 3
#: Words that are also things to cook with: alone on a line they are an ingredient.
_ALSO_FOOD = frozenset({"SUGAR", "FAT", "NA", "ALC", "FASAT"})
#: Around what a text names: colons and signs.
_SIGNS = re.compile(r"^[^\w(\[½¼¾⅓⅔⅛]+|[^\w)\]½¼¾⅓⅔⅛]+$")
#: Between a name and its number where a line holds nothing else.
_SET_APART = re.compile(r"[:=\t]|\.{3}|\S\s{3,}\S")
#: A number and the letter of a nutrient, without a unit.
LETTER_ALONE = re.compile(r"[\d.,]+\s?[pcf]", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Found:
    """One stated amount in a line; ``span`` and ``number_span`` are characters of that line."""

    tag: str
    amount: float
    step: float
    text: str
    span: tuple[int, int]
    number_span: tuple[int, int]
    unit: str
    salt: bool


@dataclass(frozen=True, slots=True)
class StatedLine:
    """What one line states.

    Attributes:
        found: one entry a nutrient, the first of equals; kcal before kJ.
        basis: None when the line does not say.
        per_count: how many pieces one "serving" of the line holds ("per 2 cookies").
        heading: the line only announces numbers ("Nutrition, per slice:").
        certain: the line can be nothing else, wherever it stands.
        possible: in a block of stated lines it is one of them.
        size: what the numbers are said to be for, as a serving size: "1 slice (85 g)", "2 cookies".
        unread: numbers as written that nothing names, beside those found.
        of_foods: they are for several things that may be cooked with as well: "2 eggs: 154 kcal".
        strange: how many words of it no table knows.
    """

    found: tuple[Found, ...]
    basis: Basis | None
    per_count: float | None
    heading: bool
    certain: bool
    possible: bool
    size: str = ""
    strange: int = 0
    of_foods: bool = False
    unread: tuple[str, ...] = ()


@dataclass(slots=True)
class _Token:
    kind: str  # name | amount | sep | slash
    start: int
    end: int
    text: str = ""
    tag: str = ""  # of a name, or of an amount that carries a unit of energy
    salt: bool = False
    quantity: Quantity | None = None


@dataclass(slots=True)
class _Line:
    """A line with what its numbers are for taken out."""

    tokens: list[_Token]
    strange: int  # words that no table knows
    basis: Basis | None
    per_count: float | None
    lead: bool
    size: str
    of_foods: bool = False


#: A picture, by the blocks of the Unicode Standard that hold those of food; no tone of skin.
_PICTURED = re.compile("[\U0001f300-\U0001f3fa\U0001f400-\U0001faff]")
#: What stands right before the share of a food: "5% fat".
_PER_CENT = re.compile(r"\d\s?%\s*$")


@lru_cache(maxsize=4096)
def read_stated_line(text: str) -> StatedLine:
    """Read ``text`` as a stated line; total: a line that states nothing has nothing found."""
    if len(text) > 2000:
        return StatedLine((), None, None, False, False, False)
    text = _plain_spaces(text)
    line = _prepared(text)
    pairs = _pairs(line.tokens, text)
    found = _one_each(pairs)
    if _are_of_food(found, text):
        found, pairs = (), []
    taken = {one.number_span for one in pairs}
    unread = tuple(
        text[q.start : q.unit_end] for t in line.tokens
        if (q := t.quantity) and q.unit.lower() in ("", "g") and (q.start, q.end) not in taken
    )  # fmt: skip
    announced = line.lead or line.basis is not None
    nothing_else = not line.strange
    tags = {f.tag for f in found}
    energy = "ENERC_KCAL" in tags
    heading = not found and (
        (announced and nothing_else and all(t.kind != "amount" for t in line.tokens))
        # "she needs it by weight, so per 100 g of mix:"
        or (line.basis == "per_100g" and text.rstrip().endswith(":"))
    )
    # An energy that says what it is for may stand beside words that are not understood.
    few = line.strange <= max(len(tags), _BESIDE if energy and line.basis is not None else 0)
    certain = bool(found) and (
        borne_out({f.tag: f.amount for f in found})
        or (nothing_else and (energy or (len(tags) > 1 and not tags <= _ALSO_FOOD)))
        or (announced and few and (energy or len(tags) > 1))
        or (energy and len(tags) > 1 and few)
        or (nothing_else and announced)
        or (nothing_else and not tags <= _ALSO_FOOD and _SET_APART.search(text) is not None)
    )
    possible = bool(found) and (nothing_else or (energy and few))
    if len(found) == 1 and not line.lead and LETTER_ALONE.fullmatch(found[0].text):
        possible = certain = (
            possible and text.strip(" ,.;·|-") == found[0].text
        )  # "80p each": a price
    of_foods = line.of_foods and len(tags) == 1  # "2 eggs: 154 kcal" may be an ingredient
    return StatedLine(
        found, line.basis, line.per_count, heading, certain and not of_foods, possible, line.size,
        line.strange, of_foods, unread if found else (),
    )  # fmt: skip


def _are_of_food(found: Sequence[Found], text: str) -> bool:
    """Whether what looks like numbers is of a food, "5% fat ..... 500 g", or of several that pictures
    name: "🍚 150g 🥚 2" has no energy beside it."""
    if len(found) == 1 and _PER_CENT.search(text[: found[0].span[0]]):
        return True
    energy = any(one.tag == "ENERC_KCAL" for one in found)
    pictured = not energy and any(_PICTURED.search(one.text) for one in found)
    return pictured and not all_found(_PICTURED.sub(" ", text))  # "💪 47g protein" has a word


def borne_out(stated: Mapping[str, float], off: float = ENERGY_OFF) -> bool:
    """Whether protein, carbohydrate and fat (g) have the energy (kcal) that stands beside them, to a
    share of it."""
    energy = sum(KCAL_OF[tag] * stated.get(tag, math.nan) for tag in KCAL_OF)
    return abs(energy / (stated.get("ENERC_KCAL") or math.nan) - 1) < off


def all_found(text: str) -> list[Found]:
    """Every stated amount of ``text``, both energies of "1724 kJ / 412 kcal" included."""
    text = _plain_spaces(text)
    return _pairs(_prepared(text).tokens, text)


def _plain_spaces(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u202f", " ")


def _prepared(text: str) -> _Line:
    text = pattern("leaves_out").sub(lambda m: " " * len(m[0]), text)
    sized = pattern("serving_size_beside").search(text) if "size" in text.lower() else None
    if sized:
        text = text[: sized.start()] + " " * len(sized[0]) + text[sized.end() :]
    facts = find_facts(text)
    line = Roles(facts.rest)
    _keep_one_basis(line)
    pieces = _take_pieces(line)
    basis, per_count, size = _take_basis(line)
    if pieces and basis in (None, "per_serving"):
        basis, size = "per_serving", pieces
    if facts.total:
        basis = basis or "per_serving"
    if sized and basis in (None, "per_serving"):
        basis, size = "per_serving", sized["value"]
    if basis is None and facts.counted != facts.rest:
        line = Roles(facts.counted)
        basis, per_count, size = _take_basis(line)
    lead = line.search(_LEAD)
    if lead:
        line.take(lead)
    for match in [*line.finditer(_PERCENT), *_degrees(line)]:
        line.take(match)
    tokens, strange = _tokens(line)
    claims = list(line.finditer(_CLAIM))
    if basis is not None and strange <= len(claims):  # "Under 400 kcal per serving"
        claims = []
    for match in claims:
        line.take(match)
    if claims:
        tokens, strange = _tokens(line)
    of_foods = basis == "per_serving" and _counts_food(facts.rest, size)
    return _Line(tokens, strange, basis, per_count, lead is not None, size, of_foods)


def _counts_food(text: str, size: str) -> bool:
    """Whether a text begins with several of a food, as an ingredient does: "2 eggs: 154 kcal"."""
    from pipeline.intake.text.features import known_food  # here: it reads stated lines itself

    counted = Roles(text).search(_COUNTED)
    return counted is not None and counted.start() == 0 and known_food(size)


@cache
def _says_for_what() -> re.Pattern[str]:
    words = words_of(
        "head_words.csv", "per", "for", "each", "total", "together", "entire", "article"
    )
    return re.compile(rf"/|(?<![^\W\d_])(?:{words})(?![^\W\d_])", re.IGNORECASE)


def own_basis(amount: object) -> Basis | None:
    """What an amount itself says that it is for, whatever its key or column says.

    >>> own_basis("107 kcal each"), own_basis("1,926 kcal in total"), own_basis("107 kcal"), own_basis(107)
    ('per_serving', 'per_recipe', None, None)
    """
    said = isinstance(amount, str) and _says_for_what().search(amount)
    return read_stated_line(str(amount)).basis or basis_above(str(amount)) if said else None


def without_claims(text: str) -> str:
    """A text without what it promises of its energy.

    >>> without_claims("Prawn pasta under 400 calories!")
    'Prawn pasta !'
    """
    line = Roles(text)
    for start, end in [line.span(match) for match in line.finditer(_CLAIM)][::-1]:
        text = text[:start] + text[end:]
    return text


def is_hot(text: str) -> bool:
    """Whether a text names the heat of an oven: "Bake at 190 C".

    >>> is_hot("berries last. 190 C"), is_hot("2 C oats")
    (True, False)
    """
    line = Roles(text)
    return any(
        line.value(m, "value") >= _OVEN and line.words[m.end() - 1] != "p"
        for m in line.finditer(_DEGREES)
    )


def _degrees(line: Roles) -> list[re.Match[str]]:
    """The temperatures of a text: "180C", "350 F", where no P beside them makes them macros, or the
    same letter stands for a macro again."""
    named = line.search("nutrient | energy | energy_unit") is not None
    return [
        m for m in line.finditer(_DEGREES)
        if ("p" not in line.words or line.words.count(line.words[m.end() - 1]) > 1)
        and (not named or line.value(m, "value") >= _OVEN)
    ]  # fmt: skip


def _keep_one_basis(line: Roles) -> None:
    """Of numbers for several things ("Whole batch: 1,850 kcal. Per serving: 370 kcal"), take all but
    those for a serving, or the first where none is for one."""
    found = [(m, basis) for basis, words in _BASIS if (m := line.search(words))]
    if len(found) < 2:
        return
    found.sort(key=lambda f: f[0].start())
    amounts = [
        m.start()
        for m in line.finditer(DIGITS)
        if all(not f.start() <= m.start() < f.end() for f, _ in found)
    ]
    behind = bool(amounts) and amounts[0] < found[0][0].start()
    edges = [
        0,
        *(m.end() if behind else m.start() for m, _ in found[1 - behind : len(found) - behind]),
        len(line.roles),
    ]
    parts = [range(*pair) for pair in itertools.pairwise(edges)]
    if not all(any(a in part for a in amounts) for part in parts):
        return
    kept = next(
        (p for p, (_, basis) in zip(parts, found, strict=True) if basis == "per_serving"), parts[0]
    )
    line.take_outside(kept)


def _take_basis(line: Roles) -> tuple[Basis | None, float | None, str]:
    """Take the words that say what the numbers are for."""
    for basis, words in _BASIS:
        match = line.search(words)
        if not match or (words is _WHOLE_OF and _is_food(line, match)):
            continue
        for again in [*line.finditer(words)]:  # "Per 100 g: 425 kcal, per 100 g: fat 20 g"
            if again[0] == match[0]:
                line.take(again)
        if basis != "per_serving":
            return basis, None, ""
        if match["several"]:
            n = line.value(match, "several")
            return basis, n, f"{n:g} {line.text[slice(*line.span(match, 'things'))]}"
        said = Roles(line.text[slice(*line.span(match))])
        counted = said.search(f"^ [per for slash] (?P<n> {DIGITS}) (?! metric) {_THING}")
        return basis, said.value(counted, "n") if counted else None, _size(said)
    return None, None, ""


def _take_pieces(line: Roles) -> str:
    """Take the words that say how many pieces a serving is: "3 meatballs"; "" for none."""
    for words in _PIECES:
        if match := line.search(words):
            line.take(match)
            n = line.value(match, "several")
            return f"{n:g} {line.text[slice(*line.span(match, 'things'))]}"
    return ""


def _is_food(line: Roles, match: re.Match[str]) -> bool:
    """Whether a thing said to be whole is a food: "Whole milk: 150 kcal"."""
    from pipeline.intake.text.features import known_food  # here: it reads stated lines itself

    return known_food(line.text[slice(*line.span(match))].strip(" :*_").lower())


def _size(said: Roles) -> str:
    """ "per slice (85 g)" as a serving size: "1 slice (85 g)"; "" when no thing is named."""
    first = said.search("^ mark* (?: to definite | [per for article definite one each slash])")
    rest = _SIGNS.sub("", said.text[said.span(first)[1] if first else 0 :])
    inner = re.match(r"(?:serving|portion)s?\s*[(\[]([^)\]]+)[)\]]", rest, re.IGNORECASE)
    rest = inner[1] if inner else rest
    if not re.search(r"[^\W\d_]", rest):
        return ""
    return rest if Roles(rest).search(f"^ (?: {DIGITS} | one | count | fraction)") else f"1 {rest}"


def _tokens(line: Roles) -> tuple[list[_Token], int]:
    """Names, amounts and what stands between them; and how many words no table knows."""
    out: list[_Token] = []
    strange = 0
    pictured = sum(nutrient_named(c) is not None for c in _PICTURED.findall(line.text)) > 1
    for match in line.finditer(_TOKEN):
        start, end = line.span(match)
        role, said = line.role(match), line.text[start:end]
        if match["low"]:
            found = quantity(line, match)
            if found.high and not _is_range(found):  # "41/15/48 – 491 kcal"
                low, high = line.span(match, "low"), line.span(match, "high")
                first = replace(found, high="", unit="", kind="", end=low[1], unit_end=low[1])
                out.append(_Token("amount", *low, line.text[slice(*low)], "", quantity=first))
                found = replace(found, low=found.high, high="", less=False, start=high[0])
            tag = "ENERC_KCAL" if found.kind == "energy" else ""
            out.append(_Token("amount", found.start, found.unit_end, said, tag, quantity=found))
        elif match["its_unit"] and out and out[-1].kind == "name":  # "Protein (g): 31"
            out[-1] = replace(out[-1], end=end, text=line.text[out[-1].start : end])
        elif role == "letter":
            out.append(_Token("name", start, end, said, _LETTERS[said.lower()]))
        elif role in ("nutrient", "energy", "energy_unit"):
            tag, salt = nutrient_named(said) or ("", False)
            out.append(_Token("name", start, end, said, tag, salt))
        elif pictured and _PICTURED.match(said):
            out.append(_Token("name", start, end, said))  # of a number, though no table says which
        elif role in _SEPARATORS or (role == "to" and not said.isalpha()):
            out.append(_Token("sep", start, end))
        elif role == "slash":
            out.append(_Token("slash", start, end))
        elif said[0].isalpha() and role not in _FILLER and role != "taken":
            strange += 1
    return out, strange


def _is_range(found: Quantity) -> bool:
    """Whether two numbers with a dash between may be the ends of a range of one."""
    low, high = read_number(found.low).value, read_number(found.high).value
    return low < high <= _WIDEST * max(low, 1.0)


def _pairs(tokens: list[_Token], text: str) -> list[Found]:
    useful = [t for t in tokens if t.kind != "word"]
    energy_has_unit = any(t.kind == "amount" and t.tag for t in useful)
    if energy_has_unit:
        useful = [t for at, t in enumerate(useful) if not _only_announces(useful, at, text)]
    together = _names_then_amounts([t for t in useful if t.kind in ("name", "amount")])
    if together is not None:
        return [_found(name, amount, text) for name, amount in together if name.tag]
    out: list[Found] = []
    part: list[_Token] = []
    for token in [*useful, _Token("sep", len(text), len(text))]:
        if token.kind in ("sep", "slash"):
            if token.kind == "sep" or _complete(part):
                out.extend(_part_pairs(part, text))
                part = []
        else:
            part.append(token)
    if not out:  # the commas part names from their amounts: read the line as one
        out = _part_pairs([t for t in useful if t.kind in ("name", "amount")], text)
    return [*out, *_of_its_macros(out, useful, text)]


def _only_announces(tokens: Sequence[_Token], at: int, text: str) -> bool:
    """Whether a word of energy announces one with a unit, as in "Energy 1724 kJ / 412 kcal", and is not
    itself what a bare number counts: "1724 kJ / 412 Cal"."""
    name = tokens[at]
    if name.kind != "name" or name.tag != "ENERC_KCAL":
        return False
    before, behind = tokens[:at][-1:], tokens[at + 1 : at + 2]
    counted = any(
        t.quantity and not t.quantity.unit and not text[t.end : name.start].strip() for t in before
    )
    return not counted or any(t.kind == "amount" and t.tag for t in behind)


def _of_its_macros(found: list[Found], tokens: list[_Token], text: str) -> list[Found]:
    """The one number that nothing names, where it is the energy of the macros, "C45 F10 P28 = 388", or the
    one macro that the energy asks for: "304 kcal, 12P, 53C, 7"."""
    amounts = {one.tag: one.amount for one in found}
    lacking = [tag for tag in ("ENERC_KCAL", *KCAL_OF) if tag not in amounts]
    taken = {one.number_span for one in found}
    alone = [
        t for t in tokens
        if (q := t.quantity) and q.unit in _UNITS_OF_ONE and (q.start, q.end) not in taken
    ]  # fmt: skip
    if len(lacking) != 1 or len(alone) != 1:
        return []
    (tag,), (number,) = lacking, alone
    name = _Token("name", number.start, number.end, "", tag)
    named = _found(name, number, text)
    off = ENERGY_OFF if tag == "ENERC_KCAL" else _MACRO_OFF
    asks = tag == "ENERC_KCAL" or named.amount > 0
    return [named] if asks and borne_out(amounts | {tag: named.amount}, off) else []


def _complete(part: list[_Token]) -> bool:
    return any(t.kind == "amount" for t in part) and any(
        t.kind == "name" or (t.kind == "amount" and t.tag) for t in part
    )


def _names_then_amounts(tokens: list[_Token]) -> list[tuple[_Token, _Token]] | None:
    """ "P/C/F: 32/45/11" or "32/45/11 P/C/F", beside energies that carry their unit."""
    own = [(t, t) for t in tokens if t.kind == "amount" and t.tag]
    rest = [t for t in tokens if not (t.kind == "amount" and t.tag)]
    half = len(rest) // 2
    if (
        not re.fullmatch(
            rf"n{{{half}}}a{{{half}}}|a{{{half}}}n{{{half}}}", "".join(t.kind[0] for t in rest)
        )
        or half < 2
    ):
        return None
    ordered = sorted(rest, key=lambda t: t.kind, reverse=True)
    return [*own, *zip(ordered[:half], ordered[half:], strict=True)]


def _part_pairs(part: list[_Token], text: str) -> list[Found]:
    """Names and amounts side by side: in the order whose macros have the stated energy, else in the one
    that the part begins with where both would do."""
    own = [t for t in part if t.kind == "amount" and t.tag]
    out = [_found(t, t, text) for t in own]
    left = [t for t in part if t not in own]
    kinds = "".join(t.kind[0] for t in left)
    name_first, amount_first = "na|an(?!a)", "an|na(?!n)"
    both = [list(re.finditer(order, kinds)) for order in (amount_first, name_first)]
    orders = both[::-1] if kinds[:1] == "n" else both[:1]
    if kinds.startswith("an"):  # "470 cals P22 C78 F7"
        rest = re.compile(name_first).finditer(kinds, 2)
        orders.append([*re.finditer("^an", kinds), *rest])
    ways = [
        [
            _found(name, amount, text) for match in order
            for name, amount in [sorted(left[slice(*match.span())], key=_names_first)] if name.tag
        ]
        for order in (*orders, *both)
    ]  # fmt: skip
    told = [way for way in ways if borne_out({one.tag: one.amount for one in [*out, *way]})]
    if told or not own:
        return [*out, *(told[0] if told else max(ways[: len(orders)], key=len))]
    apart = _part_pairs([one for t in part for one in (_apart(t) if t in own else (t,))], text)
    as_one = [*out, *max(ways[: len(orders)], key=len)]
    return apart if borne_out({one.tag: one.amount for one in apart}) else as_one


def _apart(amount: _Token) -> tuple[_Token, _Token]:
    """An amount of energy as the number and the word behind it, which may go with the number behind
    that: "fat 2 kcal 230"."""
    written = amount.quantity
    assert written is not None
    bare = replace(written, unit="", kind="", unit_end=written.end)
    return (
        replace(amount, end=written.end, tag="", quantity=bare),
        _Token("name", written.end, amount.end, "kcal", "ENERC_KCAL"),
    )


def _names_first(token: _Token) -> bool:
    return token.kind != "name"


def _found(name: _Token, amount: _Token, text: str) -> Found:
    written = amount.quantity
    assert written is not None
    unit = written.unit
    if (
        not unit
        and name is not amount
        and name.tag == "ENERC_KCAL"
        and is_kj(name.text.rpartition("(")[2])
    ):
        unit = "kJ"
    number = written.number(unit or ("kcal" if name.tag == "ENERC_KCAL" else ""))
    number = in_tag_unit(number, unit, name.tag, salt=name.salt)
    span = (min(name.start, amount.start), max(name.end, amount.end))
    return Found(name.tag, number.value, number.step, text[slice(*span)].strip(), span,
                 (written.start, written.end), unit, name.salt)  # fmt: skip


def _one_each(found: list[Found]) -> tuple[Found, ...]:
    best: dict[str, Found] = {}
    for one in found:
        kept = best.get(one.tag)
        in_kj = kept is not None and one.tag == "ENERC_KCAL" and is_kj(kept.unit)
        if kept is None or (in_kj and not is_kj(one.unit)):
            best[one.tag] = one
    return tuple(best.values())
