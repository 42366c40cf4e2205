"""Texts made from invented recipes by a grammar of layouts, with their truth, to fit the text decoder.

A text has a manner (how titles are marked, where servings and numbers stand, how lists run, what is
said beside them), drawn at random and kept for all its recipes; it stands in a container (cards, a
chat, a mail, Markdown). Nothing of it is anybody's. Foods and amounts are those of
``benchmarks/data/lines_*.csv``.
"""

from __future__ import annotations

import csv
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

DATA = Path(__file__).parent / "data"
_DISHES = ("soup", "bake", "pie", "salad", "stew", "bowls", "curry", "traybake", "hash", "bars",
           "pasta", "pot", "wraps", "special", "supper", "no. 2", "surprise", "thing", "base")  # fmt: skip
_NAMES = ("Harbour", "Nana's", "Monday", "Big batch", "Leg day", "Lazy", "Green", "Sunday Red",
          "Maud's", "Winter", "The good", "Quick", "Emergency", "Blue door", "Second shift")  # fmt: skip
_HEADS = ("For the top", "Sauce", "To finish", "Topping", "Base", "From the fridge", "Marinade",
          "Meat part", "To serve", "Filling", "Dressing", "Veg")  # fmt: skip
_STEPS = (
    "Brown it well, don't be shy, then the rest goes in.", "Fry the onion slow, 15 min at least.",
    "Mix, press, bake 25 minutes at 180.", "Everything else and a mug of water. Simmer till thick.",
    "Layers, lid on, 170 for two hours, lid off for half an hour.", "Blend until smooth and eat cold.",
    "Rest 20 min, roll thin, dry frying pan.", "Stir, cover, leave it alone.",
)  # fmt: skip
_TALK = (
    "Cheap, filling, and tested on Ken.", "This one is my mother's and she never weighed a thing.",
    "Save this for later and send it to a friend!", "I had this every week at school.",
    "You can freeze it, I usually do.", "Two pans, one hour, done.", "ps the oven door is mended now",
    "See you Tuesday, half nine please.", "Sorry for the long mail, busy week.",
    "Swap whatever you have in the house.",
)  # fmt: skip
_NOTES = ("call the plumber", "pick up parcel friday", "boiler man 2pm weds", "gym 6 am tues/thurs",
          "ask Pat re. keys", "birthday cards x3", "average views: 4,100", "aprons!!")  # fmt: skip
_PEOPLE = ("Sam", "Maud K", "Coach Ali", "Tasha B", "Ken", "Jo from work")


@dataclass(slots=True)
class Made:
    """A text and what it holds, in the form of a truth file of ``folders.py``."""

    name: str
    text: str
    recipes: list[dict[str, Any]] = field(default_factory=list)


@dataclass(slots=True)
class _Manner:
    title: Callable[[str], str]
    served: str
    numbers: str
    where: str
    listed: str
    heads: Callable[[str], str] | None
    method: str
    gap: bool
    unit_word: str


def _lines() -> list[str]:
    out = []
    for path in sorted(DATA.glob("lines_*.csv")):
        with path.open(encoding="utf-8") as handle:
            out += [row["line"] for row in csv.DictReader(handle)]
    return [line for line in out if len(line) < 60 and any(c.isdigit() for c in line[:3])]


def _manner(rng: random.Random) -> _Manner:
    titles: list[Callable[[str], str]] = [
        str, str.title, str.upper, str.upper, lambda t: f"** {t} **", lambda t: f"=== {t} ===",
        lambda t: f"## {t}", lambda t: f"### {t}", lambda t: f"Recipe: {t}", lambda t: f"- {t} -",
        lambda t: t.capitalize() + ":", lambda t: f"BASE: {t}", lambda t: f"🍲 {t.title()}", str,
    ]  # fmt: skip
    return _Manner(
        rng.choice(titles),
        rng.choice(["title (", "title ,", "title -", "title for", "below", "below", "with talk",
                    "above list", "with numbers", "under list", "none"]),
        rng.choice(["long", "long", "short", "letters", "block", "sentence", "energy", "slashes"]),
        rng.choice(["below title", "end", "end", "end", "after list"]),
        rng.choice(["bullets", "plain", "plain", "indented", "stars", "arrows", "commas", "slashes",
                    "sentence", "food first"]),
        rng.choice([None, None, lambda h: f"{h}:", lambda h: f"**{h}**", str, str.upper,
                    lambda h: f"For the {h.lower().removeprefix('for the ')}"]),
        rng.choice(["none", "prose", "prose", "steps", "headed"]),
        rng.random() < 0.6,
        rng.choice(["serving", "portion", "bowl", "plate", "slice", "person", "bar"]),
    )  # fmt: skip


def _numbers(rng: random.Random, m: _Manner, stated: dict[str, float], servings: int) -> list[str]:
    k, p, c, f = (stated[x] for x in ("kcal", "protein_g", "carbs_g", "fat_g"))
    one = m.unit_word
    if m.served == "with numbers":
        lead = rng.choice(
            [f"Serves {servings}. ", f"{servings} {one}s, each ", f"Makes {servings}: "]
        )
        return [lead + rng.choice([f"{k} kcal, {p} g protein, {c} g carbs, {f} g fat",
                                   f"{k} kcal / {p}P / {c}C / {f}F"])]  # fmt: skip
    ways = {
        "long": [f"Per {one}: {k} kcal, protein {p} g, carbs {c} g, fat {f} g",
                 f"{k} calories, {p} g protein, {c} g carbs, {f} g fat per {one}",
                 f"Nutrition (per {one}): Calories {k} | Protein {p}g | Carbs {c}g | Fat {f}g"],
        "short": [f"{k} kcal, {p} protein, {c} carb, {f} fat", f"each {one} {k} cal, P{p} C{c} F{f}"],
        "letters": [f"per {one} {k} kcal P {p} C {c} F {f}", f"{k} cals {p}p {c}c {f}f"],
        "slashes": [f"{k} kcal / {p}P / {c}C / {f}F", f"{k} cal - {p}P / {c}C / {f}F a {one}"],
        "sentence": [f"Works out at {k} kcal a {one}, {p} g protein, {c} carbs and {f} fat.",
                     f"I make it {k} calories a {one} before bread ({p} protein, {c} carb, {f} fat).",
                     f"3 {one}s + half cup sauce: {k} cals. Protein {p}, carbs {c}, fat {f}."],
    }  # fmt: skip
    if m.numbers == "block":
        return [f"Per {one}", f"Energy {k} kcal", f"Protein {p} g", f"Carbs {c} g", f"Fat {f} g"]
    if m.numbers == "energy":
        for tag in ("protein_g", "carbs_g", "fat_g"):
            del stated[tag]
        return [rng.choice([f"{k} kcal each", f"{k} kcal per {one}", f"Each {one} is {k} calories.",
                            f"I make it {k} calories a {one}, roughly."])]  # fmt: skip
    return [rng.choice(ways[m.numbers])]


def _list(rng: random.Random, m: _Manner, parts: list[tuple[str, list[str]]]) -> list[str]:
    lines = [line for _, some in parts for line in some]
    if m.listed in ("commas", "slashes", "sentence"):
        joint = {
            "commas": ", ",
            "slashes": " / ",
            "sentence": rng.choice([", ", ", then ", " with "]),
        }[m.listed]
        lead = {
            "sentence": rng.choice(
                ["You need ", "Into the pan go ", "It takes ", "You want ", "Mix of "]
            )
        }
        text = joint.join(lines) + ("." if m.listed == "sentence" else "")
        return [lead.get(m.listed, rng.choice(["", "", "Ingredients: "])) + text]
    mark = {"bullets": "- ", "stars": "* ", "indented": "   ", "arrows": "➡️ "}.get(m.listed, "")
    out: list[str] = []
    for head, some in parts:
        if head and m.heads is not None:
            out += ([""] if out and m.gap else []) + [m.heads(head)]
        out += [mark + line for line in some]
    if rng.random() < 0.5:
        out.append(mark + rng.choice(["salt, pepper", "salt", "thyme, a splash of vinegar", "ice"]))
    return out


def _recipe(rng: random.Random, m: _Manner, pool: list[str]) -> tuple[list[str], dict[str, Any]]:
    lines = rng.sample(pool, rng.randint(3, 8))
    if m.listed in ("commas", "slashes", "sentence"):
        lines = [line.split(",")[0].split(" / ")[0].split(" (")[0] for line in lines]
    if m.listed == "food first":
        lines = [f"{' '.join(w[2:])} {' '.join(w[:2])}" if len(w := line.split(",")[0].split()) > 2
                 else line for line in lines]  # fmt: skip
    food = rng.choice(lines).split(",")[0].split("(")[0].split()[-1].strip(".,").lower()
    title = rng.choice([f"{food} {rng.choice(_DISHES)}", f"{rng.choice(_NAMES)} {food} {rng.choice(_DISHES)}",
                        f"{rng.choice(_NAMES)} {rng.choice(_DISHES)}"])  # fmt: skip
    p, c, f = (rng.randint(3, 60) for _ in range(3))
    stated: dict[str, float] = {
        "kcal": 4 * p + 4 * c + 9 * f,
        "protein_g": p,
        "carbs_g": c,
        "fat_g": f,
    }
    servings = rng.randint(2, 12)
    out = [m.title(title)]
    tails = {"title (": f" (serves {servings})", "title ,": f", {servings} servings",
             "title -": f" - makes {servings}", "title for": f" for {servings}"}  # fmt: skip
    out[0] = m.title(title + tails.get(m.served, ""))
    says = rng.choice([f"Serves {servings}", f"{servings} portions", f"Feeds {servings}.",
                       f"Makes {servings} {m.unit_word}s", f"for {servings} people"])  # fmt: skip
    numbers = _numbers(rng, m, stated, servings)
    blank = [""] if m.gap else []
    if m.served == "below":
        out += [*blank, says]
    if m.where == "below title":
        out += numbers
    if rng.random() < 0.3 or m.served == "with talk":
        out += [
            *blank,
            rng.choice(_TALK) + (f" {says.rstrip('.')}." if m.served == "with talk" else ""),
        ]
    half = rng.randint(1, len(lines) - 1)
    split = m.heads is not None and rng.random() < 0.6
    parts = [(rng.choice(["", *_HEADS]), lines[:half]), (rng.choice(_HEADS), lines[half:])]
    if m.served == "above list":
        out += [*blank, says]
    out += blank + _list(rng, m, parts if split else [("", lines)])
    if m.served == "under list":
        out.append(says)
    if m.where == "after list":
        out += [*blank, *numbers]
    steps = rng.sample(_STEPS, rng.randint(1, 3))
    if m.method == "prose":
        out += [*blank, " ".join(steps)]
    elif m.method != "none":
        out += [*blank, *(["Method"] if m.method == "headed" else []),
                *(f"{i}. {step}" for i, step in enumerate(steps, 1))]  # fmt: skip
    if m.where == "end":
        out += [*blank, *numbers]
    truth = {"title": title, "servings": 0 if m.served == "none" else servings,
             "lines": [{"text": line} for line in lines], "stated": stated}  # fmt: skip
    return out, truth


def _chat(rng: random.Random, blocks: list[list[str]]) -> list[str]:
    out, minute = [], rng.randint(0, 40)
    form = rng.choice(
        ["{who}: ", "[{d}/3/25, 5:{m:02d}:17 PM] {who}: ", "{d:02d}/09/2024, 19:{m:02d} - {who}: "]
    )
    for block in blocks:
        if rng.random() < 0.7:
            out.append(form.format(d=3, m=minute, who=rng.choice(_PEOPLE)) + rng.choice(_TALK))
        who = rng.choice(_PEOPLE)
        cut = rng.randint(1, len(block))
        for part in (block[:cut], block[cut:]):
            if part := [line for line in part if line]:
                minute = min(59, minute + 1)
                out.append(form.format(d=3, m=minute, who=who) + part[0])
                out += part[1:]
    return out


def made(seed: str, count: int) -> list[Made]:
    """Texts drawn at random; the same for a seed."""
    rng = random.Random(seed)
    pool = _lines()
    out: list[Made] = []
    for no in range(count):
        m = _manner(rng)
        told = [_recipe(rng, m, pool) for _ in range(rng.choice([1, 1, 2, 3, 4]))]
        container = rng.choice(["cards", "cards", "notes", "chat", "mail", "markdown"])
        blocks = [lines for lines, _ in told]
        if container == "chat":
            lines = _chat(rng, blocks)
        else:
            between = {"cards": ["", *rng.choice([[], ["---"], [""]])], "mail": [""],
                       "markdown": [""], "notes": ["", rng.choice(_NOTES), ""]}[container]  # fmt: skip
            lines = []
            if container == "mail":
                lines = ["From: Maud <maud@example.org>", "To: all <all@example.org>",
                         "Subject: the recipes you asked for", "", "Hello all,", "",
                         " ".join(rng.sample(_TALK, 2)), ""]  # fmt: skip
            elif container == "markdown":
                lines = ["# " + rng.choice(["Chapter 2", "Our dinners", "Kitchen notes"]), ""]
            for block in blocks:
                lines += [*block, *between]
            if container == "mail":
                lines += ["See you soon", "Maud", "", "> On 21 Feb you wrote:", "> any ideas? x"]
        out.append(Made(f"{container} {no}", "\n".join(lines) + "\n", [truth for _, truth in told]))
    return out
