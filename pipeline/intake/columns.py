"""Names of columns and keys: "Protein (g)", "energy_kj_per_100g", "Net carbs", "satfat_g"."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from itertools import islice

from pipeline.intake.model import Basis
from pipeline.nutrients import NET_CARBS_TAG, NUTRIENTS
from pipeline.phrases import any_of, spelled
from pipeline.resources import shared_rows

_TAGS = {n.tag.lower(): n.tag for n in NUTRIENTS} | {NET_CARBS_TAG.lower(): NET_CARBS_TAG}
_SCHEMA = {n.schema_org.lower(): n.tag for n in NUTRIENTS if n.schema_org}
_BASES: tuple[tuple[str, Basis], ...] = (
    (r"per100(?:grams?|gr?|ml)?|100g(?:rams?|r)?", "per_100g"),
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
    names: list[list[str]] = []
    for row in shared_rows("nutrient_words.csv"):
        for word in row["words"].split(";"):
            for form in (word, word + "s") if word[-1].isalpha() else (word,):
                known.setdefault(_letters(form), (row["tag"], row["of"] == "salt"))
            if not row["in"]:
                parts = spelled(word, {"-": r"-?\s*", " ": r",?\s+"})
                names.append([*parts, "s?"] if word[-1].isalpha() else parts)
    return known, any_of(names)


def _spelled_out(name: str) -> str:
    """A header with its "for": "kcal/portion" is "kcal per portion", "kcal pp" is per person."""
    return _PER.sub(lambda found: " per person " if "p" in found[0].lower() else " per ", name)


def _letters(name: str) -> str:
    """A name by its letters and digits; a picture is itself."""
    return re.sub(r"[\W_]", "", _unaccented(name.lower())) or name.strip(" \ufe0f")


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


@lru_cache(maxsize=4096)
def is_other(name: str) -> bool:
    """Whether a name says something of a recipe that is neither its title nor what it makes: known
    and not read, a time, a price, a number of its own."""
    words = set(plain(name).split("_"))
    other = {
        w for w, field in fields_of("key").items() if field in ("unread", "id", "creator", "method")
    }
    return (
        not words.isdisjoint(other | head_words("time") | head_words("timing"))
        or plain(name) in other
    )


@lru_cache(maxsize=4096)
def resembles(name: str, field: str) -> bool:
    """Whether the words of a name are short for those that name a field: "srv", "por_cou", "ttl"."""
    words = [word for word in plain(name).split("_") if word]
    return bool(words) and all(
        any(is_short_for(word, full) for full in _words_naming(field)) for word in words
    )


def is_short_for(word: str, full: str) -> bool:
    """Whether a word is another one, its beginning, or the other without some of its vowels."""
    if word == full or (len(word) > 2 and full.startswith(word)):
        return True
    bare = re.sub("[aeiou]", "", full[1:])
    return len(word) > 1 and word[:1] == full[:1] and re.sub("[aeiou]", "", word[1:]) == bare


@cache
def _words_naming(field: str) -> frozenset[str]:
    """Words of the names of a field, and what may stand beside them."""
    words = {w for name, f in fields_of("key").items() if f == field for w in name.split("_")}
    if field == "servings":
        served = (
            row["words"] for row in shared_rows("yield_words.csv") if row["kind"] == "serving"
        )
        words |= {plain(w) for row in served for w in row.split(";")} | _beside("how_many")
        words |= head_words("makes") | head_words("item") | head_words("recipe")
    return frozenset(words)


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


#: Words, and characters, of a name that says which nutrient a column holds and for what, at most.
_MOST_WORDS, _LONGEST_NAME = 12, 300


@lru_cache(maxsize=4096)
def nutrient_column(name: str) -> NutrientColumn | None:
    """What nutrient a column or key holds, in which unit and for what; None when it is none.

    >>> nutrient_column("Energy (kJ) per 100 g")
    NutrientColumn(tag='ENERC_KCAL', unit='kj', salt=False, basis='per_100g')
    """
    if len(name) > _LONGEST_NAME:
        return None
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
        return _column_for_one(plain(name)) or _column_of_units(name)
    if known is None:
        return _column_of_units(name)
    return NutrientColumn(known[0], unit or _unit(name), known[1], basis)


#: Units of nutrients within a name, and the words and brackets around them.
_UNITS = re.compile(r"[(\[]?\b(?:in[\s_]+)?(kcal|kj|mg|g|grams?)\b[)\]]?", re.IGNORECASE)


def _column_of_units(name: str) -> NutrientColumn | None:
    """A nutrient whose name has its unit in the middle or twice: "carb grams in g"."""
    spaced = name.replace("_", " ")
    units = [found.lower() for found in _UNITS.findall(spaced)]
    bare = " ".join(_UNITS.sub(" ", spaced).split())
    column = nutrient_column(bare) if units and bare and bare != spaced else None
    if column is None and (noted := _BRACKETED.search(name)) and (basis := basis_of(noted[0])):
        column = nutrient_column(_BRACKETED.sub(" ", name).strip())  # "kcal (whole tray)"
        return column and replace(column, basis=column.basis or basis)
    return column and replace(
        column, unit=column.unit or units[-1].removesuffix("rams").removesuffix("ram")
    )


def _column_for_one(words: str) -> NutrientColumn | None:
    """A nutrient and what it is for, without a "per" between them: "kcal_portion", "whole_dish_fat"."""
    parts = _tokens(words)
    for at in range(1, len(parts)) if len(parts) <= _MOST_WORDS else ():
        for rest, one in ((parts[:at], parts[at:]), (parts[at:], parts[:at])):
            basis = basis_of("_".join(one))
            column = nutrient_column("_".join(rest)) if basis else None
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


#: More names than this begin or end in what all their numbers are for.
_LEAST_ENDS = 2
#: Of more names than people give to numbers, each stands for itself.
_MOST_COMPARED = 200
#: Words that a name of a macro or of energy may be short for: its letters, in their order.
_SHORT_FOR = {
    "PROCNT": ("proteins",), "CHOCDF": ("carbohydrates", "carbs", "khydrates"),
    "FAT": ("fats", "lipids"), "ENERC_KCAL": ("calories", "kcals", "energy"),
}  # fmt: skip


def column_among(name: str, names: Iterable[object]) -> NutrientColumn | None:
    """``nutrient_column`` of a key among others: "kcal", "pr", "ch" and "ft" tell each other what they
    are, and words that begin or end several names ("kcal head", "fat head") what their numbers are for."""
    among = tuple(map(str, islice(names, _MOST_COMPARED + 1)))
    if len(among) > _MOST_COMPARED or name not in among:
        return nutrient_column(name)
    return columns_among(among)[name]


_BRACKETED = re.compile(r"[(\[][^()\[\]]*[)\]]")


@lru_cache(maxsize=4096)
def columns_among(names: tuple[str, ...]) -> dict[str, NutrientColumn | None]:
    """``column_among`` of each of some names."""
    found = {name: nutrient_column(name) for name in names}
    if all(found.values()):
        return found
    stems = {name: _BRACKETED.sub(" ", _apart(name)[0]) for name in names}
    for name, column in _shortened(stems).items():
        behind = None if _apart(name)[0] == name else _basis_behind(name)
        found[name] = found[name] or replace(column, basis=column.basis or behind)
    parts = {name: tuple(plain(name).split("_")) for name in names}
    for cut, rest in _affixes(parts):
        named = _shortened({name: "_".join(stem) for name, stem in rest.items()}, sure=True)
        tags = {column.tag for column in named.values()}
        if len(tags & _SHORT_FOR.keys()) > _LEAST_ENDS:
            basis = basis_of("_".join(cut)) or _shortened_basis(cut)
            if basis is None and parts[next(iter(named))][-1:] == cut:
                basis = "per_serving"
            for name, column in named.items():
                found[name] = found[name] or replace(column, basis=column.basis or basis)
    return found


def nutrient_said(name: str, names: Iterable[object]) -> str:
    """A name of a nutrient as a line of text says it: "p" beside "c" and "f" is "protein"."""
    column = None if nutrient_column(name) else column_among(name, names)
    return _SHORT_FOR[column.tag][0] if column and column.tag in _SHORT_FOR else name


def _affixes(
    parts: dict[str, tuple[str, ...]],
) -> Iterator[tuple[tuple[str, ...], dict[str, tuple[str, ...]]]]:
    """Words that begin or end several names, the most first, with the rest of each of these."""
    longest = max(map(len, parts.values()), default=0)
    for size in range(longest - 1, 0, -1):
        for end in (True, False):
            rests: dict[tuple[str, ...], dict[str, tuple[str, ...]]] = {}
            for name, words in parts.items():
                if len(words) > size:
                    cut, rest = (
                        (words[-size:], words[:-size]) if end else (words[:size], words[size:])
                    )
                    rests.setdefault(cut, {})[name] = rest
            yield from ((cut, rest) for cut, rest in rests.items() if len(rest) > _LEAST_ENDS)


def _shortened(stems: dict[str, str], *, sure: bool = False) -> dict[str, NutrientColumn]:
    """What names hold that are short for energy and macros; each of these once, two macros at least.

    ``sure``: also those of names that are known by themselves.
    """
    known = {name: c for name, stem in stems.items() if (c := nutrient_column(stem)) is not None}
    taken = {column.tag for column in known.values()}
    short = _each_once({
        name: [tag for tag in _tags_short(plain(stem)) if tag not in taken]
        for name, stem in stems.items() if name not in known and len(stem) < len("carbohydrates")
    })  # fmt: skip
    told = taken | set(short.values())
    letters = all(len(plain(stems[name])) == 1 for name in short)
    macros = len((told - {"ENERC_KCAL"}) & _SHORT_FOR.keys())
    if macros < _LEAST_ENDS or not (letters or "ENERC_KCAL" in told or macros > _LEAST_ENDS):
        begun = {name: tag for name, stem in stems.items() if (tag := _tag_begun(plain(stem)))}
        short = begun if len({*begun.values()}) > _LEAST_ENDS else {}
    made = {name: NutrientColumn(tag, "", False, None) for name, tag in short.items()}
    return made | known if sure else made


def _each_once(tags: Mapping[str, Sequence[str]]) -> dict[str, str]:
    """One of its tags for each name, none of them twice: for as many names as may be, and of several
    ways that by which names are short for the commonest words: of K, P, C and F the kcal is the K."""
    ways: list[tuple[int, dict[str, str]]] = [(0, {})]
    for name, of in [one for one in tags.items() if one[1]][: len(_SHORT_FOR)]:
        more = [
            (cost + _rank_of(name, tag), told | {name: tag})
            for cost, told in ways for tag in of if tag not in told.values()
        ]  # fmt: skip
        ways += more
    return min(ways, key=lambda way: (-len(way[1]), way[0]))[1]


def _rank_of(name: str, tag: str) -> int:
    """Which of the words of a tag a name is short for: 0 for the commonest."""
    letter = plain(name)[:1]
    words = _SHORT_FOR[tag]
    return next((at for at, word in enumerate(words) if word.startswith(letter)), len(words))


def _bare_stem(stem: str) -> str:
    """The letters of a name without its unit and its "total"."""
    words = stem.split("_")
    if len(words) > 1 and is_short_for(words[0], "total"):
        words = words[1:]
    if len(words) > 1 and any(is_short_for(words[-1], unit) for unit in ("g", "grams", "kcal")):
        words = words[: -2 if words[-2:-1] == ["in"] else -1]
    return "".join(words)


@lru_cache(maxsize=4096)
def _tag_begun(stem: str) -> str:
    """The one of energy and macros with a name, of any language, that begins so; "" for none."""
    words = _nutrient_words()[0].items() if len(stem) > len("kj") else ()
    letters = _bare_stem(stem)
    begun = {tag for word, (tag, _) in words if word.startswith(letters)}
    return begun.pop() if len(begun) == 1 and begun < _SHORT_FOR.keys() else ""


@lru_cache(maxsize=4096)
def _tags_short(stem: str) -> list[str]:
    """Energy and macros whose names begin with a letter and go on with the others, in their order."""
    letters = _bare_stem(stem)
    return [
        tag for tag, words in _SHORT_FOR.items()
        if letters.isalpha() and any(
            word.lstrip("e")[0] == letters.lstrip("e")[:1] and all(c in rest for rest in [iter(word)] for c in letters)
            for word in words
        )
    ]  # fmt: skip


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
    """What a basis cell or key says: "per serving", "100 g", "whole recipe"; None for neither.

    >>> basis_of("a portion"), basis_of("entire dish"), basis_of("in 100 gr"), basis_of("dish name")
    ('per_serving', 'per_recipe', 'per_100g', None)
    """
    words = plain(text)
    joined = words.replace("_", "")
    if not joined:
        return None
    for pattern, meant in _BASES:
        if re.search(pattern, joined):
            return meant
    if re.match(r"per_[a-z]", words) or joined in ("slice", "piece"):
        return "per_serving"
    return _basis_in(tuple(_for_what().get(word, "") for word in _tokens(words)))


def _tokens(words: str) -> list[str]:
    """The words and numbers of a name in the form of ``plain``: "kcal100_gr" is kcal, 100, gr."""
    return re.findall(r"[a-z]+|\d+", words)


#: Words at an end of a name that may say what numbers are for, at most.
_MOST_BASIS_WORDS = 8


@lru_cache(maxsize=4096)
def basis_above(key: str) -> Basis | None:
    """What numbers under a key are for: as ``basis_of``, or by the words that begin or end it, which
    may be short: "facts_per_batch", "nut_val_who". A word for the recipe alone is no such end."""
    words = tuple(_tokens(plain(key)))
    if len(words) > _MOST_BASIS_WORDS and (said := basis_of("_".join(words))):
        return said
    for count in range(min(len(words), _MOST_BASIS_WORDS), 0, -1):
        whole = count == len(words)
        for some in (words[-count:], words[:count]):
            said = basis_of("_".join(some)) or _shortened_basis(some)
            if said and (whole or [_for_what().get(word) for word in some] != ["recipe"]):
                return said
    return None


def _basis_in(said: tuple[str, ...]) -> Basis | None:
    """What the sorts of all words of a name say together."""
    if "hundred" in said and set(said) <= {"hundred", "mass", "one"} and len(said) > 1:
        return "per_100g"
    if "" in said:
        return None
    if "serving" in said:
        return "per_serving"
    return "per_recipe" if {"whole", "recipe"} & set(said) else None


@cache
def _for_what() -> dict[str, str]:
    """What a word says of what numbers are for: whole, recipe, serving, one, hundred, mass."""
    served = {
        word for row in shared_rows("yield_words.csv") if row["kind"] == "serving"
        for word in row["words"].split(";")
    }  # fmt: skip
    sorts = {
        "vessel": {
            word for row in shared_rows("yield_words.csv") if row["kind"] in ("container", "whole")
            for word in row["words"].split(";")
        } | head_words("item"),
        "one": head_words("per") | head_words("article") | head_words("in") | head_words("single")
        | {"one", "1", "single", "each"},
        "whole": head_words("entire") | head_words("total") | {"all", "everything"},
        "recipe": head_words("recipe") | head_words("thing") | {"dish"},
        "serving": served - {"side", "main", "starter", "sides", "mains", "starters"},
        "hundred": {"100", "hundred"},
        "mass": {"g", "gr", "gram", "grams", "ml"},
    }  # fmt: skip
    return {word: sort for sort, words in sorts.items() for word in words}


def _shortened_basis(words: tuple[str, ...]) -> Basis | None:
    """What words say of which each is the beginning of one that says it: "por", "tot_rec"."""
    full = [
        next((w for w in _for_what() if "_" not in w and is_short_for(word, w)), "")
        for word in words
    ]
    return basis_of("_".join(full)) if all(full) else None
