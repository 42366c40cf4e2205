"""Names of columns and keys: "Protein (g)", "energy_kj_per_100g", "Net carbs", "satfat_g"."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from itertools import islice

from pipeline.intake.model import Basis
from pipeline.nutrients import NET_CARBS_TAG, NUTRIENTS
from pipeline.resources import shared_rows

_TAGS = {n.tag.lower(): n.tag for n in NUTRIENTS} | {NET_CARBS_TAG.lower(): NET_CARBS_TAG}
_SCHEMA = {n.schema_org.lower(): n.tag for n in NUTRIENTS if n.schema_org}
_BASES: tuple[tuple[str, Basis], ...] = (
    (r"per100(?:g|grams?|ml)?|100g", "per_100g"),
    (
        r"per(?:recipe|batch|total)|whole(?:recipe|batch)?|total(?!fat|carb|sugar)|gesamt",
        "per_recipe",
    ),
    (r"(?:per|pro)(?:serving|serve|portion|person|slice|piece)|each", "per_serving"),
)


#: "kcal/portion": for one portion; "kJ/kcal" is no such thing.
_PER = re.compile(
    r"\bp\.?p\b\.?(?=\W*(?:[(\[]|$))|\s?/\s?(?=(?:100|a\b|1\b|serv|portion|person|slice|piece|recipe|batch|head|bowl))",
    re.IGNORECASE,
)


@cache
def _nutrient_words() -> tuple[dict[str, tuple[str, bool]], str]:
    """Names of nutrients of ``shared/nutrient_words.csv``, and a pattern of them in running text.

    The first by their letters alone; the tag of one that is not judged is "". A hyphen of the
    table may be a space or nothing, any name may have a plural s.
    """
    known: dict[str, tuple[str, bool]] = {}
    patterns: list[str] = []
    for row in shared_rows("nutrient_words.csv"):
        for word in row["words"].split(";"):
            for form in (word, word + "s") if word[-1].isalpha() else (word,):
                known.setdefault(_letters(form), (row["tag"], row["of"] == "salt"))
            if not row["in"]:
                pattern = re.escape(word).replace(r"\-", r"-?\s*").replace(r"\ ", r",?\s+")
                patterns.append(pattern + "s?" * word[-1].isalpha())
    return known, "|".join(sorted(patterns, key=len, reverse=True))


def _spelled_out(name: str) -> str:
    """A header with its "for": "kcal/portion" is "kcal per portion", "kcal pp" is per person."""
    return _PER.sub(lambda found: " per person " if "p" in found[0].lower() else " per ", name)


def _letters(name: str) -> str:
    return re.sub(r"[\W_]", "", _unaccented(name.lower()))


def _unaccented(text: str) -> str:
    """Letters without their accents: "Eiweiß" is "Eiweiss"."""
    if text.isascii():
        return text
    parts = unicodedata.normalize("NFKD", text.replace("ß", "ss"))
    return "".join(c for c in parts if not unicodedata.combining(c))


def nutrient_pattern() -> str:
    """A pattern of the names of nutrients in running text, longer ones before those they begin with."""
    return _nutrient_words()[1]


@lru_cache(maxsize=4096)
def _tag_named(name: str) -> tuple[str, bool]:
    return _nutrient_words()[0].get(_letters(name), ("", False))


def nutrient_named(name: str) -> tuple[str, bool] | None:
    """INFOODS tag of a nutrient's name, and whether it is salt; None for any other words."""
    found = _tag_named(name)
    return found if found[0] else None


def is_not_judged(name: str) -> bool:
    """Whether a name holds a nutrient that no stated number of ours stands for ("cholesterol")."""
    words = name.replace("_", " ")
    return any(
        not _tag_named(found[0])[0]
        for found in re.finditer(nutrient_pattern(), words, re.IGNORECASE)
    )


@cache
def fields_of(form: str) -> dict[str, str]:
    """Field by name, of ``shared/field_names.csv``.

    Args:
        form: where the name stands: ``column`` of a table, ``key`` of a recipe's object, or ``entry``,
            the object of one ingredient.
    """
    return {
        word: row["field"]
        for row in shared_rows("field_names.csv") if form in row["forms"].split(";")
        for word in row["words"].split(";")
    }  # fmt: skip


#: Alone they may name the size of one serving.
_ONE_SERVED = frozenset(("serving", "serve", "portion"))


@cache
def _beside(says: str) -> frozenset[str]:
    """Small words within names that say something of the rest, of ``shared/field_names.csv``:
    ``how_many`` of a serving, ``taken`` of an amount ("grams used"), ``part`` of a nutrient
    ("of_it_sugars")."""
    rows = shared_rows("field_names.csv")
    return frozenset(
        word
        for row in rows if (row["field"], row["forms"]) == (says, "beside")
        for word in row["words"].split(";")
    )  # fmt: skip


@lru_cache(maxsize=4096)
def field_of(name: str, form: str) -> str | None:
    """Field that a column or key holds, by its name or by what its words say; None for neither.

    >>> field_of("how_many_servings", "column"), field_of("nutrition_per_slice", "key")
    ('servings', 'stated')
    >>> field_of("grams_used", "column")
    'grams'
    """
    fields = fields_of(form)
    if name in fields:
        return fields[name]
    words = set(name.split("_"))
    served = {w for row in shared_rows("yield_words.csv") if row["kind"] == "serving"
              for w in row["words"].split(";")}  # fmt: skip
    asking = {w for w in head_words("makes") | head_words("serves") if w.endswith("s")}
    counted = (
        words & asking or words >= {"how", "many"} or (name not in _ONE_SERVED and words & served)
    )
    if counted and words <= served | asking | head_words("for") | _beside("how_many"):
        return "servings"
    amounts = {word: field for word in words if (field := fields.get(word)) in ("grams", "amount")}
    if form == "column" and amounts and words <= amounts.keys() | _beside("taken"):
        return "grams" if "grams" in amounts.values() else "amount"
    for row in shared_rows("card_words.csv"):
        if row["role"] in ("ingredients", "method") and name in map(plain, row["words"].split(";")):
            return row["role"]
    if basis_of(name) is not None:
        rest = re.sub(r"_?per_.*$", "", name)
        announced = fields.get(rest) == "stated" or rest in head_words("announce")
        return "stated" if rest and announced else None
    return None


@cache
def head_words(role: str) -> frozenset[str]:
    """Words of a role of ``shared/head_words.csv``, in the form of ``plain``."""
    rows = (row for row in shared_rows("head_words.csv") if row["role"] == role)
    return frozenset(plain(word) for row in rows for word in row["words"].split(";"))


@cache
def entry_keys(field: str) -> tuple[str, ...]:
    """Keys of an ingredient's object that hold a field, the most telling first."""
    return tuple(
        word
        for row in shared_rows("field_names.csv")
        if row["field"] == field and "entry" in row["forms"].split(";")
        for word in row["words"].split(";")
    )


@dataclass(frozen=True, slots=True)
class NutrientColumn:
    """What a column of numbers holds; ``unit`` is "" when the header does not say."""

    tag: str
    unit: str
    salt: bool
    basis: Basis | None


def plain(name: object) -> str:
    """A column name in lower case with single underscores: "Line No." is ``line_no``."""
    return _plain(str(name))


@lru_cache(maxsize=4096)
def _plain(name: str) -> str:
    spaced = re.sub(r"(?<=[a-z])(?=[A-Z])", "_", _unaccented(name.strip()))
    return re.sub(r"[^a-z0-9]+", "_", spaced.lower()).strip("_")


#: Characters of a name that may say what its numbers are for.
_MAX_NAME = 200
#: What numbers are for, behind their name; a unit is no such thing.
_FOR = re.compile(
    r"\s*(?:/|\bper\b|\ban?\b)\s*(?!(?:m?g|kj|kcal|ml|oz)\b)([^\W\d][^/]*)$", re.IGNORECASE
)


@lru_cache(maxsize=4096)
def nutrient_column(name: str) -> NutrientColumn | None:
    """What nutrient a column or key holds, in which unit and for what; None when it is none.

    >>> nutrient_column("Energy (kJ) per 100 g")
    NutrientColumn(tag='ENERC_KCAL', unit='kj', salt=False, basis='per_100g')
    """
    if name.lower() in _SCHEMA:
        return NutrientColumn(_SCHEMA[name.lower()], "", False, None)
    if name.lower() in _TAGS and name.upper() == name:
        return NutrientColumn(_TAGS[name.lower()], "", False, None)
    words = plain(_spelled_out(name))
    basis: Basis | None = None
    joined = words.replace("_", "")
    for pattern, meant in _BASES:
        found = re.search(pattern, joined)
        if found:
            basis = meant
            joined = joined[: found.start()] + joined[found.end() :]
            words = joined if words.count("_") else words
            break
    parts = words.split("_") if basis is None else [joined]
    parts = [p for p in parts if p not in ("stated", "declared", "label", "content", "amount")]
    unit = ""
    joined = "".join(parts)
    if len(parts) > 1 and parts[-1] in ("g", "mg", "kcal", "kj", "grams", "gram"):
        unit, joined = parts[-1], "".join(parts[:-1])
        if joined in ("", "energy", "calories"):
            joined = "energy"
    elif nutrient_named(joined) is None:
        suffix = re.fullmatch(r"(.+?)(kcal|kj|mg|g|grams?)", joined)
        if suffix and nutrient_named(suffix[1]):
            joined, unit = suffix[1], suffix[2]
    if joined == "kj":
        unit = "kj"
    known = (
        nutrient_named(joined)
        or _named(name)
        or _named_twice(parts)
        or nutrient_named("".join(p for p in parts if p not in _beside("part")))
    )
    if known is None and not basis:
        stem, behind = _apart(name)
        column = nutrient_column(stem) if behind and nutrient_column(behind) is None else None
        if column is not None:  # "kcal / box"
            return replace(column, basis=column.basis or _basis_behind(name))
        return _column_for_one(plain(name))
    if known is None:
        return None
    return NutrientColumn(known[0], unit or _unit(name), known[1], basis)


def _column_for_one(words: str) -> NutrientColumn | None:
    """A nutrient and what it is for, without a "per" between them: "kcal_portion"."""
    (first, _, behind), (before, _, last) = words.partition("_"), words.rpartition("_")
    for rest, one in ((before, last), (behind, first)):
        basis = basis_of(one)
        column = nutrient_column(rest) if rest and basis else None
        if column is not None:
            return replace(column, basis=column.basis or basis)
    return None


def _named(name: str) -> tuple[str, bool] | None:
    """Tag of a name, what it is for and its unit left away."""
    bare = re.sub(r"[(\[][^()\[\]]*[)\]]", " ", plain(_spelled_out(name)).replace("_", " "))
    bare = re.sub(
        r"\b(?:per|each)\b.*$|\b(?:in\s+)?(?:m?g|kcal|grams?)$|^(?:nutrition|stated)\b", "", bare
    )
    return nutrient_named(bare)


def _named_twice(parts: list[str]) -> tuple[str, bool] | None:
    """Tag of a name whose words all name the same: "energy_cal"."""
    named = {nutrient_named(part) for part in parts}
    return named.pop() if len(named) == 1 else None


def _unit(name: str) -> str:
    """Unit in the brackets of a header, or behind its name."""
    found = re.search(r"(?:[(\[]|\bin\s|\s)\s*(mg|g|kcal|kj)\b", name, re.IGNORECASE)
    return found[1].lower() if found else ""


#: A header that speaks of nutrition, whether its nutrient is one that is judged or not.
_NUTRITIONAL = re.compile(
    r"k?cal|\bkj\b|energy|protein|carb|\bfat\b|fib(?:re|er)|macro|nutri", re.IGNORECASE
)


def speaks_of_nutrition(name: str) -> bool:
    """Whether a column that ``nutrient_column`` does not know would be missed by its owner."""
    return bool(_NUTRITIONAL.search(name)) and not is_not_judged(name)


#: More names than this end in a word that says what their numbers are for.
_LEAST_ENDS = 2
#: Of more names than people give to numbers, each stands for itself.
_MOST_COMPARED = 200
#: Keys of numbers that stand together with another of them.
MACRO_LETTERS = {"p": "protein", "c": "carbs", "f": "fat"}


def column_among(name: str, names: Iterable[object]) -> NutrientColumn | None:
    """``nutrient_column`` of a key among others: "p", "c" and "f" tell each other what they are, and
    a word that ends several names ("kcal head", "fat head") is what their numbers are for."""
    names = list(islice(names, _MOST_COMPARED + 1))
    if len(names) > _MOST_COMPARED:
        return nutrient_column(name)
    first, _, last = plain(name).rpartition("_")
    ends = [plain(n).rpartition("_")[0] for n in names if plain(n).endswith(f"_{last}")]
    energy = any((c := nutrient_column(end)) and c.tag == "ENERC_KCAL" for end in ends)
    if first and energy and len(ends) > _LEAST_ENDS and nutrient_column(name) is None:
        column = column_among(first, ends)
        return column and replace(column, basis=column.basis or basis_of(last) or "per_serving")
    stem, _ = _apart(name)
    letter = MACRO_LETTERS.get(plain(stem))
    if letter is None or len(MACRO_LETTERS.keys() & {plain(_apart(n)[0]) for n in names}) < 2:
        return nutrient_column(name)
    column = nutrient_column(letter)
    return column if stem == name or column is None else replace(column, basis=_basis_behind(name))


def _apart(name: object) -> tuple[str, str]:
    """A name without what it is for, and that: "P/portion", "kcal per box"."""
    text = str(name).strip()
    found = _FOR.search(text, 1) if len(text) <= _MAX_NAME else None
    return (text[: found.start()], found[1]) if found else (str(name), "")


def _basis_behind(name: str) -> Basis:
    """What numbers are for by the end of their name; anything counted is a serving."""
    return basis_of(_apart(name)[1]) or "per_serving"


@lru_cache(maxsize=4096)
def basis_of(text: str) -> Basis | None:
    """What a basis cell or key says: "per serving", "100 g", "whole recipe"; None for neither."""
    joined = plain(text).replace("_", "")
    if not joined:
        return None
    for pattern, meant in _BASES:
        if re.search(pattern, joined):
            return meant
    if joined in ("serving", "portion", "serve", "slice", "piece", "person") or re.match(
        r"per_[a-z]", plain(text)
    ):
        return "per_serving"
    if joined in ("recipe", "batch", "dish", "all", "everything", "lot", "thelot"):
        return "per_recipe"
    return None
