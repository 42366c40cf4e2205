"""Recipes of a tree, whatever its keys: each value is what the readers of texts take it for.

A recipe is the smallest part of a tree with a list of ingredients, a title and stated numbers, or
as much of that as stands beside the list. What the keys do not say is read aloud, "key: value": a
value that reads as a yield, as stated numbers, or as a title, is one.
"""

from __future__ import annotations

import copy
import difflib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any

from pipeline.foods.words import singular
from pipeline.intake.by_content import (
    are_lines,
    best_title,
    count_key,
    flat,
    holds_lines,
    may_be_title,
    read_by_content,
    said,
    title_key,
    yield_of,
)
from pipeline.intake.columns import basis_above, plain, resembles
from pipeline.intake.counted import count_of, thing_of
from pipeline.intake.entries import render
from pipeline.intake.facts_line import counts_title, yield_line
from pipeline.intake.numbers import number_words
from pipeline.intake.pages.schema_org import MAX_DEPTH, is_recipe, objects_in
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.structured.entry_parts import (
    OTHER_NUMBERS,
    foods_among,
    ingredient_entries,
    leaves,
)
from pipeline.intake.structured.number_lists import NumberLists, is_bare
from pipeline.intake.structured.own_form import (
    Own,
    Place,
    flat_numbers,
    holds_stated,
    is_known,
    is_overfull,
    looks_own,
    meaning_of,
    read_own,
    told_numbers,
    unknown_key,
)
from pipeline.intake.structured.yaml_tree import is_null
from pipeline.intake.text.evidence import worth
from pipeline.intake.text.line_kinds import tells

#: Levels of lists and objects around a recipe, and within one.
_MAX_LEVELS = 8
#: Words beyond which a text that ends in a full stop tells what to do.
_FEWEST_OF_STEP = 4
#: Rows of ingredients of several recipes.
_LEAST_ROWS = 3
#: Values of an object, or a list, that says what a recipe makes.
_MOST_OF_YIELD = 3
#: A number beyond this is no count of servings or pieces of a recipe.
_MOST_SERVINGS = 100
#: Recipes that are read in two ways, at most.
_MOST_COMPARED = 400
#: What a recipe's keys say where nothing has to be told by content.
_NEEDED = frozenset({"title", "ingredients", "servings"})


def recipes_in(tree: Any) -> tuple[list[dict[str, Any]], bool]:
    """The recipes of a tree and whether they are schema.org's; without any, those of our form.

    They stand in the order of the document, wherever they are; those of our form hold no others.
    Where no key names ingredients, they are told by content.
    """
    found = list(objects_in(tree, is_recipe, MAX_DEPTH, nested=True))
    if found:
        return found, True
    tree = by_recipe(tree)
    own = list(objects_in(tree, looks_own, _MAX_LEVELS, nested=False))
    bare = NumberLists(tree)
    said = [{meaning_of(str(key)) for key in node} for node in own]
    listed = sum("ingredients" in fields for fields in said)
    if not listed or not all("title" in fields for fields in said):
        told, part = _find(tree, "", 0, bare)
        made = [*told, *_records([part] if part else [], bare)]
        told = [one for one in made if _is_recipe(one)]
        whole = all(one.stated for one in told) and sum(one.lists for one in told) >= listed
        if told and (len(told) >= listed or whole):
            return _settled(told), False
    else:
        told = []
    if not listed or all(map(_says_all, own)):
        return own, False
    names = _keys_of(tree)
    keyed = _settled([completed(node, names.get(id(node), ""), bare) for node in own])
    return (_settled(told) if _say_more(told, keyed) else keyed), False


def _say_more(told: Sequence[Own], keyed: Sequence[Any]) -> bool:
    """Whether recipes told by content are better borne out than those that keys name."""
    if not told or len(told) + len(keyed) > _MOST_COMPARED:
        return False
    first, second = (
        [read_own(one, format="", position=0) for one in some] for some in (keyed, told)
    )
    return worth(second) > worth(first)


def by_recipe(node: Any, depth: int = 0) -> Any:
    """A tree in which lists of the ingredients of several recipes are lists of these recipes, each
    with the name or the id that its ingredients share; tables by their rows are lists of objects, and
    foods that rows only number are named."""
    if depth > _MAX_LEVELS or not isinstance(node, (dict, list)):
        return node
    if isinstance(node, list):
        if (key := _shared_key(node)) is not None:
            made: dict[str, dict[str, Any]] = {}
            for one in node:
                held = made.setdefault(str(one[key]), {_field(key): one[key], "ingredients": []})
                held["ingredients"].append({k: v for k, v in one.items() if k != key})
            return list(made.values())
        inner = [by_recipe(one, depth + 1) for one in node]
        return inner if any(a is not b for a, b in zip(inner, node, strict=True)) else node
    if any(meaning_of(str(key)) == "ingredients" for key in node):
        return node
    node = _with_foods(node)
    if rows := _rows_of(node):
        return rows
    told = {key: by_recipe(value, depth + 1) for key, value in node.items()}
    if all(told[key] is node[key] for key in node):
        return node
    same = copy.copy(node)
    same.update(told)
    return same


def _with_foods(node: dict[str, Any]) -> dict[str, Any]:
    """Lists of rows beside a list of foods, each with the name of the food whose id it has."""
    lists = {
        key: value for key, value in node.items()
        if isinstance(value, list) and len(value) > 1 and all(isinstance(v, dict) for v in value)
    }  # fmt: skip
    made = node
    for name, rows in lists.items() if len(lists) > 1 else ():
        keys = [
            str(k) for k, v in rows[0].items() if _plain(v) and OTHER_NUMBERS.search(plain(str(k)))
        ]
        labels = [str(k) for k, v in rows[0].items() if isinstance(v, str) and str(k) not in keys]
        for key in keys if len(labels) == 1 else ():
            named = {str(one.get(key)): one.get(labels[0]) for one in rows}
            if len(named) < len(rows) or not _are_foods(named.values()):
                continue
            for other, value in lists.items():
                own = next((k for k in (key, f"{singular(name)}_{key}") if k in value[0]), "")
                if other != name and own and _only_refers(value, own, named):
                    more = [
                        {k: v for k, v in one.items() if k != own} | {"ingredient": named[str(one[own])]}
                        for one in value
                    ]  # fmt: skip
                    made = {k: v for k, v in made.items() if k != name} | {other: more}
    return made


def _only_refers(rows: Sequence[Mapping[str, Any]], key: str, named: Mapping[str, Any]) -> bool:
    """Whether a key of rows gives the id of a food in each, and another the recipe that they share."""
    others = [k for k in rows[0] if k != key and OTHER_NUMBERS.search(plain(str(k)))]
    grouped = any(len({str(one.get(k)) for one in rows}) < len(rows) / 2 for k in others)
    return grouped and all(str(one.get(key)) in named for one in rows)


def _are_foods(names: Iterable[Any]) -> bool:
    from pipeline.intake.text.features import known_food  # here: few lists are asked

    told = [isinstance(name, str) and known_food(name) for name in names]
    return 2 * sum(told) > len(told)


def _field(key: str) -> str:
    """The field of a key that says which recipe a row is of; "" for any other."""
    meaning = meaning_of(key)
    named = meaning in ("id", "title")
    stem, _, behind = plain(key).rpartition("_")
    if behind == "id" and resembles(stem, "title"):  # "dish_id"
        return "id"
    return meaning if named else next((f for f in ("id", "title") if resembles(key, f)), "")


def _shared_key(rows: list[Any]) -> str | None:
    """The key by which rows of ingredients say of which recipe they are; None for any other list."""
    if len(rows) < _LEAST_ROWS or not all(isinstance(one, dict) for one in rows):
        return None
    for key in rows[0]:
        if not _field(str(key)) or not all(_plain(one.get(key, [])) for one in rows):
            continue
        runs = [value for value, _ in groupby(str(one[key]) for one in rows)]
        rest = [{k: v for k, v in one.items() if k != key} for one in rows]
        if len(set(runs)) == len(runs) < len(rows) / 2 and all(rest) and _is_list("", rest):
            return str(key)
    return None


def _rows_of(node: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The rows of a table that has the names of its columns beside them, as objects; [] for none."""
    names = [v for v in node.values() if isinstance(v, list) and all(isinstance(x, str) for x in v)]
    rows = [
        v
        for v in node.values()
        if isinstance(v, list) and v and all(isinstance(x, list) for x in v)
    ]
    if len(rows) != 1 or not any(len(set(v)) == len(v) == len(rows[0][0]) > 1 for v in names):
        return []
    head = next(v for v in names if len(v) == len(rows[0][0]))
    return [dict(zip(head, one, strict=False)) for one in rows[0]]


def _settled(recipes: list[Any]) -> list[Any]:
    """Recipes with the titles and servings that keys of no known name hold, told by all of them."""
    untold = [one for one in recipes if isinstance(one, Own) and one.guessed != ""]
    named = [{key: value for _, key, value in one.rest if key} for one in untold]
    foods = [[flat(leaf) for leaf in leaves(one.get("ingredients"))] for one in untold]
    if key := title_key(named, foods):
        for one, values in zip(untold, named, strict=True):
            if key in values and one.guessed != key:
                one["title"], one.guessed = values[key], key
    for one in untold:
        one.problems += [read_by_content(one.guessed, "title")] if one.guessed else []
    open_ = [one for one in recipes if isinstance(one, Own) and "servings" not in one]
    named = [{key: value for _, key, value in one.rest if key} for one in open_]
    if key := count_key(named):
        for one, values in zip(open_, named, strict=True):
            if key in values:
                one.give("servings", values[key])
                one.problems.append(read_by_content(key, "servings"))
    return recipes


def completed(
    node: dict[str, Any], name: str = "", bare: NumberLists | None = None
) -> dict[str, Any]:
    """A recipe of our form with what its keys do not say: under names in no table, or its own key."""
    if _says_all(node):
        return node
    lists = [v for k, v in node.items() if _is_list(k, v)]
    return _record(_Part(node, name, lists), bare or NumberLists(node))


def _says_all(node: Mapping[str, Any]) -> bool:
    """Whether the keys of an object say which value is its title, which its list, which its numbers."""
    if not {meaning_of(str(key)) for key in node} >= _NEEDED:
        return False
    stated = any(holds_stated(str(k), v) and not is_bare(v) for k, v in node.items())
    return stated or bool(flat_numbers(node))


def facts_of(nodes: Sequence[Mapping[str, Any]], bare: NumberLists) -> list[Own]:
    """What objects say of recipes whose ingredients stand elsewhere: names, ids, servings, numbers."""
    made = _settled([_record(_Part(node, "", []), bare) for node in nodes])
    for one in made:
        for key, value in one.origin.items() if "id" not in one else ():
            if _field(str(key)) == "id" and _plain(value):
                one.give("id", value)
    return made


@dataclass(slots=True)
class _Part:
    """A part of a tree that may be a recipe: a value, the key above it, and lists of ingredients in it."""

    node: Any
    name: str
    lists: list[Any] = field(default_factory=list)
    named: bool = False  # keys beside its own name recipes too
    alone: list[Own] = field(default_factory=list)  # what else its lists are: a recipe each
    count: int = 0  # of the lists in it


def _find(
    node: Any, name: str, depth: int, bare: NumberLists, *,
    named: bool = False,
) -> tuple[list[Own], _Part | None]:  # fmt: skip
    """The recipes of a tree, and the part of it whose recipe has to be looked for further up."""
    if depth > _MAX_LEVELS or not isinstance(node, (dict, list)):
        return [], None
    if isinstance(node, dict) and is_overfull(node):
        node = [one for one in node.values() if isinstance(one, (dict, list))]
    children = list(node.items()) if isinstance(node, dict) else [("", one) for one in node]
    lists = [value for key, value in children if _is_list(str(key), value)]
    if isinstance(node, dict) and (foods := _foods_of(node)):
        lists.append(foods)
    found: list[Own] = []
    parts: list[_Part] = []
    alike, taken = _are_alike(node), {id(one) for one in lists}
    for key, value in children:
        if id(value) not in taken:
            told, part = _find(value, str(key), depth + 1, bare, named=alike)
            found += told
            parts += [part] if part else []
    if not lists and not parts:
        return found, None
    groups = not lists and not found and isinstance(node, list) and depth > 0
    if groups and len(parts) == len(node) > 0:
        alone = _records(parts, bare)
        if not any(map(_says_more, alone)):
            lists = [node] if len(parts) > 1 else parts[0].lists
            return [], _Part(node, name, lists, alone=alone, count=_count(parts))
    only = not lists and not found and isinstance(node, list) and len(node) == 1 and depth > 0
    if only and not _record(parts[0], bare).get("title"):  # its name may stand beside the list
        return [], parts[0]
    if not lists and (isinstance(node, list) or len(parts) > 1 or found):
        return [*found, *_records(parts, bare)], None
    inner = [one for part in parts for one in part.lists]
    whole = _Part(node, name, [*lists, *inner], named, count=len(lists) + _count(parts))
    made = _record(whole, bare)
    own_title = named or not made.keyed
    if made.get("title") and own_title and made.stated:
        return [*found, made], None
    if any(part.alone for part in parts) and not _says_more(made):
        if len(parts) > 1 or found:
            return [*found, *_records(parts, bare)], None
        whole.alone = parts[0].alone
    stock = found and not made.stated and not _is_titled(node)  # what is kept beside the recipes
    return found, None if stock else whole


def _count(parts: Sequence[_Part]) -> int:
    return sum(part.count or len(part.lists) for part in parts)


def _records(parts: Sequence[_Part], bare: NumberLists) -> list[Own]:
    return [one for part in parts for one in part.alone or [_record(part, bare)]]


def _says_more(own: Own) -> bool:
    """Whether a recipe states numbers, or says what it makes."""
    return bool(own.stated) or "servings" in own


def _is_titled(node: Any) -> bool:
    return isinstance(node, dict) and any(meaning_of(str(key)) == "title" for key in node)


def _are_alike(node: Any) -> bool:
    """Whether the values of an object are several objects with keys in common."""
    inner = [set(v) for v in node.values() if isinstance(v, dict)] if isinstance(node, dict) else []
    return len(inner) > 1 and bool(set.intersection(*inner))


def _is_recipe(own: Own) -> bool:
    says = bool(own.stated) or not is_null(own.get("servings")) or not is_null(own.get("method"))
    return bool(own.get("title")) and says


#: Fields that hold one name.
_NAMES = frozenset(("title", "id", "creator"))


def _is_list(key: str, value: Any) -> bool:
    """Whether ingredients stand under a key: by its name, or by their amounts and foods."""
    meaning = meaning_of(key)
    if meaning == "ingredients":
        return True
    names_one = meaning in _NAMES and isinstance(value, list)  # a list under "recipe" is no name
    if (meaning and not names_one) or not isinstance(value, (str, list, Mapping)):
        return False
    if not isinstance(value, str) and told_numbers(value) is not None:
        return False
    if isinstance(value, Mapping) and _names_no_food(value):
        return False
    if isinstance(value, str):
        texts = value.strip().split("\n" if "\n" in value.strip() else ";")
        return len(texts) > 1 and _all_lines(texts) and not any(map(tells, texts))
    if difflib.get_close_matches(plain(key), ["ingredients"], 1, 0.8):
        return True
    objects = [one for one in value if isinstance(one, Mapping)]
    if isinstance(value, list) and any(map(_tells, objects)):
        return False
    entries = ingredient_entries(value)
    groups = [
        one for one in entries if isinstance(one, Mapping) and "heading" in one and len(one) > 1
    ]
    if len(groups) > 1 and not all(_all_lines(_texts_of(one), least=1) for one in groups):
        return False
    texts = _texts_of(entries)
    return len(texts) > 1 and _all_lines(texts)


def _texts_of(entries: Any) -> list[Any]:
    """The lines of entries, and what is no line as it is."""
    return [_entry_text(one) if isinstance(one, Mapping) else one for one in leaves(entries)]


def _names_no_food(value: Mapping[Any, Any]) -> bool:
    """Whether an object of single values has no food among its keys: {"chapter": 7, "pages": "148-171"}."""
    from pipeline.intake.text.features import known_food  # here: few objects are asked

    single = not any(isinstance(v, (list, Mapping)) for v in value.values())
    return single and not any(known_food(str(key)) for key in value)


def _tells(group: Mapping[str, Any]) -> bool:
    """Whether an object with a list in it is a recipe and no group of one: it says what it makes or
    states numbers."""
    lists = [(str(k), v) for k, v in group.items() if isinstance(v, list)]
    if not lists:
        return False
    if flat_numbers(group) and any(_is_list(*one) for one in lists):
        return True
    return any(
        is_bare(v) or (isinstance(v, str) and (yield_of(str(k), v) or read_stated_line(v).certain))
        for k, v in group.items()
    )


def _all_lines(texts: list[Any], least: int = 2) -> bool:
    """Whether texts are ingredients, and none of them is a number that a recipe states, or its yield."""
    filled = [text for text in texts if not isinstance(text, str) or text.strip()]
    said = [text for text in filled if isinstance(text, str)]
    if 2 * sum(map(_tells_to_do, said)) > len(filled) or len(filled) < least:
        return False
    listed = holds_lines(filled) if least > 1 else are_lines(said)
    return listed and not any(read_stated_line(text).certain or yield_line(text) for text in said)


def _tells_to_do(text: str) -> bool:
    """Whether a text, its number left away, is a step of a method."""
    said = text.strip().lstrip("0123456789.) ")
    return tells(said) or (said.endswith(".") and len(said.split()) > _FEWEST_OF_STEP)


def _entry_text(entry: Mapping[str, Any]) -> Any:
    if len(entry) == 1:  # YAML: "- tofu: 300 g"
        return " ".join(f"{amount} {food}" for food, amount in entry.items())
    return render({str(k).lower(): v for k, v in entry.items()}) or entry


def _foods_of(node: Mapping[str, Any]) -> dict[str, Any]:
    """Foods with their amounts that are keys of a recipe's own object, beside its energy."""
    return foods_among(node) if flat_numbers(node) else {}


def _keys_of(tree: Any) -> dict[int, str]:
    """The key that each object of a tree stands under, by the object's ``id``."""
    found: dict[int, str] = {}
    pending, depth = [tree] if isinstance(tree, (dict, list)) else [], 0
    while pending and depth < _MAX_LEVELS:
        for node in pending:
            if isinstance(node, dict):
                found |= {id(v): str(key) for key, v in node.items() if isinstance(v, dict)}
        pending = [
            v for node in pending
            for v in (node.values() if isinstance(node, dict) else node) if isinstance(v, (dict, list))
        ]  # fmt: skip
        depth += 1
    return found


def _record(part: _Part, bare: NumberLists) -> Own:
    """A part of a tree as a recipe of our form; the values stay the objects that they are."""
    own = Own(part.node)
    own.lists = part.count or len(part.lists)
    holders, keys = [part.node], [part.name]
    lists = {id(one) for one in part.lists}
    for holder in holders:
        values = list(holder.items() if isinstance(holder, dict) else enumerate(holder))
        near = any(id(value) in lists for _, value in values)
        flat = flat_numbers(holder) if isinstance(holder, dict) else {}
        for key, value in values:
            name = str(key) if isinstance(holder, dict) else ""
            if is_null(value) or id(value) in lists:
                continue
            holds = isinstance(value, Mapping) and any(id(v) in lists for v in value.values())
            if not holds and (place := _stated(holder, key, name, value, bare)) is not None:
                own.stated.append(place)
                _take_beside(own, value)
            elif not holds and is_known(name) and (meaning := _meaning(name, value)):
                own.give(meaning, value, sure=meaning == plain(name))
            elif not holds and (told := _yield_in(name, value)) and "servings" not in own:
                own.give("servings", told)
            elif isinstance(value, Mapping) and (holds or not _is_text(value)):
                holders.append(value)
                if holds:
                    keys.insert(0, name)
            elif isinstance(value, Mapping):
                own.rest.append((near, name, next(iter(value.values()))))
            elif key not in flat and not flat_numbers({name: value, "kcal": 1}).keys() - {"kcal"}:
                own.rest.append((near, name, value))
                own.problems += unknown_key(name)
    for holder in holders:
        if isinstance(holder, dict) and (flat := flat_numbers(holder)):
            own.stated.append(Place({"": holder}, "", None, flat))
    _take_ingredients(own, part, holders)
    texts = [one[1:] for near in (True, False) for one in own.rest if one[0] is near]
    _take_title(
        own,
        [*([("", part.name)] if part.named else []), *texts, *(("", key) for key in keys)],
        part.lists,
        keys,
    )
    if "servings" not in own:
        _take_servings(own, texts, bare)
    return own


def _take_beside(own: Own, numbers: Any) -> None:
    """What an object of numbers says beside them: the title, and what the recipe makes."""
    for key, value in numbers.items() if isinstance(numbers, Mapping) else ():
        meaning = _meaning(str(key), value)
        told = _yield_in(str(key), value) if isinstance(value, Mapping) else None
        if meaning in ("title", "servings") or told:
            own.give(*(("servings", told) if told else (meaning, value)))


def _yield_in(name: str, value: Any) -> Any:
    """What a value under a key says that the recipe makes; of an object where it is all that it says."""
    while isinstance(value, Mapping) and len(value) == 1 and not _plain(*value.values()):
        value = next(iter(value.values()))
    if isinstance(value, (Mapping, list)):
        held = value.values() if isinstance(value, Mapping) else value
        if len(value) > _MOST_OF_YIELD or not all(map(_plain, held)):
            return None
    return yield_of(name, flat(value) if isinstance(value, list) else value)


def _is_text(value: Mapping[str, Any]) -> bool:
    """Whether an object only holds a text: {"rendered": "Soup"}."""
    return len(value) == 1 and all(
        isinstance(v, str) and not meaning_of(str(k)) for k, v in value.items()
    )


def _plain(value: Any) -> bool:
    return not isinstance(value, (Mapping, list))


def _take_servings(own: Own, texts: list[tuple[str, Any]], bare: NumberLists) -> None:
    """What values without another meaning count: what the numbers are for, the title, or nothing else."""
    counted = [f"{name}: {flat(value)}" for name, value in texts]
    listed = [bare.said] if any(place.names for place in own.stated) else []
    for thing in filter(None, map(thing_of, [*_for_what(own.stated), *listed])):
        if made := count_of(thing, counted):
            own.give("servings", made)
            return
    title = str(own.get("title", ""))
    told = [(key, said) for key, one in texts if (said := counts_title(str(one), title))]
    if len(told) == 1:
        own.give("servings", told[0][1])
        own.problems.append(read_by_content(told[0][0], "servings"))


def _for_what(stated: list[Place]) -> Iterator[str]:
    """Texts that may say what stated numbers are for: keys above and among them, and their values."""
    for place in stated:
        yield plain(str(place.key))
        yield said(place.read) if not isinstance(place.read, Mapping) else ""
        for key, value in place.read.items() if isinstance(place.read, Mapping) else ():
            yield plain(str(key))
            yield f"{plain(str(key))} {value}" if isinstance(value, str) else ""


def _meaning(key: str, value: Any) -> str:
    """The field of our form that a key stands for; a word that counts servings needs a count."""
    meaning = meaning_of(key)
    counts = isinstance(value, (int, float)) or any(c.isdigit() for c in flat(value))
    return "" if meaning == "servings" and (isinstance(value, list) or not counts) else meaning


def _stated(holder: Any, key: Any, name: str, value: Any, bare: NumberLists) -> Place | None:
    """The place of stated numbers under a key: by its name, or as its value reads."""
    if is_bare(value):
        names = bare.names_of(name, value)
        told = dict(zip(names, value, strict=True)) if names else None
        return Place(holder, key, basis_above(plain(name)), told, names) if told else None
    read = told_numbers(value)
    single = read is None and isinstance(value, Mapping) and all(map(_plain, value.values()))
    amount = flat(value) if single else ""
    if amount and read_stated_line(amount).certain:  # {"value": 320, "unit": "kcal"}
        return Place(holder, key, basis_above(plain(name)), amount)
    if read is None and not holds_stated(name, value):
        return None
    meaning = meaning_of(name)
    served = meaning == "servings" and not _is_count(value)
    if meaning not in ("", "stated", "unread") and not served:
        return None
    return Place(holder, key, basis_above(plain(name)), value if read is None else read)


def _is_count(value: Any) -> bool:
    if isinstance(value, str) and value.strip().lower() in number_words("count"):
        return True
    if isinstance(value, str) and value.isdecimal() and len(value) < len(str(_MOST_SERVINGS)):
        value = int(value)
    return isinstance(value, int) and not isinstance(value, bool) and 0 < value <= _MOST_SERVINGS


def _take_ingredients(own: Own, part: _Part, holders: list[Any]) -> None:
    """Put the lists of a part under one key; several are groups under theirs."""
    named = [
        (str(key), value)
        for holder in holders if isinstance(holder, dict)
        for key, value in holder.items() if any(value is one for one in part.lists)
    ]  # fmt: skip
    if len(named) > 1:
        own["ingredients"] = [
            {"heading": key, "ingredients": ingredient_entries(value)} for key, value in named
        ]
    elif part.lists:
        value = part.lists[0]
        own["ingredients"] = (
            value.split(";") if isinstance(value, str) and "\n" not in value else value
        )
    foods = next((one for one in part.lists if not any(one is v for _, v in named)), None)
    unknown = [key for key, _ in named if not is_known(key)] or (
        [", ".join(foods)] if isinstance(foods, dict) else []
    )
    for key in unknown:
        own.problems += unknown_key(key) or [read_by_content(key)]


def _take_title(
    own: Own, texts: list[tuple[str, Any]], listed: list[Any], keys: Sequence[str]
) -> None:
    """The title, of texts without another meaning and of the keys above the list."""
    told = {
        value: key for key, value in reversed(texts)
        if may_be_title(value) and not read_stated_line(f"{value}:").heading
    }  # fmt: skip
    if "title" in own or not told:
        return
    foods = [flat(one) for value in listed for one in leaves(ingredient_entries(value))]
    own["title"] = best_title(list(reversed(told)), foods)
    own.guessed = told[own["title"]]
    own.keyed = own["title"] in keys
