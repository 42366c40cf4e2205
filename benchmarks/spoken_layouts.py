"""Scripts composed of sentences by which people talk through recipes, and what the reader makes of them.

``data/spoken_layouts.yaml`` lists the sentences by what they do, in two halves that share none; a
speaker draws habits, his recipes draw foods, amounts and sentences, so the truth is known. Only of
the open half is shown what went wrong. ``python benchmarks/spoken_layouts.py --half held``.
"""

from __future__ import annotations

import argparse
import json
import math
import re
import tempfile
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any

import yaml
from spoken import Counts, Reader, compare, lined_up, names, print_shares, score

from pipeline.intake.spoken.composition import Composition

_DATA = yaml.safe_load(
    (Path(__file__).parent / "data" / "spoken_layouts.yaml").read_text(encoding="utf-8")
)
FOODS: list[list[str]] = _DATA["foods"]
DISHES: dict[str, list[str]] = _DATA["dishes"]
UNITS: dict[str, list[str]] = _DATA["units"]
HABITUAL = 0.6  # how often a speaker takes one of his few sentences for a thing
_HABITS = 4  # how many he has

_ONES: list[str] = _DATA["numbers"]["ones"]
_TENS: list[str] = _DATA["numbers"]["tens"]
_ORDERS = ("first", "second", "third", "fourth")
_HALVES = {
    0.25: "a quarter", 0.5: "half", 0.75: "three quarters", 1.5: "one and a half", 2.5: "two and a half",
}  # fmt: skip


@dataclass(slots=True)
class Food:
    """A food with an amount."""

    name: str
    one: str
    unit: str
    value: float


@dataclass(slots=True)
class Told:
    """A script with its truth, and which sentence told which food."""

    text: str
    kind: str
    recipes: list[dict[str, Any]]
    sentences: list[list[tuple[str, str]]]  # of each recipe: (sentence, food)
    said: list[tuple[str, str, str]]  # in order: what it does, the sentence with slots, and filled
    foods: list[list[tuple[str, str]]]  # of each sentence said: (food, slot)


@dataclass(slots=True)
class Speaker:
    """How somebody talks."""

    random: Random
    half: str
    digits: str = "words"
    joined: str = " and "
    punctuation: str = "full"
    container: str = "paragraphs"
    metric: bool = True
    behind: float = 0.1
    asides: float = 0.2
    fillers: float = 0.0
    order: Sequence[str] = ()
    habits: dict[str, list[str]] = field(default_factory=dict)

    @staticmethod
    def drawn(random: Random, half: str) -> Speaker:
        """A speaker with habits of his own."""
        out = Speaker(random, half)
        out.digits = random.choice(("words", "digits", "mixed"))
        out.joined = random.choice((" and ", " "))
        out.punctuation = random.choice(("full", "full", "none", "commas"))
        out.container = random.choice(("paragraphs", "lines", "times", "srt", "vtt"))
        out.metric = random.random() < 0.7
        out.behind = random.choice((0.0, 0.1, 0.3, 0.8))
        out.asides = random.choice((0.1, 0.2, 0.35))
        out.fillers = random.choice((0.0, 0.0, 0.03, 0.06))
        out.order = random.choice(
            (("servings", "lines", "numbers"), ("lines", "servings", "numbers"),
             ("lines", "numbers", "servings"), ("numbers", "servings", "lines"),
             ("lines", "servings", "numbers"))
        )  # fmt: skip
        out.habits = {
            kind: random.sample(all_of, min(_HABITS, len(all_of)))
            for kind, all_of in _DATA[half].items()
        }
        return out

    def sentence(self, kind: str) -> str:
        """One for a purpose, mostly of his habit."""
        usual = self.random.random() < HABITUAL
        all_of: list[str] = _DATA[self.half][kind]
        return self.random.choice(self.habits[kind] if usual else all_of)

    def number(self, value: float) -> str:
        """A number as he says it, or as his captions write it."""
        if value in _HALVES:
            return _HALVES[value]
        if self.digits == "digits" or (self.digits == "mixed" and value > 10):
            return f"{value:g}"
        return in_words(int(value), self.joined)

    def amount(self, food: Food) -> str:
        """ "two hundred grams", "three"."""
        said = self.number(food.value)
        if food.unit == "n":
            return "half" if food.value == 0.5 else said
        one, several = UNITS[food.unit]
        if food.value == 1:
            return f"{'an' if one[0] in 'aeiou' else 'a'} {one}"
        if food.value == 2 and food.unit not in ("g", "ml") and self.random.random() < 0.2:
            return f"a couple of {several}"
        about = food.value > 5 and self.random.random() < 0.12
        if food.value in (0.5, 0.25):
            return f"{said} a {one}" if food.value == 0.5 else f"{said} of a {one}"
        return f"{'about ' if about else ''}{said} {several}"

    def whole(self, food: Food) -> str:
        """ "two hundred grams of oats", "three carrots"."""
        if food.unit != "n":
            return f"{self.amount(food)} of {food.name}"
        if food.value == 1:
            return f"{self.random.choice(('one', 'a'))} {food.one}".replace("a a", "an a")
        if food.value == 0.5:
            return f"half {'an' if food.one[0] in 'aeiou' else 'a'} {food.one}"
        if food.value == 2 and self.random.random() < 0.2:
            return f"a couple of {food.name}"
        return f"{self.number(food.value)} {food.name}"

    def food(self, row: Sequence[str]) -> Food:
        """A food with an amount of it."""
        name, one, *ways = row
        if not self.metric:
            ways = [w for w in ways if w.split()[0] not in ("g", "ml")] or ways
        else:
            ways = [w for w in ways if w.split()[0] not in ("oz", "lb", "cup")] or ways
        unit, bounds = self.random.choice(ways).split()
        low, high = map(int, bounds.split("-"))
        value = float(self.random.randint(low, high))
        if unit in ("g", "ml"):
            step = 5 if high <= 100 else 10 if high < 400 else 25
            value = float(max(round(value / step) * step, step))
        elif unit in ("cup", "tsp", "tbsp", "lb") and self.random.random() < 0.2:
            value = self.random.choice((0.5, 1.5, 0.5, 2.5))
        return Food(name, one, unit, value)

    def other(self, food: Food) -> Food:
        """Another amount of it."""
        times = self.random.choice((2, 3) if food.value < 3 else (1.5, 2, 0.5))
        value = food.value * times
        step = 5.0 if food.unit in ("g", "ml") else 1.0
        value = max(round(value / step) * step, step)
        value += 2 * step * (value == food.value)
        return Food(food.name, food.one, food.unit, value)


def in_words(number: int, joined: str) -> str:
    """ "two hundred and fifty"."""
    if number < 20:
        return _ONES[number]
    if number < 100:
        tens, ones = divmod(number, 10)
        return _TENS[tens - 2] + (f" {_ONES[ones]}" if ones else "")
    head, rest = divmod(number, 1000 if number >= 1000 else 100)
    word = "thousand" if number >= 1000 else "hundred"
    tail = (
        f"{joined if number < 1000 or rest < 100 else ' '}{in_words(rest, joined)}" if rest else ""
    )
    return f"{in_words(head, joined)} {word}{tail}"


class Script:
    """Composes one script."""

    def __init__(self, speaker: Speaker, composition: Composition) -> None:
        self.speaker, self.random, self.composition = speaker, speaker.random, composition
        self.parts: list[list[str]] = [[]]
        self.said: list[tuple[str, str, str]] = []
        self.slots: list[list[tuple[str, str]]] = []
        self.recipes: list[dict[str, Any]] = []
        self.told: list[list[tuple[str, str]]] = []
        self.foods: list[list[Food]] = []

    def say(self, kind: str, **slots: Any) -> str:
        """A sentence of a kind, its slots filled, and which food each slot names."""
        speaker = self.speaker
        template = slots.pop("template", None) or speaker.sentence(kind)
        recipe = self.foods[-1] if self.foods else []
        used = {food.name for food in recipe}
        rest = [row for row in FOODS if row[0] not in used]
        slots.setdefault("z", speaker.food(self.random.choice(rest)))
        slots.setdefault("m", self.random.choice((5, 8, 10, 12, 15, 20, 25, 40)))
        slots.setdefault("d", self.random.choice((160, 180, 190, 200, 220)))
        slots.setdefault("b", self.random.choice(_DATA["brands"]))

        def filled(found: re.Match[str]) -> str:
            name = found[1]
            if name in slots and not isinstance(slots[name], Food):
                value: str | float = slots[name]
                return value if isinstance(value, str) else str(speaker.number(value))
            which, how, more = re.fullmatch(r"([wzhy]?)(qx|q|x|)(\d?)", name).groups()  # type: ignore[union-attr]
            food: Food = slots[(which or "x") + more]
            self.slots[-1].append((food.name, which))
            if self.told and kind not in ("item", "behind", "list"):
                self.told[-1].append((template, food.name))
            if how == "qx":
                return speaker.whole(food)
            return speaker.amount(food) if how == "q" else str(food.name)

        self.slots.append([])
        said = re.sub(r"\[([^]]*)\]", lambda m: self.random.choice(m[1].split("|")), template)
        text = re.sub(r"\{(\w+)\}", filled, said).replace(" ,", ",")
        text = self._styled(text[0].upper() + text[1:])
        self.parts[-1].append(text)
        self.said.append((kind, template, text))
        return template

    # --- one recipe ----------------------------------------------------------------------------

    def recipe(self, title: str, number: int, of: int) -> None:
        """Tell a recipe; sometimes it is a change of the one before."""
        speaker, random = self.speaker, self.random
        again = bool(self.recipes) and len(self.recipes[-1]["lines"]) > 3 and random.random() < 0.1
        self.told.append([])
        opening = "first" if not number else "last" if number + 1 == of else "next"
        slots = {"o": _ORDERS[number], "i": number + 1, "t": title}
        lines: list[dict[str, Any]]
        servings = random.choice((1, 2, 3, 4, 4, 6, 8))
        if again:
            before = list(self.foods[-1])
            lines = [dict(line) for line in self.recipes[-1]["lines"] if not line.get("optional")]
            servings = self.recipes[-1]["servings"] or 1
            self.foods.append(before)
            self.say(opening, **slots)
            self._change(lines, before)
        else:
            lines = []
            self.foods.append(self._drawn(title))
            self.say(opening, **slots)
        stated = self._numbers(lines or [truth(food) for food in self.foods[-1]], servings)
        said: set[str] = set()
        for part in speaker.order:
            if part == "lines" and not again:
                lines += self._lines()
            elif part == "servings" and servings > 1 and not again:
                self.say("servings", n=servings)
                said.add("servings")
            elif part == "numbers":
                kind = "whole" if servings > 1 and random.random() < 0.3 else "share"
                whole = stated["kcal"] * servings
                self.say(kind, n=servings, k=stated["kcal"], p=stated["protein_g"],
                         c=stated["carbs_g"], f=stated["fat_g"], K=whole)  # fmt: skip
        if random.random() < 0.3:
            self.say("storage")
        self.recipes.append(
            {"title": title, "title_words": title.split(), "lines": lines,
             "servings": servings if said or again else None, "stated": stated, "stated_per": "serving"}
        )  # fmt: skip

    def _drawn(self, title: str) -> list[Food]:
        """Foods of a recipe, what it is called after among them."""
        words = title.split()
        named = [row for row in FOODS if any(names(row[0], [w]) for w in words)]
        named = [self.random.choice([r for r in named if names(r[0], [w])]) for w in words
                 if any(names(r[0], [w]) for r in named)]  # fmt: skip
        rest = [row for row in FOODS if row not in named and not clash(row, named)]
        rows = [*named, *self.random.sample(rest, self.random.randint(2, 7))]
        return [self.speaker.food(row) for row in rows]

    def _change(self, lines: list[dict[str, Any]], foods: list[Food]) -> None:
        """The recipe before with one food in another's place, or one more."""
        speaker = self.speaker
        rest = [row for row in FOODS if not clash(row, [[food.name] for food in foods])]
        new = speaker.food(self.random.choice(rest))
        before = self.recipes[-1]["title"]
        if self.random.random() < 0.5:
            old = next(food for food in foods if food.name in {line["food"] for line in lines})
            self.say("but", T=before, x=old, z=new)
            lines[:] = [line for line in lines if line["food"] != old.name] + [truth(new)]
        else:
            self.say("plus", T=before, z=new)
            lines.append(truth(new))

    def _lines(self) -> list[dict[str, Any]]:
        """Tell the ingredients."""
        random = self.random
        out: list[dict[str, Any]] = []
        done: list[Food] = []
        if random.random() < 0.2:
            self.say("lead")
        waiting = list(self.foods[-1])
        while waiting:
            if len(waiting) >= 3 and random.random() < 0.15:
                three = [waiting.pop(0) for _ in range(3)]
                sentence = self.say("list", x=three[0], x2=three[1], x3=three[2])
                self.told[-1] += [(sentence, food.name) for food in three]
                out += map(truth, three)
                done += three
            else:
                food = waiting.pop(0)
                out += self._line(food)
                done.append(food)
            if random.random() < self.speaker.asides:
                self.say("other", x=done[-1])
            if random.random() < 0.12:
                self.say("method", x=random.choice(done))
            if random.random() < 0.05:
                self.say("brand", x=done[-1])
        if random.random() < 0.12:
            out.append(self._optional())
        if len(done) >= 3 and random.random() < 0.08:
            some = done[:3]
            self.say("recap", y=some[0], y2=some[1], y3=some[2])
        if random.random() < 0.6:
            self.say("method", x=random.choice(done))
        return out

    def _optional(self) -> dict[str, Any]:
        rest = [row for row in FOODS if not clash(row, [[f.name] for f in self.foods[-1]])]
        food = self.speaker.food(self.random.choice(rest))
        self.say("option", z=food)
        return {**truth(food), "optional": True}

    def _line(self, food: Food) -> list[dict[str, Any]]:
        """One food, plainly or with a second thought."""
        random, other = self.random, self.speaker.other(food)
        half = Food(food.name, food.one, food.unit, food.value / 2)
        kind = "behind" if random.random() < self.speaker.behind else "item"
        if random.random() < 0.25:
            kind = random.choice(("correct", "or", "split", "twice"))
            even = food.unit in ("g", "ml", "tbsp", "tsp") and half.value.is_integer()
            if kind == "twice" and not even:
                kind = "or"
        sentence = self.say(kind, x=food, w=other, h=half)
        self.told[-1].append((sentence, food.name))
        if random.random() < 0.3 * self.speaker.asides:
            self.say("same", x=food, w=other)
        return [truth(half), truth(half)] if kind == "twice" else [truth(food)]

    def _numbers(self, lines: Sequence[dict[str, Any]], servings: int) -> dict[str, int]:
        """What the lines come to for a serving, as another table would have it."""
        texts = [written(line) for line in lines if not line.get("optional")]
        _, protein, fat, carbs = self.composition.total(texts)
        spread = [x / servings * math.exp(self.random.gauss(0, 0.1)) for x in (protein, carbs, fat)]
        p, c, f = (max(round(x), 1) for x in spread)
        kcal = round((4 * p + 4 * c + 9 * f) * self.random.uniform(0.97, 1.03))
        return {"kcal": kcal, "protein_g": p, "carbs_g": c, "fat_g": f}

    # --- the whole -----------------------------------------------------------------------------

    def compose(self) -> Told:
        """The script."""
        random, speaker = self.random, self.speaker
        titles = [self._title() for _ in range(random.choice((1, 2, 3, 3, 4)))]
        ends = [title.split()[-2:] for title in titles]
        titles = [title for at, title in enumerate(titles) if ends[at] not in ends[:at]]
        if random.random() < 0.7:
            self.say("hello", s=max(len(titles), 2))
        if random.random() < 0.2:
            self.say("sponsor")
        for at, title in enumerate(titles):
            self.parts.append([])
            self.recipe(title, at, len(titles))
            if random.random() < 0.06 and at + 1 < len(titles):
                self.say("sponsor")
        if random.random() < 0.7:
            self.parts.append([])
            self.say("bye")
        parts = [part for part in self.parts if part]
        kind = speaker.container if speaker.container in ("srt", "vtt") else "txt"
        text = laid_out(parts, speaker)
        return Told(text, kind, self.recipes, self.told, self.said, self.slots)

    def _title(self) -> str:
        random = self.random
        of = random.choice(DISHES["of"])
        second = random.choice([o for o in DISHES["of"] if o != of])
        kind = random.choice(DISHES["kinds"])
        manner = random.choice(DISHES["manners"])
        return random.choice(
            (f"{of} {kind}", f"{manner} {of} {kind}", f"{of} and {second} {kind}", f"{of} {kind}")
        )

    def _styled(self, sentence: str) -> str:
        """A sentence as it is heard: with fillers, and in captions without its marks."""
        speaker, random = self.speaker, self.random
        words = []
        for at, word in enumerate(sentence.split()):
            if at and random.random() < speaker.fillers:
                filler = random.choice(_DATA[speaker.half]["filler"])
                words.append(filler)
            words.append(word)
        text = " ".join(words)
        if speaker.punctuation == "full":
            return text
        text = re.sub(r"[.?!]$", "," if speaker.punctuation == "commas" else "", text)
        text = re.sub(r"[.?!](?= )", "," if speaker.punctuation == "commas" else "", text)
        text = text if speaker.punctuation == "commas" else re.sub(r",(?!\d{3})", "", text)
        return text.lower()


def clash(row: Sequence[str], others: Sequence[Sequence[str]]) -> bool:
    """A name that could be taken for another."""
    words = set(re.findall(r"\w+", row[0].lower()))
    return any(words & set(re.findall(r"\w+", other[0].lower())) for other in others)


def truth(food: Food) -> dict[str, Any]:
    """A food as a line of the truth."""
    unit = "piece" if food.unit == "n" else "can" if food.unit == "tin" else food.unit
    return {"amount": food.value, "unit": unit, "food": food.name, "food_words": food.name.split()}


def written(line: dict[str, Any]) -> str:
    """A true line as a recipe writes it."""
    unit = "" if line["unit"] == "piece" else f"{line['unit']} "
    return f"{line['amount']:g} {unit}{line['food']}"


def laid_out(parts: list[list[str]], speaker: Speaker) -> str:
    """Sentences as a file."""
    random, how = speaker.random, speaker.container
    if how == "paragraphs":
        return "\n\n".join(" ".join(part) for part in parts) + "\n"
    words = " ".join(sentence for part in parts for sentence in part).split()
    size = random.randint(6, 11)
    rows = [" ".join(words[at : at + size]) for at in range(0, len(words), size)]
    if how == "lines":
        return "\n".join(rows) + "\n"
    if how == "times":
        said = [sentence for part in parts for sentence in part]
        return "".join(f"[{4 * at // 60:02}:{4 * at % 60:02}] {s}\n" for at, s in enumerate(said))
    mark = "," if how == "srt" else "."

    def clock(seconds: int) -> str:
        return f"{seconds // 3600:02}:{seconds // 60 % 60:02}:{seconds % 60:02}{mark}000"

    cues = []
    for at, row in enumerate(rows):
        shown = f"{rows[at - 1]}\n{row}" if how == "vtt" and at else row
        cues.append(f"{at + 1}\n{clock(3 * at)} --> {clock(3 * at + 3)}\n{shown}\n")
    return ("WEBVTT\n\n" if how == "vtt" else "") + "\n".join(cues)


def compose(half: str, seed: int, composition: Composition) -> Told:
    """The script of a seed."""
    random = Random(f"{half} {seed}")
    return Script(Speaker.drawn(random, half), composition).compose()


def main() -> None:
    """Compose scripts, read them and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--half", choices=("open", "held"), default="open")
    parser.add_argument("--scripts", type=int, default=100)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--detail", action="store_true", help="what went wrong, of the open half")
    parser.add_argument("--write", type=Path, help="keep the scripts in a folder")
    given = parser.parse_args()
    if given.half == "held" and (given.detail or given.write):
        parser.error("what fails in the held half is not for reading")
    reader, everyone = Reader(), Counts()
    composition = Composition.of_the_table_in_force()
    wrong: Counter[tuple[str, str]] = Counter()
    times: Counter[str] = Counter()
    styles: dict[str, Counts] = defaultdict(Counts)
    with tempfile.TemporaryDirectory() as temporary:
        folder = given.write or Path(temporary)
        folder.mkdir(exist_ok=True, parents=True)
        for seed in range(given.first, given.first + given.scripts):
            told = compose(given.half, seed, composition)
            path = folder / f"s{seed}.{told.kind}"
            path.write_text(told.text, encoding="utf-8")
            document = {"recipes": told.recipes}
            path.with_suffix(".truth.json").write_text(json.dumps(document, indent=1))
            read, words, seconds = reader.read(path)
            detail: list[str] = []
            counts = score(told.recipes, read, detail)
            counts.words, counts.seconds = words, seconds
            everyone.add(counts)
            random = Random(f"{given.half} {seed}")
            styles[Speaker.drawn(random, given.half).punctuation].add(counts)
            if given.detail and detail:
                print("##", path.name, *detail, sep="\n")
            times.update(s for sentences in told.sentences for s, _ in sentences)
            wrong.update(_blamed(told, read))
    if given.detail:
        for (sentence, how), count in wrong.most_common(60):
            print(f"{count:4} of {times[sentence]:4} {how:7} {sentence}")
    print_shares({**styles, given.half: everyone})


def _blamed(told: Told, read: list[Any]) -> list[tuple[str, str]]:
    """Sentences whose food was missed, or of which something was read that is no line."""
    out: list[tuple[str, str]] = []
    for at, one in lined_up(told.recipes, read).items():
        found = compare(told.recipes[at], read[one].lines)
        sentences = told.sentences[at]
        for line, _ in found.missed:
            out += [(s, "missed") for s, food in sentences if food == line["food"]][-1:]
        for k, (text, _) in enumerate(read[one].lines):
            if k not in found.used:
                extra = [(s, "extra") for s, food in sentences if names(text, food.split())]
                out += extra[-1:] or [(text, "?")]
    return out


if __name__ == "__main__":
    main()
