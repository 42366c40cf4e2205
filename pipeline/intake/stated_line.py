"""Free-form stated lines: "Per serving: 412 kcal, P 32 g, C 45 g, F 11 g" and its many cousins.

A line is read as a run of nutrient names and amounts. Which comes first is decided within each
comma part: "Calories 412 Protein 32g" is name first, "12P 20C 9F" amount first, "P/C/F: 32/45/11"
names together and then amounts together. Energy units that cannot be names ("kcal", "kJ") bind to
the number before them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from pipeline.intake.amounts import NUMBER, Number, in_tag_unit, read_number
from pipeline.intake.columns import nutrient_named, nutrient_pattern
from pipeline.intake.facts_line import find_facts
from pipeline.intake.model import Basis

_LETTERS = {"p": "PROCNT", "c": "CHOCDF", "f": "FAT"}
_PERCENT = re.compile(rf"\(?\s*{NUMBER}\s*%(?:\s*(?:dv|ri|gda|nrv|of\s+\w+))?\s*\)?", re.IGNORECASE)
_TOKEN = re.compile(
    rf"(?P<amount>(?P<less><|less\s+than\s+)?\s*(?<![A-Za-z0-9]\.)(?P<low>{NUMBER})"
    rf"(?:\s?(?:-|–|to)\s?(?P<high>{NUMBER}))?\s?"
    rf"(?P<mass>(?:mg|milligram(?:me)?s?|gram(?:me)?s?|gms?|g)(?![A-Za-z]))?)"
    rf"|(?<![A-Za-z])(?P<name>{nutrient_pattern()})(?![A-Za-z])"
    rf"|(?<![A-Za-z])(?P<letter>[PCFpcf])(?![A-Za-z])"
    rf"|(?P<sep>[,;|•·\n()\[\]]|\s[-–—]\s)"
    rf"|(?P<slash>/)"
    rf"|(?P<word>[^\W\d_][\w'’-]*)",
    re.IGNORECASE,
)
_TRUE_UNIT = re.compile(r"(?:kcals?|k\.cal|kilo-?calories|kj|kilo-?joules?)$", re.IGNORECASE)
_KJ = re.compile(r"(?:kj|kilo-?joules?)$", re.IGNORECASE)

_COUNT = rf"(?:{NUMBER}|one|two|three|four|half)"
_WEIGHT_NOTE = r"(?:\s*[([][^()\[\]]{0,40}[)\]])?"
_BASIS: tuple[tuple[Basis, re.Pattern[str]], ...] = (
    ("per_100g", re.compile(
        r"(?:\b(?:per|in|for|each)|/)\s*100\s*(?:g|gr|grams?|grammes?|ml|millilit(?:re|er)s?)\b"
        r"|^\s*100\s*(?:g|ml)\s*:", re.IGNORECASE)),
    ("per_recipe", re.compile(
        r"(?:\b(?:per|for|in)\s+)?(?:\bthe\s+|\ba\s+)?\b(?:whole|entire|full|complete)\s+"
        r"(?:recipe|batch|dish|pan|tray|loaf|cake|pot|lot|thing|tin|pie|tart|quiche|bake|jar|bowl)\b"
        r"|\b(?:per|in\s+the|for\s+the)\s+(?:recipe|batch)\b|\b(?:recipe|batch)\s+totals?\b"
        r"|\btotals?(?=\s*(?:[:(]|\d))|\bin\s+total\b|\ball\s+together\b|\baltogether\b", re.IGNORECASE)),
    ("per_serving", re.compile(
        rf"\b(?:per|for)\s+(?:(?:{_COUNT})\s+)?(?:(?:adult|generous|average|single|large|"
        rf"small|medium)\s+)?(?!recipe|batch|whole|entire|100\b)"
        rf"(?:{NUMBER}\s*(?:g|ml)\s+)?[^\W\d_]+{_WEIGHT_NOTE}(?=\s*(?:$|[:,;|(\d)~≈-]|is|are|about|approx))"
        rf"|(?:(?<=cal)|(?<=cals)|(?<=calories)|(?<=kj))/\s?(?!k?cal|kj)[^\W\d_]{{3,}}"
        rf"|/\s?(?:serving|serve|portion|person|head|slice|piece|bar|bowl)\b"
        rf"|\bper\s+(?:serving|serve|portion|person|head|slice|piece|bar|bowl|cookie|muffin)\b"
        rf"{_WEIGHT_NOTE}"
        rf"|\b(?:a|one|each)\s+(?:serving|serve|portion|slice|piece|bar|head|person|plate)\b{_WEIGHT_NOTE}"
        rf"(?:\s+(?:has|is|contains|provides|gives))?"
        rf"|\beach(?:\s+[^\W\d_]+)?\s+(?:has|is|contains|provides|gives)\b"
        rf"|\b(?:serving|portion)\s*:|\beach\b", re.IGNORECASE)),
)  # fmt: skip
_LEAD = re.compile(
    r"^\W*(?:nutrition(?:al)?(?:\s+(?:facts?|info(?:rmation)?|values?|analysis|data|content))?"
    r"|macros?|macronutrients|stated|numbers|stats)\b(?:\s*\(?approx(?:\.|imate(?:ly)?)?\)?)?",
    re.IGNORECASE,
)
_FILLER_WORDS = """
    per serving servings serve portion portions of which each about approx approximately
    roughly around total totals and with the a an in for is are contains has gives provides
    nutrition nutritional facts info information values macros macro estimated est calories
    amount value typical kcal kj g gram grams only one to both it comes come works out at
    nutrients daily dv ri calculated x
"""
_FILLER = frozenset(_FILLER_WORDS.split())
#: Words that are not understood, beside an energy that says what it is for.
_BESIDE = 3
#: Words that are also things to cook with: alone on a line they are an ingredient.
_ALSO_FOOD = frozenset({"SUGAR", "FAT", "NA", "ALC", "FASAT"})


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
    """

    found: tuple[Found, ...]
    basis: Basis | None
    per_count: float | None
    heading: bool
    certain: bool
    possible: bool
    size: str = ""


@dataclass(slots=True)
class _Token:
    kind: str  # name | amount | sep | slash | word
    start: int
    end: int
    tag: str = ""
    salt: bool = False
    number: Number | None = None
    number_span: tuple[int, int] = (0, 0)
    unit: str = ""
    text: str = ""


@lru_cache(maxsize=4096)
def read_stated_line(text: str) -> StatedLine:
    """Read ``text`` as a stated line; total: a line that states nothing has nothing found."""
    if len(text) > 2000:
        return StatedLine((), None, None, False, False, False)
    text = _plain_spaces(text)
    tokens, basis, per_count, lead, size = _prepared(text)
    found = _one_each(_pairs(tokens, text))
    words = [t.text.lower() for t in tokens if t.kind == "word"]
    strange = [w for w in words if w not in _FILLER]
    announced = lead or basis is not None
    nothing_else = not strange
    tags = {f.tag for f in found}
    energy = "ENERC_KCAL" in tags
    heading = (
        not found and announced and not any(t.kind == "amount" for t in tokens) and (nothing_else)
    )
    # An energy that says what it is for may stand beside words that are not understood.
    few = len(strange) <= max(len(tags), _BESIDE if energy and basis is not None else 0)
    certain = bool(found) and (
        (nothing_else and (energy or (len(tags) > 1 and not tags <= _ALSO_FOOD)))
        or (announced and few and (energy or len(tags) > 1))
        or (energy and len(tags) > 1 and few)
        or (nothing_else and announced)
        or (nothing_else and not tags <= _ALSO_FOOD and re.search(r"[:=]", text) is not None)
    )
    return StatedLine(
        found,
        basis,
        per_count,
        heading,
        certain,
        bool(found) and (nothing_else or (energy and few)),
        size,
    )


def all_found(text: str) -> list[Found]:
    """Every stated amount of ``text``, both energies of "1724 kJ / 412 kcal" included."""
    text = _plain_spaces(text)
    return _pairs(_prepared(text)[0], text)


def _plain_spaces(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u202f", " ")


def _prepared(text: str) -> tuple[list[_Token], Basis | None, float | None, bool, str]:
    facts = find_facts(text)
    blanked, basis, per_count, size = _take_basis(facts.rest)
    if basis is None and facts.counted != facts.rest:
        blanked, basis, per_count, size = _take_basis(facts.counted)
    lead = _LEAD.match(blanked)
    if lead:
        blanked = " " * lead.end() + blanked[lead.end() :]
    blanked = _PERCENT.sub(lambda m: " " * len(m[0]), blanked)
    blanked = re.sub(r"\bof\s+which:?|\bthereof\b", lambda m: " " * len(m[0]), blanked, flags=re.I)
    return _tokens(blanked), basis, per_count, lead is not None, size


def _take_basis(text: str) -> tuple[str, Basis | None, float | None, str]:
    """Blank the words that say what the numbers are for."""
    for basis, pattern in _BASIS:
        match = pattern.search(text)
        if not match:
            continue
        said = match[0]
        blanked = text[: match.start()] + " " * len(said) + text[match.end() :]
        per_count = None
        if basis == "per_serving":
            counted = re.match(rf"(?:per|for|/)\s*({NUMBER})\s+[^\W\d_]", said, re.IGNORECASE)
            if counted and not re.match(rf"(?:per|for|/)\s*{NUMBER}\s*(?:g|ml)\b", said, re.I):
                per_count = read_number(counted[1]).value
        return blanked, basis, per_count, _size(said) if basis == "per_serving" else ""
    return text, None, None, ""


_FOR_ONE = re.compile(r"^\W*(?:per|for|a|an|one|each|/)\b\s*|^/\s?", re.IGNORECASE)


def _size(said: str) -> str:
    """ "per slice (85 g)" as a serving size: "1 slice (85 g)"; "" when no thing is named."""
    rest = _FOR_ONE.sub("", said).strip(" :")
    inner = re.match(r"(?:serving|portion)s?\s*[(\[]([^)\]]+)[)\]]", rest, re.IGNORECASE)
    rest = inner[1] if inner else rest
    if not re.search(r"[^\W\d_]", rest):
        return ""
    return rest if re.match(rf"\s*{_COUNT}\b", rest, re.IGNORECASE) else f"1 {rest}"


def _tokens(text: str) -> list[_Token]:
    out: list[_Token] = []
    for match in _TOKEN.finditer(text):
        start, end = match.span()
        if match["amount"] is not None:
            mass = match["mass"] or ""
            number = read_number(match["low"], mass)
            if match["high"]:
                high = read_number(match["high"], mass)
                if high.value > number.value:
                    number = Number(
                        (number.value + high.value) / 2, high.value - number.value + number.step
                    )
            elif match["less"]:
                number = Number(number.value / 2, max(number.value, number.step))
            out.append(_Token("amount", match.start("low"), end, number=number, unit=mass,
                              number_span=(match.start("low"), match.end("high") if match["high"]
                                           else match.end("low"))))  # fmt: skip
        elif match["sep"] is not None or match["slash"] is not None:
            out.append(_Token("sep" if match["sep"] else "slash", start, end))
        elif match["word"] is not None:
            out.append(_Token("word", start, end, text=match[0]))
        elif match["letter"] is not None:
            out.append(_Token("name", start, end, tag=_LETTERS[match[0].lower()], text=match[0]))
        else:
            tag, salt = nutrient_named(match[0]) or ("", False)
            out.append(_Token("name", start, end, tag=tag, salt=salt, text=match[0]))
    return _bound_units(out, text)


def _bound_units(tokens: list[_Token], text: str) -> list[_Token]:
    """Join "412" and "kcal" into one energy amount, unless the unit is the next number's name."""
    out: list[_Token] = []
    for token in tokens:
        before = out[-1] if out else None
        if (
            token.kind == "name"
            and token.tag == "ENERC_KCAL"
            and _TRUE_UNIT.match(token.text)
            and before is not None
            and before.kind == "amount"
            and not before.unit
            and not text[before.end : token.start].strip()
            and not text[token.end :].lstrip().startswith((":", "="))
        ):
            before.unit, before.end, before.tag = token.text, token.end, "ENERC_KCAL"
            continue
        out.append(token)
    return out


def _pairs(tokens: list[_Token], text: str) -> list[Found]:
    useful = [t for t in tokens if t.kind != "word"]
    energy_has_unit = any(t.kind == "amount" and t.tag for t in useful)
    if energy_has_unit:  # "Energy 1724 kJ / 412 kcal": the word only announces it
        useful = [t for t in useful if not (t.kind == "name" and t.tag == "ENERC_KCAL")]
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
    return out


def _complete(part: list[_Token]) -> bool:
    return any(t.kind == "amount" for t in part) and any(
        t.kind == "name" or (t.kind == "amount" and t.tag) for t in part
    )


def _names_then_amounts(tokens: list[_Token]) -> list[tuple[_Token, _Token]] | None:
    """ "P/C/F: 32/45/11" or "32/45/11 P/C/F", beside energies that carry their unit."""
    own = [(t, t) for t in tokens if t.kind == "amount" and t.tag]
    rest = [t for t in tokens if not (t.kind == "amount" and t.tag)]
    names = [t for t in rest if t.kind == "name"]
    amounts = [t for t in rest if t.kind == "amount"]
    kinds = "".join("n" if t.kind == "name" else "a" for t in rest)
    half = len(kinds) // 2
    if half < 2 or kinds not in ("n" * half + "a" * half, "a" * half + "n" * half):
        return None
    return [*own, *zip(names, amounts, strict=True)]


def _part_pairs(part: list[_Token], text: str) -> list[Found]:
    out: list[Found] = []
    left = [t for t in part if not (t.kind == "amount" and t.tag)]
    out.extend(_found(t, t, text) for t in part if t.kind == "amount" and t.tag)
    if not left:
        return out
    first, second = ("name", "amount") if left[0].kind == "name" else ("amount", "name")
    at = 0
    while at < len(left):
        here = left[at]
        after = left[at + 1] if at + 1 < len(left) else None
        beyond = left[at + 2] if at + 2 < len(left) else None
        usual = here.kind == first and after is not None and after.kind == second
        turned = (
            here.kind == second
            and after is not None
            and after.kind == first
            and not (beyond is not None and beyond.kind == second)
        )
        if (usual or turned) and after is not None:
            name, amount = (here, after) if here.kind == "name" else (after, here)
            if name.tag:
                out.append(_found(name, amount, text))
            at += 2
        else:
            at += 1
    return out


def _found(name: _Token, amount: _Token, text: str) -> Found:
    assert amount.number is not None
    unit = amount.unit
    if not unit and name is not amount and name.tag == "ENERC_KCAL" and _KJ.match(name.text):
        unit = "kJ"
    number = in_tag_unit(amount.number, unit, name.tag, salt=name.salt)
    if not unit and name.tag == "ENERC_KCAL" and amount.number.step < 0.01:
        whole = read_number(text[slice(*amount.number_span)], "kcal")  # "1,724 Calories"
        number = in_tag_unit(whole, unit, name.tag)
    elif unit and name.tag == "ENERC_KCAL":
        number = in_tag_unit(
            read_number(text[slice(*amount.number_span)].split("-")[0], unit)
            if amount.number.step < 0.01
            else amount.number,
            unit,
            name.tag,
        )
    span = (min(name.start, amount.start), max(name.end, amount.end))
    return Found(name.tag, number.value, number.step, text[slice(*span)].strip(), span,
                 amount.number_span, unit, name.salt)  # fmt: skip


def _one_each(found: list[Found]) -> tuple[Found, ...]:
    best: dict[str, Found] = {}
    for one in found:
        kept = best.get(one.tag)
        in_kj = kept is not None and one.tag == "ENERC_KCAL" and _KJ.match(kept.unit or "")
        if kept is None or (in_kj and not _KJ.match(one.unit or "")):
            best[one.tag] = one
    return tuple(best.values())
