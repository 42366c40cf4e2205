"""How many servings: "Serves 4", "Makes 12 squares", "1 loaf (12 slices)", "8 portions (1.5 kg)".

``read_yield`` reads what a recipe says it makes: servings, pieces, weight, volume. ``readings``
puts that beside the serving size the numbers are said to be for. Where the words leave the number of
servings open, every reading is kept with how likely its words make it; the run tries them against
the stated energy (``sql/compute_servings.sql``). A volume or a container is never a divisor by its
words alone.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache, partial

from pipeline.foods.words import singular
from pipeline.intake.model import NAN, Reading, Yield
from pipeline.intake.numbers import NUMBER, Roles, number_words, read_number, words_of
from pipeline.intake.patterns import pattern
from pipeline.resources import shared_rows
from pipeline.units import kitchen_units

_HEAD = partial(words_of, "head_words.csv")
#: Number words, and articles that count one of what follows.
_WORDS = number_words("count", "article") | {"single": 1.0}
_COUNT = rf"(?:{NUMBER}|\b(?:{'|'.join(sorted(_WORDS, key=len, reverse=True))})\b)"
_ENDS = _HEAD("to", "of", "for", "per", "and", "in", "each", "makes", "serves", "from")
_FIND = re.compile(
    rf"(?P<sign>(?<![\w)])[-−](?=\S))?(?P<low>{_COUNT})(?:\s*(?:-|–|—|to|or)\s*(?P<high>{_COUNT}))?"
    rf"(?:\s*(?P<dozen>{_HEAD('dozen')})(?![\w]))?\s*-?"
    rf"(?P<word>(?:(?!(?:{_ENDS})\b)[^\W\d_][^\W\d_'’-]*(?:-[^\W\d_]+)?[ \t]*){{0,4}})",
    re.IGNORECASE,
)


#: Behind a number that names things by their size: "8 pots (the 350s)".
_SIZES = re.compile(r"['’]?s\b")


def _by_word(sizes: Mapping[str, float]) -> dict[str, float]:
    """Sizes of units by every word of ``shared/units.csv``; a lone letter only for SI units."""
    return {
        word: sizes[row["unit"]]
        for row in shared_rows("units.csv")
        if row["unit"] in sizes
        for word in (row["unit"], *row["words"].split(";"))
        if len(word) > 1 or word == row["unit"]
    }


_GRAMS = _by_word(kitchen_units().grams)
#: Volumes in ml; cups, pints and spoons of the United States.
_ML = _by_word(kitchen_units().sizes("us"))
#: A volume that people take as a serving: its count may be meant as one, which is tried.
_SERVED_BY = frozenset({"cup", "tbsp", "tablespoon", "tsp", "teaspoon"})
_OTHER_UNITS = frozenset(
    word
    for table, column, kind in (("units.csv", "kind", "length"), ("head_words.csv", "role", "time"))
    for row in shared_rows(table) if row[column] == kind
    for word in row["words"].split(";")
) | {"in"}  # fmt: skip
_PEOPLE = frozenset({"people", "person", "persons", "adults", "adult", "x"})
#: How likely the words make the lowest, the middle and the highest number of a range the one that
#: the numbers were divided by. Common practice.
_RANGE = (0.34, 0.36, 0.3)
#: The same when a list gives the lowest number alone as well ("4", "4-6"): what writes such lists
#: divides by the number alone.
_RANGE_FROM_LOW = (0.6, 0.2, 0.2)


#: How likely numbers that no word says the basis of are for the whole recipe. Common practice.
_WHOLE = 0.05
#: Kind of each word of shared/yield_words.csv.
_KINDS = {
    word: row["kind"] for row in shared_rows("yield_words.csv") for word in row["words"].split(";")
}


def _kind(word: str) -> str:
    return _KINDS.get(word.lower(), "")


#: Which count is the number of servings when several are said; the first of equals.
_RANK = {"serving": 0, "piece": 2, "bare": 3, "measure": 4, "whole": 5, "container": 6, "": 9}


def read_yield(value: object) -> Yield:
    """Read schema.org ``recipeYield``, ``servings: 4`` or the text of a card; total.

    A range takes its middle. A leading count of servings wins; pieces said beside it stay pieces,
    a weight stays ``yield_g``. A count in brackets wins over the whole thing it is cut from
    ("1 loaf (12 slices)"). Of a list, the entry that says more of the same number explains it
    ("2", "2 dozen"), and a number alone wins over containers.
    """
    while isinstance(value, dict) and len(value) == 1:  # {"quantity": 4}, an element of XML
        value = next(iter(value.values()))
    if isinstance(value, dict):
        number = value.get("value", value.get("amount"))
        unit = value.get("unitText", value.get("unit", value.get("name", "")))
        if number is None and not unit:  # {"makes": 12, "of": "squares"}
            number = " ".join(str(one) for one in value.values() if isinstance(one, (str, int)))
        value = number if not unit else f"{number} {unit}"
    if isinstance(value, (list, tuple)):
        read = [read_yield(v) for v in value[:10] if not isinstance(v, (list, tuple))]
        return _of_list(read)
    if value is None or isinstance(value, bool):
        return Yield()
    if isinstance(value, (int, float)):
        try:
            return _checked(Yield(float(value), kind="bare"))
        except OverflowError:
            return Yield(fault="is not finite")
    return _read_text(" ".join(str(value).split())[:300])


def told_together(first: Yield, second: Yield) -> Yield:
    """What two statements of one recipe say ("Serves 6", then "Cooked weight: 1.2 kg").

    The later count wins; pieces, weight and volume are kept from both.
    """
    if math.isnan(first.servings) and math.isnan(first.yield_g):
        return second
    return _of_list([second, first]) if not math.isnan(second.servings) else replace(
        first,
        yield_g=first.yield_g if math.isnan(second.yield_g) else second.yield_g,
        volume_ml=first.volume_ml if math.isnan(second.volume_ml) else second.volume_ml,
    )  # fmt: skip


def _of_list(read: Sequence[Yield]) -> Yield:
    known = [y for y in read if not math.isnan(y.servings) or y.kind == "measure"]
    if not known:
        return read[0] if read else Yield()
    bare = next((y for y in known if y.kind == "bare"), None)
    if bare is not None:
        told = [y for y in known if y is not bare]
        explained = [  # "4", "4-6"
            replace(y, from_low=True) if y.low == bare.servings else y
            for y in told
            if _explains(y, bare)
        ]
        known = [*explained, *(y for y in told if not _explains(y, bare))] if explained else known
    best = min(known, key=lambda y: 1 if y.kind == "bare" else _RANK[y.kind])
    rest = [y for y in known if y is not best]
    parts = [best, *read]
    piece = next((y for y in rest if y.kind == "piece"), None)
    if best.kind != "piece" and math.isnan(best.pieces) and piece is not None:
        best = replace(best, pieces=piece.servings, piece_word=piece.word)
    return replace(
        best,
        yield_g=next((y.yield_g for y in parts if not math.isnan(y.yield_g)), NAN),
        volume_ml=next((y.volume_ml for y in parts if not math.isnan(y.volume_ml)), NAN),
    )


def _explains(told: Yield, bare: Yield) -> bool:
    """True when an entry says more of the number that stands alone beside it ("2", "2 dozen")."""
    number = bare.servings
    said = told.pieces if told.kind == "measure" else told.servings
    return any(abs(n - number) < 1e-9 for n in (said, told.low, said / 12, told.low / 12))


@dataclass(slots=True)
class _Count:
    value: float
    word: str
    kind: str
    low: float = NAN
    high: float = NAN
    in_brackets: bool = False
    end: int = 0
    choice: bool = False  # joined to the one before by "or"


@lru_cache(maxsize=4096)
def _read_text(text: str) -> Yield:
    if not text:
        return Yield()
    if "∞" in text or re.search(r"\b(?:inf|infinity|nan)\b", text, re.IGNORECASE):
        return Yield(fault="is not finite")
    text = _decimals(text)
    marked, per = _marked(text)
    bare = pattern("yield_hedge").sub(lambda m: " " * len(m[0]), marked)
    counts: list[_Count] = []
    out = Yield(per_serving=read_number(per[1]).value if per else NAN)
    negative = False
    for match in _FIND.finditer(bare):
        word = " ".join((match["word"] or "").split())
        unit = word.split(" ")[0].lower() if word else ""
        value, low, high = _numbers(match)
        named = match["dozen"] or unit in _GRAMS or unit in _ML or _kind(unit)
        if match["low"].lower() in ("a", "an", "single") and not named:
            continue
        if unit in _GRAMS:
            out = _with_weight(out, bare, match, value * _GRAMS[unit], counts)
            continue
        if unit in _OTHER_UNITS or _SIZES.match(bare, match.end("low")):
            continue
        if match["sign"]:
            negative = True
            continue
        measure = _ML.get(unit)
        each = bool(counts) and pattern("of_each").match(bare[match.end() :]) is not None
        if measure and each:
            continue
        if measure and math.isnan(out.volume_ml):
            out = replace(out, volume_ml=value * measure)
        before = bare[: match.start()]
        count = _Count(value, _clean(word), "", low, high, before.count("(") > before.count(")"))
        count.kind = _count_kind(marked, match, word, value, bool(measure))
        joint = marked[counts[-1].end : match.start()].strip(" (").lower() if counts else ""
        count.end = match.end()
        holder = counts[-1].kind if counts else ""
        of_one = (holder == "serving" and (each or joint == "of")) or (
            holder in ("container", "whole") and joint == "of"
        )
        if of_one and count.kind in ("piece", "bare"):
            count.kind, count.value = "piece", value * counts[-1].value
        if counts and joint in ("and", "+", "&") and count.kind == counts[-1].kind == "serving":
            counts[-1].value += value
            continue
        count.choice = joint == "or"
        if (
            count.choice
            and count.kind == "serving"
            and pattern("size_word").match(f"{counts[-1].word} ")
        ):
            counts[-1].kind = "serving"  # "4 large or 6 small portions"
            counts[-1].word = count.word
        counts.append(count)
    return _settled(out, counts, negative)


def _marked(text: str) -> tuple[str, re.Match[str] | None]:
    """The text with company and courses as servings, sizes of tins blank; what one serving is."""
    marked = pattern("company").sub(lambda m: "serves".ljust(len(m[0])), text)
    marked = pattern("as_course").sub(lambda m: "servings".ljust(len(m[0])), marked)
    marked = pattern("tin_size").sub(lambda m: " " * len(m[0]), marked)
    marked = re.sub(r"\(\s*\)", lambda m: " " * len(m[0]), marked)
    per = pattern("count_per_serving").search(marked) or pattern("size_in_pieces").search(marked)
    if per:
        marked = marked[: per.start()] + " " * len(per[0]) + marked[per.end() :]
    return marked, per


def _decimals(text: str) -> str:
    """ "1 1/2 cups" as "1.5 cups", half a dozen as "0.5 dozen"."""
    text = re.sub(r"\bhalf\s+(?:a\s+)?(?=dozen\b)", "0.5 ", text, flags=re.IGNORECASE)

    def decimal(found: re.Match[str]) -> str:
        over = float(found[3])
        value = float(found[1] or 0) + (float(found[2]) / over if over else 0)
        return f"{value:.4g}"

    return re.sub(r"(?:(?<![\d.,])(\d{1,3})\s+)?\b(\d{1,3})\s?/\s?(\d{1,3})\b", decimal, text)


def _numbers(match: re.Match[str]) -> tuple[float, float, float]:
    """Value, and the ends of a range or NaN."""
    dozen = 12 if match["dozen"] else 1
    value = _value(match["low"]) * dozen
    if match["high"]:
        high = _value(match["high"]) * dozen
        if high > value:
            return (value + high) / 2, value, high
    return value, NAN, NAN


def _count_kind(text: str, match: re.Match[str], word: str, value: float, measure: bool) -> str:
    words = word.lower().split()
    ends = {_kind(words[0]), _kind(words[-1])} if words else set()
    if pattern("servings_before").search(text[: match.start("low")]) or "serving" in ends:
        return "serving"
    if measure:
        return "measure"
    if pattern("servings_behind").match(text[match.end() :].lstrip(" ()")):
        return "serving"
    if not words:
        return "piece" if match["dozen"] else "bare"
    if words[0] in _PEOPLE or words[-1] in _PEOPLE:
        return "whole" if words[0] == "x" else "serving"
    if "container" in ends:
        return "serving" if pattern("divides").match(text) else "container"
    if "whole" in ends and value < 3 and not any(_kind(w) == "small" for w in words):
        return "whole"
    return "piece"


def _with_weight(
    out: Yield, text: str, match: re.Match[str], grams: float, counts: Sequence[_Count]
) -> Yield:
    """Weight of the dish: told for the whole, or for each of the things counted before."""
    before, behind = text[: match.start()].rstrip(" (,"), text[match.end("low") :].lower()
    after = re.match(r"\s*-?\w+\.?\)?\s*([^\W\d_]+)?", behind)
    kind = _kind(after[1]) if after and after[1] else ""
    noun = after[1] if after and after[1] and not re.fullmatch(_ENDS, after[1]) else ""
    if (
        counts
        and noun
        and counts[-1].word in ("", "pieces")
        and not before[counts[-1].end :].strip()
    ):
        counts[-1].word = noun  # "one 900 g loaf", "10 x 60 g balls"
        whole = kind == "whole" and counts[-1].value < 3
        counts[-1].kind = (
            "whole" if whole else kind if kind in ("container", "serving") else "piece"
        )
    if kind == "container" or not math.isnan(out.yield_g):
        return out
    each = re.match(r"[^,;(]*\b(?:each|apiece|per\b)", behind) or before.lower().endswith(
        (" of", "@")
    )
    times = before.lower().endswith((" x", "×"))
    if (each or times) and counts:
        grams *= counts[-1].value
    return replace(out, yield_g=grams)


def _settled(out: Yield, counts: list[_Count], negative: bool) -> Yield:
    usable = [c for c in counts if c.kind]
    if not usable:
        if negative:
            return replace(out, fault="is negative")
        readable = not math.isnan(out.yield_g) or not math.isnan(out.volume_ml)
        return replace(out, fault="" if readable else "holds no number")
    best = min(usable, key=lambda c: (_RANK[c.kind], c.in_brackets))
    leading = usable[0]
    if (
        leading.kind == "bare"
        and not leading.in_brackets
        and best.kind == "piece"
        and best.in_brackets
    ):
        best = leading  # "4 (12 tortillas)": the leading count is of servings
    if best.kind == "piece" and best.value == 1:  # "1 plait, 10 slices"
        cut = (c for c in usable if c.kind == "piece" and c.value > 1 and _is_cut(c.word))
        best = next(cut, best)
    if best.kind == "measure":
        return replace(out, kind="measure", pieces=best.value, piece_word=best.word)
    others = [c for c in usable if c is not best]
    counted = ("piece", "whole", "bare") if best.kind == "serving" else ("piece", "whole")
    piece = next((c for c in others if c.kind in counted), None)
    second = next(
        (c for c in others if c.kind == best.kind and (best.kind == "serving" or c.choice)), None
    )
    note = ""
    if not math.isnan(best.low):
        note = f"{best.low:g} to {best.high:g} servings were read as {best.value:g}"
    if best.kind in ("piece", "bare") and 1 < out.per_serving <= best.value:
        piece = best
        best = _Count(best.value / out.per_serving, "servings", "serving",
                      best.low / out.per_serving, best.high / out.per_serving)  # fmt: skip
    found = replace(
        out, servings=best.value, word=best.word, note=note, kind=best.kind, low=best.low,
        high=best.high, pieces=piece.value if piece else NAN,
        piece_word=piece.word if piece else "", other=second.value if second else NAN,
    )  # fmt: skip
    return _checked(found)


def _is_cut(word: str) -> bool:
    return any(_kind(part) == "slice" for part in word.split())


def _value(token: str) -> float:
    word = token.lower()
    return float(_WORDS[word]) if word in _WORDS else read_number(token).value


def _clean(word: str) -> str:
    word = pattern("size_word").sub("", word.strip(" -'’"))
    words = word.lower().split(" ")
    if words[0] == "x":
        return "pieces"
    people = words[0] in _PEOPLE or words[-1] in _PEOPLE
    return "servings" if people else word


def _checked(read: Yield) -> Yield:
    servings = read.servings
    if not math.isfinite(servings):
        return replace(read, servings=NAN, word="", fault="is not finite")
    if servings <= 0:
        fault = "is zero" if servings == 0 else "is negative"
        return replace(read, servings=NAN, word="", fault=fault)
    if servings > 100_000:
        return replace(read, servings=NAN, word="", fault="is too large to be servings")
    return replace(read, word=read.word or "servings")


@dataclass(frozen=True, slots=True)
class ServingSize:
    """What "serving size" says: a basis of its own, a weight, a volume, a share, or pieces.

    Attributes:
        share: part of the recipe ("1/4 of the recipe", "1 of 12 slices"), else NaN.
        ml: volume of a serving; with ``grams`` of it NaN unless said too.
        volume: the numbers are per 100 ml.
    """

    basis: str = ""
    grams: float = NAN
    pieces: float = NAN
    word: str = ""
    volume: bool = False
    share: float = NAN
    ml: float = NAN


_ONE_SERVING = ServingSize("per_serving")
_WHOLE_SIZE = (
    "^ [definite unity per makes]* entire [recipe container whole thing]"
    " | ^ [definite unity per]? recipe $ | ^ definite? entire thing? $"
)


def read_serving_size(value: object) -> ServingSize:
    """Read schema.org ``servingSize``: "1 serving", "100 g", "2 cookies", "1 slice (85 g)"."""
    if value is None or isinstance(value, (bool, dict, list)):
        return ServingSize()
    return _read_size(" ".join(str(value).split())[:200].lower())


@lru_cache(maxsize=4096)
def _read_size(text: str) -> ServingSize:
    line = Roles(text)
    if line.search("^ per? hundred metric dot? $"):
        return ServingSize("per_100g", 100.0, volume="m" in text.replace("gram", ""))
    if line.search(_WHOLE_SIZE):
        return ServingSize("per_recipe")
    share = pattern("share_size").search(text)
    if share:
        parts = float(share["a"] or share["b"] or share["c"])
        if parts > 1:
            return ServingSize("per_serving", share=1 / parts)
    text = _decimals(text)
    weight = re.search(rf"({NUMBER})\s*(g|gr|grams?|grammes?|oz|ounces?)\b", text)
    grams = NAN
    if weight:
        grams = read_number(weight[1]).value * (_GRAMS.get(weight[2]) or 1.0)
    count = pattern("size_count").match(text)
    ml = _volume(text)
    if count and count[2] not in _GRAMS and count[2] not in _ML:
        return ServingSize("per_serving", grams, read_number(count[1]).value, count[2], ml=ml)
    return ServingSize("per_serving", grams, ml=ml)


def _volume(text: str) -> float:
    """Volume in ml said in a serving size ("0.5 cup", "1 ½ cup serving"), NaN for none."""
    for found in re.finditer(rf"({NUMBER})\s*-?\s*([a-z]+)", text):
        if found[2] in _ML:
            return read_number(found[1]).value * _ML[found[2]]
    return NAN


def readings(told: Yield, size: ServingSize | None = None) -> tuple[Reading, ...]:
    """Every way to read the number of servings, the likeliest by the words first.

    Args:
        told: what the recipe says it makes.
        size: what its numbers are said to be for.

    Returns:
        Shares of belief sum to 1. A reading without a number (NaN) says that the words count no
        servings; with ``serving_g`` the number follows from the weight of the dish.
    """
    return _readings(told, size or _ONE_SERVING)


@lru_cache(maxsize=4096)
def _readings(told: Yield, size: ServingSize) -> tuple[Reading, ...]:
    found = _by_size(told, size)
    total = sum(r.belief for r in found)
    merged: dict[tuple[float, float], Reading] = {}
    for reading in found:
        key = (round(reading.servings, 6) if reading.servings == reading.servings else -1.0,
               reading.serving_g if reading.serving_g == reading.serving_g else -1.0)  # fmt: skip
        kept = merged.get(key)
        belief = reading.belief / total + (kept.belief if kept else 0.0)
        merged[key] = replace(kept or reading, belief=belief)
    return tuple(sorted(merged.values(), key=lambda r: -r.belief))


def _by_size(told: Yield, size: ServingSize) -> list[Reading]:
    n, word = told.servings, told.word
    if not math.isnan(size.share):
        return _by_share(told, size)
    if told.kind == "measure":
        return _by_volume(told, size)
    if math.isnan(n):
        if told.yield_g > 0 and size.grams > 0:
            return [_weighed(told, size, 1.0)]
        return []
    plain = _plain(told)
    p = size.pieces
    of_pieces = not math.isnan(p) and _kind(size.word) != "serving"
    if of_pieces and (p != 1 or same_thing(size.word, told.piece_word)):
        return _by_pieces(told, size, plain)
    if told.kind in ("whole", "container") and not same_thing(size.word, word):
        return _of_a_whole(told, size)
    if told.kind == "bare" and n <= 3 and _kind(size.word) == "slice":
        uncounted = Reading(NAN, "", f"{n:g} may be whole things, not {size.word}s", 0.4)
        return [*_scaled(plain, 0.6), uncounted]
    if told.yield_g > 0 and size.grams > 1 and told.kind in ("bare", "piece"):
        return [*_scaled(plain, 0.7), _weighed(told, size, 0.3)]
    return plain


def _plain(told: Yield) -> list[Reading]:
    """Readings by the yield alone: the number, or the numbers of a range."""
    n, word = told.servings, told.word
    if not math.isnan(told.low):
        low, middle, high = _RANGE_FROM_LOW if told.from_low else _RANGE
        said = f"{told.low:g} to {told.high:g} {word}"
        return [
            Reading(n, word, f"the middle of {said}", middle),
            Reading(told.low, word, f"the lower of {said}", low),
            Reading(told.high, word, f"the upper of {said}", high),
        ]
    if not math.isnan(told.other) and told.other != n:
        return [
            Reading(n, word, f"the first of {n:g} and {told.other:g} {word}", 0.75),
            Reading(told.other, word, f"the second of {n:g} and {told.other:g} {word}", 0.25),
        ]
    return [Reading(n, word, f"{n:g} {word}", 1.0)]


def with_whole(found: Sequence[Reading], servings: float, word: str) -> tuple[Reading, ...]:
    """Readings of numbers that no word says the basis of: they may be for the whole as well."""
    plain = found or [Reading(servings, word, f"{servings:g} {word}")]
    how = "no word says what the numbers are for, and as numbers of the whole recipe they follow"
    whole = Reading(servings, word, f"{how} from its lines", _WHOLE, basis="per_recipe")
    return (*_scaled(plain, 1 - _WHOLE), whole)


def _scaled(found: Sequence[Reading], share: float) -> list[Reading]:
    return [replace(r, belief=r.belief * share) for r in found]


def _by_share(told: Yield, size: ServingSize) -> list[Reading]:
    parts = round(1 / size.share, 6)
    by_size = Reading(parts, "servings", f"a serving is one of {parts:g}", 1.0)
    if math.isnan(told.servings) or told.kind in ("whole", "container", "measure"):
        return [by_size]
    if told.servings == parts:
        return _plain(told)
    if not math.isnan(told.low) and told.low <= parts <= told.high:
        return [by_size]
    return [*_scaled(_plain(told), 0.5), replace(by_size, belief=0.5)]


def _by_volume(told: Yield, size: ServingSize) -> list[Reading]:
    """The recipe makes a volume: a serving of a volume divides it, nothing else does for sure."""
    whole, amount, word = told.volume_ml, told.pieces, told.piece_word
    if size.ml > 0 and whole >= size.ml:
        how = f"{amount:g} {word} in servings of {size.ml:.0f} ml"
        return [Reading(whole / size.ml, "servings", how, 1.0)]
    uncounted = Reading(NAN, "", f"{amount:g} {word} is not a number of servings", 0.6)
    unit = word.split(" ")[0].lower().rstrip("s")
    if unit not in _SERVED_BY or amount < 2 or size.grams > 0:
        return [uncounted]
    return [uncounted, Reading(amount, word, f"a serving is one {unit}", 0.4)]


def _weighed(told: Yield, size: ServingSize, belief: float) -> Reading:
    """Servings by weight: of the dish as given, else of what its lines weigh."""
    given = told.yield_g > 0
    count = told.yield_g / size.grams if given else NAN
    how = f"{told.yield_g:g} g" if given else "the weight of the dish"
    return Reading(count, "servings", f"{how} in servings of {size.grams:g} g", belief, size.grams)


def _of_a_whole(told: Yield, size: ServingSize) -> list[Reading]:
    """ "1 loaf", "2 jars": the words count what is cut or filled, not the servings."""
    n, word = told.servings, told.word
    several = told.kind == "container" and n >= 3  # four pots may be four servings
    uncounted = Reading(
        NAN, "", f"{n:g} {word} is not a number of servings", 0.5 if several else 0.6
    )
    each = Reading(n, word, f"the numbers are for one of {n:g} {word}", 0.5 if several else 0.4)
    if size.grams > 1:
        weighed = _weighed(told, size, 0.8)
        return [weighed, replace(each, belief=0.1), replace(uncounted, belief=0.1)]
    if size.word and _kind(size.word) != "serving":
        return [replace(uncounted, belief=0.9), replace(each, belief=0.1)]
    return [uncounted, each]


def _by_pieces(told: Yield, size: ServingSize, plain: list[Reading]) -> list[Reading]:
    """The numbers are for several pieces ("2 cookies")."""
    n, word, p = told.servings, told.word, size.pieces
    said = f"{p:g} {size.word}"
    if same_thing(size.word, told.piece_word) and told.pieces >= p:
        count = told.pieces / p
        by_pieces = Reading(count, "servings", f"{told.pieces:g} {told.piece_word}, {said} a serving",
                            1.0)  # fmt: skip
        if told.kind in ("serving", "bare"):
            return [*_scaled(plain, 0.35), replace(by_pieces, belief=0.65)]
        return [by_pieces]
    if p > n or told.kind == "serving" or (p < 1 and not same_thing(size.word, word)):
        return plain
    word = size.word if told.kind == "bare" else word
    divided = [
        Reading(r.servings / p, f"{p:g} {word}", f"{r.servings:g} {word} at {said}", r.belief)
        for r in plain
    ]
    if same_thing(size.word, told.word):
        if p == n:
            return [*_scaled(plain, 0.6), *_scaled(divided, 0.4)]
        return divided
    return [*_scaled(plain, 0.55 if told.kind == "bare" else 0.4),
            *_scaled(divided, 0.45 if told.kind == "bare" else 0.6)]  # fmt: skip


def same_thing(one: str, other: str) -> bool:
    """True when two serving words name the same piece ("cookie", "cookies")."""
    last = other.split(" ")[-1] if other else ""
    return bool(one) and singular(one.lower().strip()) == singular(last.lower().strip())
