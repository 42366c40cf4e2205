"""Known recipes printed in layouts composed of independent choices, and what the reader makes of them.

`data/text_layouts.yaml` lists the choices and their values; a file draws a value of each. The held
back half of the values is drawn for its own files, which are only counted.
"""

import argparse
import html
import re
import tempfile
import textwrap
import zipfile
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any

import yaml

_DATA = yaml.safe_load(
    (Path(__file__).parent / "data" / "text_layouts.yaml").read_text(encoding="utf-8")
)
CHOICES: dict[str, list[Any]] = _DATA["choices"]
DISHES: dict[str, Any] = _DATA["dishes"]
USUAL = 0.45  # how often a file takes the usual value of a choice
DRIFT = 0.1  # how often a recipe departs from the layout of its file, in one choice

WORDS = {1: "one", 2: "two", 3: "three", 4: "four", 5: "five", 6: "six", 8: "eight"}
NAMES = ("kcal", "protein", "carbohydrate", "fat")


@dataclass
class Known:
    """A recipe as it was printed: its lines as texts, numbers as (nutrient, value, serving or recipe)."""

    title: str
    servings: int
    macros: tuple[int, int, int]
    rows: list[tuple[str, str, str]]  # amount, food, note
    grouped: int  # how many of the last rows stand in a group
    group: str
    steps: list[str]
    prose: list[str]
    thing: str = "pieces"
    many: int = 1  # pieces of a serving, where they are counted
    printed: str = ""  # the title with the words around it
    lines: list[str] = field(default_factory=list)
    numbers: set[tuple[str, int, str]] = field(default_factory=set)


Line = tuple[str, str]  # role, text


def half(held: bool) -> dict[str, list[Any]]:
    """The values of each choice in one half: the usual one, and every second other."""
    return {name: [values[0], *values[1 + held :: 2]] for name, values in CHOICES.items()}


def draw_recipe(random: Random, title: str) -> Known:
    """A recipe of three to nine lines."""
    main = random.sample([food for food in DISHES["foods"] if not food[2]], random.randint(2, 5))
    sauce = random.sample([food for food in DISHES["foods"] if food[2]], random.randint(1, 4))
    rows = [
        (
            random.choice(amounts),
            food,
            DISHES["notes"].get(food, "") if random.random() < 0.5 else "",
        )
        for food, amounts, _ in main + sauce
    ]
    if random.random() < 0.4:
        rows.append(("", random.choice(DISHES["bare"]), ""))
    protein, carbs, fat = random.randint(6, 48), random.randint(12, 95), random.randint(4, 38)
    return Known(
        title,
        random.choice([1, 2, 2, 3, 4, 4, 4, 5, 6, 8]),
        (protein, carbs, fat),
        rows,
        len(sauce),
        random.choice(DISHES["groups"]),
        random.sample(DISHES["steps"], random.randint(2, 5)),
        [*random.sample(DISHES["prose"], 4), "Add {0}."],
        random.choice(DISHES["things"]),
        random.choice([2, 3, 4]),
    )


def draw_layout(random: Random, values: dict[str, list[Any]]) -> dict[str, Any]:
    """A value of each choice."""
    return {
        name: each[0] if random.random() < USUAL else random.choice(each)
        for name, each in values.items()
    }


# --- the parts of a recipe ---------------------------------------------------------------------


def number_parts(known: Known, layout: dict[str, Any]) -> list[list[Line]]:
    """The stated numbers: one part, or two where calories stand apart from the rest."""
    basis, before, behind = (
        text.replace("{m}", str(known.many)).replace("{things}", known.thing)
        for text in layout["numbers_basis"]
    )
    if "{n}" in before + behind and known.servings == 1:
        basis, before, behind = CHOICES["numbers_basis"][0]
    times = 1 if basis == "serving" else known.servings
    protein, carbs, fat = (value * times for value in known.macros)
    kcal = protein * 4 + carbs * 4 + fat * 9
    form = layout["numbers_form"]
    if form.startswith("{B} you get") and not before.startswith("Per"):
        form = form.replace("{B} you get about {k} calories", "You get about {k} calories {b}")
    told = {"{k}": kcal, "{p}": protein, "{c}": carbs, "{f}": fat}
    values = dict(zip(told, zip(NAMES, told.values(), strict=True), strict=True))
    forms = (
        ["{k} kcal {b}", "{B}: P {p} g, C {c} g, F {f} g"]
        if "split" in layout["numbers_place"]
        else [form]
    )
    known.numbers = {(*values[key], basis) for key in values if any(key in each for each in forms)}
    parts = []
    if layout["variant"] and layout["groups"] and basis == "serving":
        forms[-1] += f"\n{layout['variant']}".replace("{g}", known.group)
    for each in forms:
        text = (
            each.replace("{B}", before).replace("{b}", behind).replace("{n}", str(known.servings))
        )
        text = text.replace("{j}", str(round(kcal * 4.184))).replace("{v}", str(round(kcal * 0.8)))
        for key, value in told.items():
            text = text.replace(key, str(value))
        parts.append(
            [("row" if line.startswith("|") else "number", line) for line in text.split("\n")]
        )
    return parts


def item_text(amount: str, food: str, form: str) -> str:
    """An ingredient with its amount in the form of the layout."""
    if not amount:
        return food
    if form == "{a} of {x}" and not re.search(r"[a-z]$", amount):
        form = "{a} {x}"
    if form == "{x} x {a}" and not amount.isdigit():
        form = "{x} {a}"
    text = form.replace("{a}", amount).replace("{x}", food)
    return text.replace("{X}", food.capitalize())


def inline_list(texts: list[str], how: str, width: int) -> list[str]:
    """Several ingredients in a line or in few lines."""
    if how == "sentence":
        return [f"You need {', '.join(texts[:-1])} and {texts[-1]}."]
    if how == 'commas and "and"':
        return [f"{', '.join(texts[:-1])} and {texts[-1]}"]
    if how == "sentence wrapped":
        return textwrap.wrap(f"For this you want {', '.join(texts[:-1])} and {texts[-1]}.", width)
    if how in ("lines of three", "lines of two"):
        step = 3 if how == "lines of three" else 2
        return [", ".join(texts[at : at + step]) for at in range(0, len(texts), step)]
    if how == "commas at line begins":
        return [texts[0], *(f", {text}" for text in texts[1:])]
    if how == "pluses at line ends":
        return [*(f"{text} +" for text in texts[:-1]), texts[-1]]
    if how == "numbered inline":
        return [" ".join(f"{at}) {text}" for at, text in enumerate(texts, 1))]
    if how == "checks inline":
        return [" ".join(f"✅ {text}" for text in texts)]
    if how == "inline hyphens":
        return [" ".join(f"-{text}" for text in texts)]
    if how == "ends with commas":
        return [f"{text}," for text in texts[:-1]] + texts[-1:]
    if how == "paragraph wrapped":
        return textwrap.wrap(", ".join(texts) + ".", width)
    if how == "bullets in one line":
        return ["• " + " • ".join(texts)]
    between = {
        "commas": ", ",
        "head and commas in one line": ", ",
        "semicolons": "; ",
        "slashes": " / ",
        "plus signs": " + ",
        "bars": " | ",
        "middle dots": " · ",
        "dashes": " - ",
        "behind the title": ", ",
        "ands": " and ",
    }
    return [between[how].join(texts)]


TEXTS = (
    "txt",
    "md",
    "chat",
    "chat lines",
    "eml",
    "eml quoted",
)  # kinds of files that are broken to a width
ROWS = (
    "one a line",
    "one a line, blank between",
    "table",
    "two columns",
    "table with head",
    "three columns",
    "beside method",
)
#: Forms of a line that no list in one line can have.
ALONE = (
    "{x}, {a}", "{x}\t{a}", "{a}\t{x}", "{x} / {a}", "{x} - {a}", "{x} – {a}", "{a} – {x}", "{a}, {x}",
    "{x}, about {a}", "{a} {x};", "{a} {x}.", "{x} | {a}", "{a} | {x}", "{x} × {a}", "{x} -> {a}",
)  # fmt: skip


def list_part(known: Known, layout: dict[str, Any]) -> list[Line]:
    """Ingredients with the heads of their groups; fills `known.lines`."""
    how, form = layout["list_layout"], layout["line_form"]
    width = 48 if layout["container"] in TEXTS else 10_000
    apart = how in ROWS
    flat = not apart and how != "ends with commas"
    if flat and form in ALONE:
        form = "{a} {x}"
    texts = []
    for amount, food, note in known.rows:
        text = item_text(amount, food, form)
        texts.append(
            f"{text}, {note}" if note and not flat and form in ("{a} {x}", "**{a}** {x}") else text
        )
    known.lines = list(texts)
    bare = len(known.rows) - sum(1 for row in known.rows if row[0])
    cut = len(texts) - known.grouped - bare if layout["groups"] else len(texts)
    out: list[Line] = []
    for group, at in ((False, slice(0, cut)), (True, slice(cut, None))):
        part = texts[at]
        if not part:
            continue
        inline = "_inline_" in layout["groups"]
        if group:
            head = layout["groups"].replace("_inline_", "").strip()
            head = head.replace("{GG}", known.group.upper()).replace(
                "{G}", known.group.capitalize()
            )
            head = head.replace("{g}", known.group)
            if inline:
                out.append(("item", f"{head.removesuffix(':')}: {', '.join(part)}"))
                continue
            out.append(("group", head))
        rows = known.rows[at]
        if how in ("table", "table with head"):
            if how == "table with head" and not group:
                out.append(("row", "| Ingredient | Amount |"))
            out += [("row", f"| {food} | {amount} |") for amount, food, _ in rows]
        elif how in ("two columns", "three columns"):
            columns = 2 if how == "two columns" else 3
            tall = -(-len(part) // columns)
            width = max(len(text) for text in part) + 6
            out += [
                ("pre", "".join(f"{text:{width}}" for text in part[row::tall]).rstrip())
                for row in range(tall)
            ]
        elif apart or how == "ends with commas":
            for number, text in enumerate(part, 1 if not group else cut + 1):
                out.append(
                    (
                        "item",
                        mark(layout["line_mark"], number)
                        + text
                        + ("," if how == "ends with commas" and text != texts[-1] else ""),
                    )
                )
        else:
            out += [
                ("item", text)
                for text in inline_list(part, how if len(part) > 1 else "commas", width)
            ]
    if how in ("table", "table with head"):
        known.lines = [f"{amount} {food}" for amount, food, _ in known.rows]
    return out


def mark(text: str, number: int) -> str:
    """A bullet or a number."""
    return text.replace("{i}", str(number)).replace(
        "{a}", "abcdefghij"[number - 1] if number < 11 else "x"
    )


def method_part(known: Known, layout: dict[str, Any]) -> tuple[str, list[Line]]:
    """The head of the method and its steps."""
    form, steps = layout["method_form"], list(known.steps)
    if layout["step_amounts"]:
        amount, food, _ = known.rows[0]
        steps.insert(1, layout["step_amounts"].replace("{a}", amount).replace("{x}", food))
    head = layout["method_head"]
    if form == "paragraph":
        lines = [" ".join(steps)]
    elif form in ("lines", "paragraphs"):
        lines = [
            line for step in steps for line in ([step, ""] if form == "paragraphs" else [step])
        ]
    elif form.startswith("inline ") and "{i}" in form:
        lines = [" ".join(mark(form[7:], at) + step for at, step in enumerate(steps, 1))]
    elif form == "arrows":
        lines = [" → ".join(step.rstrip(".") for step in steps)]
    elif form == "semicolons":
        lines = ["; ".join(step.rstrip(".") for step in steps) + "."]
    elif form == "no stops":
        lines = [step.rstrip(".") for step in steps]
    elif form == "then":
        lines = [f"{word} {step[0].lower()}{step[1:]}" for word, step in zip(
            ("First", *["Then"] * len(steps)), steps, strict=False)]  # fmt: skip
    elif form == "words":
        words = ("One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten")
        lines = [f"{word}: {step}" for word, step in zip(words, steps, strict=False)]
    elif form.startswith("inline - "):
        lines = [" ".join(f"- {step}" for step in steps)]
    elif form == "inline after head":
        lines, head = (
            [
                (head.rstrip(":") + ": " if head.isalpha() or head.endswith(":") else "")
                + " ".join(steps)
            ],
            "",
        )
    else:
        lines = [
            line for at, step in enumerate(steps, 1) for line in (mark(form, at) + step).split("\n")
        ]
    return head, [("step", line) if line else ("blank", "") for line in lines]


def title_lines(known: Known, layout: dict[str, Any], number: int, behind: str) -> list[Line]:
    """The title as it is marked, with what stands beside it."""
    form, title = layout["title_mark"], known.title + behind
    text = form.replace("{T}", title.upper()).replace("{l}", title.lower()).replace("{t}", title)
    text = (
        text.replace("{i}", str(number))
        .replace("{=}", "=" * len(title))
        .replace("{-}", "-" * len(title))
    )
    known.title = known.title + (
        " (v2)" if "(v2)" in form else " – Nell's way" if "Nell's way" in form else ""
    )
    known.printed = form.replace("{l}", "{t}").replace("{T}", "{t}").replace("{t}", known.title)
    first, *rest = text.split("\n")
    return [("title", first), *(("under", line) for line in rest)]


def servings_text(known: Known, layout: dict[str, Any]) -> str:
    """The servings in the words of the layout."""
    word = WORDS[known.servings]
    if "{m}" in layout["numbers_basis"][1]:
        return f"Makes {known.servings * known.many} {known.thing}"
    text = str(layout["servings_phrase"]).replace("{n}", str(known.servings)).replace("{w}", word)
    text = text.replace("{W}", word.capitalize())
    if known.servings > 1:
        return text
    return re.sub(
        r"(?<=1 )people|(?<=one )hungry people",
        "person",
        re.sub(r"(?<=1 |e )(serving|portion|helping|bowl|boxe|plate|lunche)s", r"\1", text),
    )


def prose_part(known: Known) -> list[Line]:
    """Sentences that tell what to do with each ingredient; fills `known.lines`."""
    known.rows = [row for row in known.rows if row[0]]
    left = [item_text(amount, food, "{a} {x}") for amount, food, _ in known.rows]
    known.lines = list(left)
    told = []
    for form in known.prose * len(left):
        if 0 < form.count("{") <= len(left):
            told.append(form.format(*left))
            left = left[form.count("{") :]
    return [("step", " ".join(told))]


#: Kinds of files whose lines keep the places of their words.
PRINTED = ("txt", "eml", "html pre", "txt bom", "eml signed")


def beside_method(items: list[Line], method: list[Line]) -> list[Line]:
    """A printed card: the list on the left, the method on the right of it."""
    left = [text for _, text in items]
    right = [row for role, text in method if role != "section" for row in textwrap.wrap(text, 44)]
    width = max(map(len, left)) + 5
    rows = max(len(left), len(right))
    return [
        ("pre", f"{''.join(left[at : at + 1]):{width}}{''.join(right[at : at + 1])}".rstrip())
        for at in range(rows)
    ]


def print_recipe(known: Known, layout: dict[str, Any], number: int) -> list[Line]:
    """The lines of a recipe, each with its role."""
    says, place = servings_text(known, layout), layout["servings_place"]
    noise = [("noise", line) for line in layout["head_noise"].split("\n") if line]
    foot = [("note", line) for line in layout["foot_noise"].split("\n") if line]
    parts = number_parts(known, layout)
    number_lines = [line for part in parts for line in part]
    where = layout["numbers_place"].removeprefix("split between ").split(" and ")
    if len(parts) == 2:
        where = ["beside title in brackets" if where[0] == "title" else "after list", where[1]]
    at: dict[str, list[Line]] = defaultdict(list)
    for part, spot in zip(parts, where, strict=True):
        flat = len(part) > 1 or part[0][0] == "row"
        spot = (
            "under title"
            if flat
            and spot
            in (
                "beside title in brackets",
                "beside title after bar",
                "with servings",
                "end of method",
                "as a tip",
                "in list head",
            )
            else spot
        )
        at[spot] += part
    beside = ""
    if at["beside title in brackets"]:
        beside += f" ({at['beside title in brackets'][0][1].rstrip('.')})"
    if at["beside title after bar"]:
        beside += f" | {at['beside title after bar'][0][1]}"
    sized = {
        "beside title in brackets": f" ({says})",
        "beside title after dash": f" – {says}",
        "beside title after comma": f", {says}",
    }
    beside = sized.get(place, "") + beside
    list_head = layout["list_head"]
    prose = layout["list_layout"].startswith("prose")
    items = prose_part(known) if prose else list_part(known, layout)
    if prose and layout["list_layout"] == "prose":
        place, list_head = ("under title" if place == "list head" else place), ""
    if at["in list head"]:
        if len(at["in list head"]) == 1 and list_head and place != "list head":
            told = at.pop("in list head")[0][1].rstrip(".")
            list_head = f"{list_head.rstrip(':*— ')} ({told})" + ":" * list_head.endswith(":")
        else:
            at["under title"] += at.pop("in list head")
    if (
        at["amid list"]
        and len(items) > 2
        and layout["list_layout"] in (*ROWS[:2], "ends with commas")
    ):
        items[2:2] = at.pop("amid list")
    if layout["list_layout"] == "behind the title" and items and items[0][0] == "item":
        list_head = ""
    if place == "list head":
        bare = list_head.rstrip(":").rstrip("*—- ").strip() if list_head else "Ingredients"
        list_head = f"{bare} ({says}):" if list_head.endswith(":") else f"{bare} ({says})"
        list_head += "**" if bare.startswith("**") else "*" if bare.startswith("*") else ""
    if layout["list_layout"] == "head and commas in one line" and items[0][0] == "item":
        bare = list_head.rstrip(":") or "Ingredients"
        if not re.search(r"[*#—]", bare):
            items[0] = ("item", f"{bare}: {items[0][1]}")
            list_head = ""
    if layout["list_layout"] == "sentence":
        list_head = list_head if place == "list head" else ""
    fact: list[Line] = [("fact", says)]
    if place.startswith("with times"):
        fact = [
            (
                "fact",
                f"{says} | 35 minutes"
                if place == "with times"
                else f"Prep 10 min | Cook 20 min | {says}",
            )
        ]
        noise = [] if "min" in layout["head_noise"] or "'" in layout["head_noise"] else noise
    elif place == "with date":
        fact = [("fact", f"12.03.2024, {says}")]
    elif place == "in sentence":
        fact = [
            (
                "fact",
                f"A quick one for busy days: {says[0].lower() + says[1:].rstrip('.')}, and hardly any washing up.",
            )
        ]
    elif place == "in intro":
        fact = [("fact", "We cook this one most weeks and "
                f"{says[0].lower() + says[1:].rstrip('.')} is what I write on the box. It never fails.")]  # fmt: skip
    if at["with servings"]:
        if (
            place in ("with numbers", "before numbers")
            or place.startswith("beside")
            or place == "list head"
        ):
            at["under title"] += at["with servings"]
        else:
            fact = [("fact", f"{fact[0][1].rstrip('.')} | {at['with servings'][0][1]}")]
    if place in ("with numbers", "before numbers"):
        spot = next((name for name in at if at[name]), "beside title")
        if spot.startswith("beside"):
            at["under title"] += fact
        elif place == "with numbers" and len(at[spot]) == 1 and at[spot][0][0] == "number":
            at[spot] = [("number", f"{says.rstrip('.')}. {at[spot][0][1]}")]
        else:
            at[spot] = [*fact, *at[spot]]
    early = place in (
        "under title", "with times", "with times behind", "with date", "in sentence", "in intro"
    )  # fmt: skip
    head, steps = method_part(known, layout)
    if at["after first step"]:
        steps[1:1] = at.pop("after first step")
    if at["end of method"]:
        steps[-1] = ("step", f"{steps[-1][1] or steps[-2][1]} {at['end of method'][0][1]}")
    if at["as a tip"]:
        foot = [*foot, ("note", f"Note: {at['as a tip'][0][1]}")]
    method: list[Line] = [("section", "")] + ([("head", head)] if head else []) + steps
    if layout["list_layout"] == "beside method" and layout["container"] in PRINTED:
        items, method = beside_method(items, method), []
    if layout["method_place"] == "none" and not any(
        line in steps for line in at["end of method"] + number_lines
    ):
        method = []
    out: list[Line] = [
        *at["above title"],
        *(fact if place == "above title" else []),
        *title_lines(known, layout, number, beside),
        *(fact if early else []),
        *at["under title"],
        *noise,
    ]
    if layout["method_place"] == "before list":
        out += method
    out += [
        ("section", ""),
        *(fact if place == "before list" else []),
        *at["before list"],
        *([("head", list_head)] if list_head else []),
        *at["under list head"],
        *items,
        *at["amid list"],
        *(fact if place == "after list" else []),
    ]
    if at["after list"]:
        out += [("section", ""), *at["after list"]]
    method_late = layout["method_place"] not in ("before list",)
    after_notes = layout["method_place"] == "after notes"
    numbers = [("section", ""), *at["foot"]] if at["foot"] else []
    if layout["method_place"] == "after numbers":
        out += [*numbers, *method]
        numbers = []
    elif method_late and not after_notes:
        out += method
    if at["after method"]:
        out += [("section", ""), *at["after method"]]
    if place == "after method":
        out += [("section", ""), *fact]
    if place == "foot":
        out += [("section", ""), *fact]
    out += [*numbers]
    if foot:
        out += [("section", ""), *foot]
    if after_notes:
        out += method
    if at["after notes"]:
        out += [("section", ""), *at["after notes"]]
    return out


# --- files ---------------------------------------------------------------------------------------

DAYS = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]


def print_file(recipes: list[Known], layouts: list[dict[str, Any]]) -> list[Line]:
    """All lines of a file."""
    layout = layouts[0]
    printed = [
        print_recipe(known, each, at)
        for at, (known, each) in enumerate(zip(recipes, layouts, strict=True), 1)
    ]
    out: list[Line] = []
    if layout["file_head"].startswith("contents") and len(recipes) > 1:
        out.append(
            ("filehead", "Contents" if "pages" not in layout["file_head"] else "In this book")
        )
        for at, known in enumerate(recipes, 1):
            extra = {
                "contents with pages": f" {'.' * 8} {at + 2}",
                "contents numbered": "",
                "contents with calories": f" – {sum(v * m for v, m in zip(known.macros, (4, 4, 9), strict=True))} kcal",
            }
            text = f"{known.title}{extra.get(layout['file_head'], '')}"
            out.append(("entry", f"{at}. {text}" if "numbered" in layout["file_head"] else text))
        out.append(("section", ""))
    elif not layout["file_head"].startswith("contents") and layout["file_head"]:
        out += [
            ("filehead", line) if line else ("section", "")
            for line in layout["file_head"].split("\n")
        ]
        out.append(("section", ""))
    for at, lines in enumerate(printed, 1):
        parting = layout["parting"]
        told = {
            "date": f"{at + 3}/03/2024",
            "weekday": DAYS[at % 7],
            "blank": "",
            "three blanks": "",
        }.get(parting, parting.replace("{i}", str(at)))
        if told and (at > 1 or re.search(r"\w", told)):
            out += [("gap", ""), ("part", told), ("gap", "")]
        elif at > 1:
            out += [("gap", "")] * (3 if parting == "three blanks" else 1)
        out += [("chapter", ""), *lines]
    if layout["file_foot"]:
        out += [("gap", ""), *(("noise", line) for line in layout["file_foot"].split("\n"))]
    return out


def spaced(lines: list[Line], layout: dict[str, Any]) -> list[Line]:
    """With blank lines where the layout has them."""
    how = layout["spacing"]
    out: list[Line] = []
    for at, (role, text) in enumerate(lines):
        if role == "gap":
            out.append(("blank", ""))
            continue
        if role == "chapter":
            if layout["container"] == "epub chapters":
                out.append((role, text))
            continue
        if role == "section":
            nearby = [line[0] for line in lines[at + 1 : at + 3]]
            if (
                how in ("sections", "two", "after heads", "every line")
                or (how == "lists apart" and {"head", "item", "number"} & set(nearby[:1]))
                or (how == "method apart" and "step" in nearby)
            ):
                out += [("blank", "")] * (2 if how == "two" else 1)
            elif how == "list only" and lines[at + 1][0] in ("head", "item", "row", "pre"):
                out.append(("blank", ""))
            continue
        if how == "before heads" and role in ("head", "group"):
            out.append(("blank", ""))
        out.append((role, text))
        parted = (
            (how == "every line" and role not in ("row", "pre", "blank"))
            or (how == "title only" and role == "title")
            or (how == "after heads" and role == "head")
            or (layout["list_layout"].endswith("blank between") and role == "item")
        )
        if parted and at + 1 < len(lines) and lines[at + 1][0] != "under":
            out.append(("blank", ""))
    flat: list[Line] = []
    for line in out:
        if (
            line[0] == "blank"
            and how not in ("two",)
            and layout["parting"] != "three blanks"
            and flat
            and flat[-1][0] == "blank"
        ):
            continue
        flat.append(line)
    return flat


def cells(text: str) -> list[str]:
    """The cells of a row."""
    return [cell.strip() for cell in text.strip().removeprefix("|").removesuffix("|").split("|")]


def as_text(lines: list[Line], layout: dict[str, Any], markdown: bool) -> str:
    """Lines of plain text or Markdown."""
    out: list[str] = []
    before = ""
    for role, text in lines:
        if role == "row":
            row = cells(text)
            if markdown:
                out.append("| " + " | ".join(row) + " |")
                if before != "row":
                    out.append("|" + "---|" * len(row))
            else:
                out.append(
                    "\t".join(row)
                    if layout["line_mark"] in ("", "\t")
                    else "   ".join(f"{c:16}" for c in row).rstrip()
                )
        else:
            out += wrapped(text, role, layout["wrap"])
        before = role
    text = "\n".join(out) + "\n"
    if layout["wrap"] == "trailing blanks":
        text = text.replace("\n", "  \n")
    return text.replace("\n", "\r\n") if layout["wrap"] == "CRLF" else text


def wrapped(text: str, role: str, how: str) -> list[str]:
    """A line broken where the layout breaks lines."""
    if (
        how in ("indented", "tab first")
        and text
        and role not in ("title", "under", "part", "filehead")
    ):
        return [("  " if how == "indented" else "\t") + text]
    width = re.match(r"at (\d+)", how)
    if width is None or role in ("pre", "title", "under") or len(text) <= int(width[1]):
        return [text]
    return textwrap.wrap(text, int(width[1]), subsequent_indent="  " if "hanging" in how else "")


def plain(text: str) -> str:
    """Without the marks of Markdown, for files that mark by other means."""
    text = re.sub(r"\*\*|__", "", text)
    return re.sub(r"^#+ |^\*(?=\S)|(?<=\S)\*$|^_|_$", "", text)


def as_html(lines: list[Line], how: str) -> str:
    """A page without schema.org."""
    out: list[str] = []
    inside = ""  # the element that is open around rows or entries

    def close() -> None:
        nonlocal inside
        if inside:
            out.append(f"</{inside}>")
        inside = ""

    for role, line in lines:
        text = html.escape(plain(line))
        if how == "html breaks" and role not in ("row", "title"):
            close()
            joins = out and out[-1].endswith("</p>") and not out[-1].endswith("<p></p>")
            if role == "blank":
                out.append("<p></p>")
            elif joins:
                out[-1] = f"{out[-1][:-4]}<br>{text}</p>"
            elif role != "under":
                out.append(f"<p>{text}</p>")
            continue
        if role == "blank" or role == "under":
            if how == "html br":
                out.append("<br>")
            continue
        wanted = {
            "row": "table",
            "item": "ul" if how in ("html semantic", "html article", "docx") else "",
        }.get(role, "")
        wanted = (
            {
                "html list": "ul",
                "html table": "table",
                "html dl": "dl",
                "html section": "section",
            }.get(how, wanted)
            if role not in ("row", "title")
            else wanted
        )
        if role == "row":
            wanted = "table"
        if how == "html pre":
            wanted = ""
        if wanted != inside:
            close()
            if wanted:
                out.append(f"<{wanted}>")
                inside = wanted
        if how == "html pre":
            out.append(html.escape(plain(line)).replace("|", "\t"))
        elif role == "row":
            out.append(
                "<tr>" + "".join(f"<td>{html.escape(cell)}</td>" for cell in cells(line)) + "</tr>"
            )
        else:
            out.append(element(role, text, how, inside))
    close()
    body = "\n".join(out)
    body = (
        f"<pre>{body}</pre>"
        if how == "html pre"
        else f"<article>{body}</article>"
        if how == "html article"
        else body
    )
    head = "<!doctype html><html><head><meta charset='utf-8'><title>Nell's kitchen</title></head>"
    return f"{head}<body>\n{body}\n</body></html>"


def element(role: str, text: str, how: str, inside: str) -> str:
    """One line as the element that such a page has for it."""
    heads = role in ("title", "filehead")
    if how == "html headings":
        tag = {"title": "h1", "head": "h2", "group": "h2", "item": "h4"}.get(role, "p")
        return f"<{tag}>{text}</{tag}>"
    if how == "html br":
        return f"<b>{text}</b><br>" if heads else f"{text}<br>"
    if how == "html spans":
        return (
            "<div>"
            + "".join(f"<span>{part} </span>" for part in re.split(r"(?<=\d) ", text))
            + "</div>"
        )
    if how == "html bold":
        return (
            f"<p><strong>{text}</strong></p>"
            if role in ("title", "head", "group")
            else f"<p>{text}</p>"
        )
    if inside == "table":
        return f"<tr><td>{text}</td></tr>"
    if inside == "dl":
        return f"<dt>{text}</dt>" if role in ("head", "group") else f"<dd>{text}</dd>"
    if inside == "ul":
        return f"<li>{text}</li>"
    if how in ("html div", "html p"):
        tag = how.split()[1]
        return f"<{tag}>{text}</{tag}>"
    tag = {"title": "h2", "filehead": "h1", "head": "h3", "group": "h4"}.get(role, "p")
    return f"<{tag}>{text}</{tag}>"


def write_file(lines: list[Line], layout: dict[str, Any], name: str, folder: Path) -> None:
    """The lines as a file of the layout's kind."""
    how = layout["container"]
    if how == "txt bom":
        text = "\ufeff" + as_text(lines, layout, False)
        (folder / f"{name}.txt").write_text(text, encoding="utf-8", newline="")
    elif how == "rtf":
        write_rtf(as_text(lines, layout, False), folder / f"{name}.rtf")
    elif how in ("txt", "md"):
        text = as_text(lines, layout, how == "md")
        (folder / f"{name}.{how}").write_text(text, encoding="utf-8", newline="")
    elif how.startswith("html"):
        (folder / f"{name}.html").write_text(as_html(lines, how), encoding="utf-8")
    elif how.startswith("eml"):
        text = as_text(lines, layout, False)
        subject = "as promised"
        if how == "eml subject" and sum(role == "title" for role, _ in lines) == 1:
            subject = next(text for role, text in lines if role == "title")
            rest = [line for line in lines if line[0] not in ("title", "under")]
            text = as_text([("noise", "Hi Ana,"), ("blank", ""), *rest], layout, False)
        if how == "eml signed":
            end = "Love\nNell\n\n-- \nNell Harrow | +44 20 7946 0000\n"
            text = f"Hi Ana,\n\nyou asked for it, so here it is.\n\n{text}\n{end}"
        if how == "eml forwarded":
            text = (
                "Look what I found.\n\n---------- Forwarded message ---------\nFrom: Nell <nell@example.org>\n"
                f"Date: Fri, 3 May 2024 at 10:00\nSubject: dinners\nTo: Jo <jo@example.org>\n\n\n{text}"
            )
        if how == "eml quoted":
            text = "Thanks, saved!\n\nOn 3 May 2024 Nell wrote:\n" + "".join(
                f"> {line}\n" for line in text.splitlines()
            )
        kind, body = ("html", as_html(lines, "html div")) if how == "eml html" else ("plain", text)
        head = (
            f"From: Nell <nell@example.org>\nTo: ana@example.org\nSubject: {subject}\n"
            "Date: Fri, 3 May 2024 10:00:00 +0000\n"
            f"MIME-Version: 1.0\nContent-Type: text/{kind}; charset=utf-8\nContent-Transfer-Encoding: 8bit\n\n"
        )
        (folder / f"{name}.eml").write_text(head + body.replace("\r\n", "\n"), encoding="utf-8")
    elif how.startswith("chat"):
        (folder / f"{name}.txt").write_text(as_chat(lines, layout), encoding="utf-8", newline="")
    elif how.startswith("docx"):
        write_docx(lines, folder / f"{name}.docx", bold=how == "docx bold")
    else:
        write_epub(lines, folder / f"{name}.epub")


def as_chat(lines: list[Line], layout: dict[str, Any]) -> str:
    """An exported chat: a message a recipe, or a message a block."""
    out, begins = [], True
    for line in as_text(lines, layout, False).splitlines():
        if not line.strip():
            begins = begins or layout["container"] == "chat lines"
            out += [] if layout["container"] == "chat lines" else [""]
            continue
        if begins:
            out.append(f"[12/03/2024, 18:{len(out) % 60:02}:07] Nell: {line}")
        else:
            out.append(line)
        begins = False
    return "\n".join(out) + "\n"


def write_rtf(text: str, path: Path) -> None:
    """Lines as paragraphs of rich text."""
    escaped = re.sub(r"[\\{}]", lambda m: "\\" + m[0], text)
    body = "".join(
        c if c < "\x80" else "".join(
            f"\\u{int.from_bytes(unit, 'little', signed=True)}?"
            for unit in (c.encode("utf-16-le")[at : at + 2] for at in range(0, len(c.encode("utf-16-le")), 2))
        )
        for c in escaped.replace("\r", "").replace("\n", "\\par\n").replace("\t", "\\tab ")
    )  # fmt: skip
    path.write_text(
        "{\\rtf1\\ansi\\deff0{\\fonttbl{\\f0 Times;}}\n\\f0 " + body + "}", encoding="ascii"
    )


def write_docx(lines: list[Line], path: Path, *, bold: bool = False) -> None:
    """A Word document with headings and list paragraphs."""
    space = 'xmlns:w="http://schemas.openxmlformats.org/wordprocessingml/2006/main"'
    body, rows = [], []

    def paragraph(text: str, style: str = "") -> str:
        strong = "<w:rPr><w:b/></w:rPr>" if style and bold else ""
        style = "" if bold else style
        return (
            f"<w:p><w:pPr>{f'<w:pStyle w:val={style!r}/>' if style else ''}</w:pPr>"
            f'<w:r>{strong}<w:t xml:space="preserve">{html.escape(text)}</w:t></w:r></w:p>'
        )

    for role, text in [*lines, ("end", "")]:
        if role == "row":
            rows.append(
                "<w:tr>"
                + "".join(f"<w:tc>{paragraph(cell)}</w:tc>" for cell in cells(text))
                + "</w:tr>"
            )
            continue
        if rows:
            body.append(f"<w:tbl>{''.join(rows)}</w:tbl>")
            rows = []
        if role not in ("under", "end"):
            body.append(
                paragraph(plain(text), {"title": "Heading1", "head": "Heading2"}.get(role, ""))
            )
    document = f"<w:document {space}><w:body>{''.join(body)}</w:body></w:document>"
    types = (
        '<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
        '<Default Extension="xml" ContentType="application/xml"/><Default Extension="rels" ContentType="application/'
        'vnd.openxmlformats-package.relationships+xml"/>'
        '<Override PartName="/word/document.xml" ContentType="application/'
        'vnd.openxmlformats-officedocument.wordprocessingml.document.main+xml"/></Types>'
    )
    rels = (
        '<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
        '<Relationship Id="r1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument"'
        ' Target="word/document.xml"/></Relationships>'
    )
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("[Content_Types].xml", types)
        archive.writestr("_rels/.rels", rels)
        archive.writestr("word/document.xml", document)


def write_epub(lines: list[Line], path: Path) -> None:
    """An e-book of one chapter, or of a chapter a recipe."""
    chapters: list[list[Line]] = [[]]
    for line in lines:
        if line[0] == "chapter" and any(text for _, text in chapters[-1]):
            chapters.append([])
        chapters[-1] += [line] * (line[0] != "chapter")
    pages = [
        as_html(chapter, "html semantic")
        .replace("<!doctype html><html>", '<html xmlns="http://www.w3.org/1999/xhtml">')
        .replace("<meta charset='utf-8'>", "").replace("<br>", "<br/>")
        for chapter in chapters
    ]  # fmt: skip
    items = "".join(
        f'<item id="c{at}" href="c{at}.xhtml" media-type="application/xhtml+xml"/>' for at in range(len(pages))
    )  # fmt: skip
    spine = "".join(f'<itemref idref="c{at}"/>' for at in range(len(pages)))
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("mimetype", "application/epub+zip")
        archive.writestr(
            "META-INF/container.xml",
            '<?xml version="1.0"?><container version="1.0" xmlns="urn:oasis:names:tc:'
            'opendocument:xmlns:container"><rootfiles><rootfile full-path="c.opf" media-type="application/'
            'oebps-package+xml"/></rootfiles></container>',
        )
        archive.writestr(
            "c.opf",
            '<?xml version="1.0"?><package xmlns="http://www.idpf.org/2007/opf" version="3.0" '
            'unique-identifier="u"><metadata xmlns:dc="http://purl.org/dc/elements/1.1/"><dc:title>Nell cooks'
            '</dc:title><dc:identifier id="u">nell</dc:identifier><dc:language>en</dc:language></metadata>'
            f"<manifest>{items}</manifest><spine>{spine}</spine></package>",
        )
        for at, page in enumerate(pages):
            archive.writestr(f"c{at}.xhtml", f'<?xml version="1.0" encoding="utf-8"?>{page}')


@dataclass
class Made:
    """A file that was written: its recipes and the layout each was printed in."""

    name: str
    recipes: list[Known]
    layouts: list[dict[str, Any]]


def make_file(seed: str, values: dict[str, list[Any]], name: str, folder: Path) -> Made:
    """Draw and write one file."""
    random = Random(seed)
    layout = draw_layout(random, values)
    titles = random.sample(DISHES["titles"], random.choice([1, 1, 2, 3, 4, 6]))
    recipes = [draw_recipe(random, title) for title in titles]
    if layout["base"]:
        for known in recipes[1:]:
            if layout["base"].endswith("{x}"):
                known.rows.insert(0, (layout["base"][:-4].strip(), titles[0], ""))
            else:
                known.rows.insert(0, ("", layout["base"].replace("{x}", titles[0]), ""))
    layouts = []
    for _ in recipes:
        own = dict(layout)
        if random.random() < DRIFT:
            choice = random.choice(
                [
                    name
                    for name in values
                    if name
                    not in (
                        "container",
                        "parting",
                        "file_head",
                        "file_foot",
                        "wrap",
                        "spacing",
                        "base",
                    )
                ]
            )
            own[choice] = random.choice(values[choice])
        layouts.append(own)
    write_file(spaced(print_file(recipes, layouts), layout), layout, name, folder)
    return Made(name, recipes, layouts)


# --- counting -------------------------------------------------------------------------------------


def words_of(text: str) -> tuple[str, ...]:
    """The words and numbers of a text, in any order."""
    text = re.sub(r"(\d)([a-zA-Z])", r"\1 \2", re.sub(r"[*_]", " ", text.lower()))
    return tuple(sorted(re.findall(r"[^\W_]+|[½¼¾]", text)))


@dataclass
class Counts:
    """What was found of recipes, lines, servings and numbers."""

    of: Counter[str] = field(default_factory=Counter)
    right: Counter[str] = field(default_factory=Counter)
    wrong: Counter[str] = field(default_factory=Counter)

    def add(self, other: "Counts") -> None:
        self.of.update(other.of)
        self.right.update(other.right)
        self.wrong.update(other.wrong)

    def row(self) -> str:
        parts = []
        for kind in ("recipe", "title", "line", "servings", "number"):
            wrong = f" (+{self.wrong[kind]})" if self.wrong[kind] else ""
            share = self.right[kind] / max(1, self.of[kind])
            parts.append(f"{kind} {self.right[kind]}/{self.of[kind]}{wrong} {share:.1%}")
        return "  ".join(parts)

    def share(self) -> float:
        kinds = ("recipe", "line", "servings", "number")
        return sum(self.right[kind] / max(1, self.of[kind]) for kind in kinds) / len(kinds)


@dataclass
class Found:
    """A recipe that was read."""

    title: str
    servings: float
    lines: Counter[tuple[str, ...]]
    numbers: set[tuple[str, int, str]]
    told: list[str]


def read_folder(path: Path) -> dict[str, list[Found]]:
    """What the reader makes of the files of a folder, each by itself."""
    from pipeline.intake import read_collection
    from pipeline.lines import parse_many

    tags = {
        "ENERC_KCAL": "kcal",
        "PROCNT": "protein",
        "CHOCDF": "carbohydrate",
        "CHOAVLDF": "carbohydrate",
        "FAT": "fat",
    }
    out: dict[str, list[Found]] = {}
    for file in sorted(path.iterdir()):
        read = read_collection([file])
        of_file = out.setdefault(file.stem, [])
        for recipe in read.recipe.itertuples(index=False):
            texts = list(read.line[read.line["recipe_id"] == recipe.recipe_id]["text"])
            lines: Counter[tuple[str, ...]] = Counter()
            for text, parsed in zip(texts, parse_many(texts), strict=True):
                if parsed.kind != "food":
                    continue
                lines.update(words_of(part) for part in (parsed.parts or (text,)))
            stated = read.stated[read.stated["recipe_id"] == recipe.recipe_id]
            numbers = set()
            for tag, amount, basis in zip(
                stated["nutrient"], stated["amount"], stated["basis"], strict=True
            ):
                of_one = recipe.servings == 1 and basis == "per_recipe"
                if tag in tags:
                    said = "serving" if of_one else str(basis).removeprefix("per_")
                    numbers.add((tags[tag], round(amount), said))
            of_file.append(
                Found(str(recipe.title), float(str(recipe.servings)), lines, numbers, texts)
            )
    return out


def counted(known: Known, found: Found | None) -> Counts:
    """One recipe against what was read of it."""
    out = Counts()
    lines = Counter(words_of(line) for line in known.lines)
    numbers = {(n, v, "serving" if known.servings == 1 else b) for n, v, b in known.numbers}
    out.of.update(recipe=1, title=1, line=lines.total(), servings=1, number=len(numbers))
    if found is None:
        return out
    same = (lines & found.lines).total()
    printed = (known.title, known.printed, known.title.split(" – ")[0].split(" (")[0])
    titles = {words_of(re.sub(r"\{.\}", " ", title)) for title in printed}
    out.right.update(
        recipe=1,
        title=int(words_of(found.title) in titles),
        line=same,
        servings=int(found.servings == known.servings),
        number=len(numbers & found.numbers),
    )
    out.wrong.update(line=found.lines.total() - same, number=len(found.numbers - numbers))
    return out


def matched(made: Made, found: list[Found]) -> list[Found | None]:
    """For each recipe of a file the one read that holds most of its lines."""
    left = list(found)
    out: list[Found | None] = []
    for known in made.recipes:
        lines = Counter(words_of(line) for line in known.lines)

        alike = [
            (lines & one.lines).total() / lines.total()
            + 0.9 * (words_of(known.title) == words_of(one.title))
            for one in left
        ]
        best = left[alike.index(max(alike))] if alike and max(alike) >= 0.5 else None
        if best is not None:
            left.remove(best)
        out.append(best)
    return out


def measure(
    seed: str, count: int, held: bool, folder: Path
) -> tuple[Counts, dict[str, dict[str, Counts]], dict[str, Counts]]:
    """All recipes, by each value of each choice, and by file."""
    values = half(held)
    mades = [make_file(f"{seed}-{at}", values, f"f{at:04}", folder) for at in range(count)]
    found = read_folder(folder)
    total = Counts()
    by: dict[str, dict[str, Counts]] = defaultdict(lambda: defaultdict(Counts))
    files: dict[str, Counts] = {}
    for made in mades:
        pairs = matched(made, found[made.name])
        files[made.name] = Counts()
        extra = Counts(
            wrong=Counter(recipe=len(found[made.name]) - sum(each is not None for each in pairs))
        )
        for at, (known, each, layout) in enumerate(
            zip(made.recipes, pairs, made.layouts, strict=True)
        ):
            one = counted(known, each)
            if at == 0:
                one.add(extra)
            total.add(one)
            files[made.name].add(one)
            for choice, value in layout.items():
                by[choice][str(value)].add(one)
    return total, by, files


def main() -> None:
    """Print what is found of both halves, and of the development half by value."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--seed", default="a")
    parser.add_argument("--held", action="store_true", help="the half that is only counted")
    parser.add_argument("--values", action="store_true", help="by each value of each choice")
    parser.add_argument("--keep", type=Path, help="write the files here")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        folder = args.keep or Path(temporary)
        folder.mkdir(parents=True, exist_ok=True)
        total, by, _ = measure(args.seed, args.count, args.held, folder)
        print("held back" if args.held else "development", total.row())
        if args.values and not args.held:
            rows = [
                (counts.share(), choice, value, counts)
                for choice, each in by.items()
                for value, counts in each.items()
            ]
            for share, choice, value, counts in sorted(rows, key=lambda row: row[0]):
                print(
                    f"{share:.3f} {choice:16} {value[:40]!r:42} n={counts.of['recipe']:4} {counts.row()}"
                )


if __name__ == "__main__":
    main()
