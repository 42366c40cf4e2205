"""Hostile inputs by the thousand: seeds of every kind of file, and ways to spoil them.

Everything is drawn from a seeded generator, so that a number names an input for good.
"""

from __future__ import annotations

import json
import random
import struct
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

Dice = random.Random

#: Recipes of each seed; each states what 100 g of rice and 10 g of butter come to in two servings.
COUNT = 8
TITLES = tuple(f"Dish {chr(65 + n)}" for n in range(COUNT))


def _card(title: str) -> str:
    return f"{title}\nServes 2\n\n100 g rice\n10 g butter\n\nPer serving: 217 kcal, P 4 g, C 40 g, F 4 g\n"


def _tidy() -> str:
    rows = [f"{t},2,{line},217" for t in TITLES for line in ("100 g rice", "10 g butter")]
    return "\n".join(["title,servings,line,kcal", *rows]) + "\n"


def _wide() -> str:
    rows = [f'{t},2,"100 g rice\n10 g butter",217' for t in TITLES]
    return "\n".join(["title,servings,ingredients,kcal", *rows]) + "\n"


def _own(title: str) -> dict[str, object]:
    return {
        "title": title, "servings": 2, "ingredients": ["100 g rice", "10 g butter"],
        "stated": {"kcal": 217},
    }  # fmt: skip


def _schema(title: str) -> dict[str, object]:
    return {
        "@context": "https://schema.org", "@type": "Recipe", "name": title, "recipeYield": "2",
        "recipeIngredient": ["100 g rice", "10 g butter"], "nutrition": {"calories": "217 kcal"},
    }  # fmt: skip


def _page() -> str:
    scripts = "".join(
        f'<script type="application/ld+json">{json.dumps(_schema(t))}</script>\n' for t in TITLES
    )
    return (
        f"<!doctype html><html><head>\n{scripts}</head><body>\n<p>Eight dishes</p></body></html>\n"
    )


def _yaml() -> str:
    one = (
        "title: {}\nservings: 2\ningredients:\n- 100 g rice\n- 10 g butter\nstated:\n  kcal: 217\n"
    )
    return "---\n".join(one.format(t) for t in TITLES)


def _captions() -> str:
    said = "this is {} and it takes 100 grams of rice and 10 grams of butter and serves 2 people"
    return "\n".join(
        f"{n + 1}\n00:00:{n * 5:02},000 --> 00:00:{n * 5 + 4:02},000\n{said.format(t)}\n"
        for n, t in enumerate(TITLES)
    )


#: Text of each kind of file, and whether its recipes stand apart: where one can be spoiled alone.
SEEDS: dict[str, tuple[str, bool]] = {
    "cards.txt": ("---\n".join(_card(t) for t in TITLES), True),
    "cards.md": ("\n".join(_card(f"# {t}") for t in TITLES), False),
    "own.yaml": (_yaml(), False),
    "own.json": (json.dumps([_own(t) for t in TITLES], indent=1), False),
    "lines.jsonl": ("".join(json.dumps(_own(t)) + "\n" for t in TITLES), False),
    "schema.json": (json.dumps({"@graph": [_schema(t) for t in TITLES]}), False),
    "page.html": (_page(), True),
    "tidy.csv": (_tidy(), True),
    "wide.csv": (_wide(), True),
    "tabs.tsv": (_tidy().replace(",", "\t"), True),
    "talk.srt": (_captions(), False),
    "talk.vtt": ("WEBVTT\n\n" + _captions().replace(",000", ".000"), False),
}  # fmt: skip

#: Texts that readers have stumbled over, or may.
ODD = [
    '"', "'", '""', '"x', "\\", "\\ud83d", "\ufeff", "\u202e", "\u0000", "\u2028", "\r", "\x1b[2J",
    "½", "٣", "１２", "1/0", "0/0", "1e999", "-1", "-0", "9" * 400, "1" + "0" * 320, "nan", "inf",
    "1.7e38", "0.0000001", "∞", "[" * 300, "(" * 300, "{" * 50, "<" * 50, " " * 3000, "\n" * 400,
    "<script>alert(1)</script>", "</script>", "<!--", "]]>", "{{7*7}}", "%s%n", "=1+1", "@SUM(A1)",
    "!!python/object:os.system", "&a *a", "<<: *x", "|", ";", ",,,,,,,,", "\t\t", "---\n", "#", "# ",
    "..", "../../etc/passwd", "C:\\x", "\u0301" * 100, "\U0001f35a", "a" * 5000, "null", "true",
    "per serving: ", "Serves 0", "Serves -2", "Serves 1e9", "1 kJ", "kcal kcal", "Ingredients:",
    "2 x 2 x 2 x", "1-1-1-1", "100 g of which 100 g of which", "or or or", "00:00:00,000 --> 99:99:99,999",
]  # fmt: skip

Spoil = Callable[[str, Dice], str]


def _at(text: str, dice: Dice) -> int:
    return dice.randrange(len(text) + 1)


def _insert(text: str, dice: Dice) -> str:
    at = _at(text, dice)
    return text[:at] + dice.choice(ODD) + text[at:]


def _replace_number(text: str, dice: Dice) -> str:
    numbers = [n for n in ("217", "100", "10 ", "2") if n in text]
    if not numbers:
        return _insert(text, dice)
    wanted = dice.choice(numbers)
    places = [i for i in range(len(text)) if text.startswith(wanted, i)]
    at = dice.choice(places)
    return text[:at] + dice.choice(ODD) + text[at + len(wanted) :]


def _cut_out(text: str, dice: Dice) -> str:
    at = _at(text, dice)
    return text[:at] + text[at + dice.randrange(1, 20) :]


def _truncate(text: str, dice: Dice) -> str:
    return text[: _at(text, dice)]


def _double_lines(text: str, dice: Dice) -> str:
    lines = text.split("\n")
    at = dice.randrange(len(lines))
    lines[at:at] = lines[at : at + 3] * dice.choice([1, 2, 50])
    return "\n".join(lines)


def _drop_line(text: str, dice: Dice) -> str:
    lines = text.split("\n")
    del lines[dice.randrange(len(lines))]
    return "\n".join(lines)


def _many(text: str, dice: Dice) -> str:
    for _ in range(dice.randrange(2, 8)):
        text = dice.choice([_insert, _cut_out, _replace_number])(text, dice)
    return text


SPOIL: dict[str, Spoil] = {
    "odd text put in": _insert, "odd value": _replace_number, "characters lost": _cut_out,
    "cut short": _truncate, "lines doubled": _double_lines, "a line lost": _drop_line,
    "several of these": _many,
}  # fmt: skip


def spoiled_bytes(data: bytes, dice: Dice) -> bytes:
    """Bytes with bits flipped, stretches overwritten, cut, or put into another encoding."""
    out = bytearray(data)
    kind = dice.randrange(5)
    if kind == 0:
        for _ in range(dice.randrange(1, 9)):
            out[dice.randrange(len(out))] ^= 1 << dice.randrange(8)
    elif kind == 1:
        del out[dice.randrange(len(out)) :]
    elif kind == 2:
        at = dice.randrange(len(out))
        out[at : at + 40] = dice.randbytes(40)
    elif kind == 3:
        out[:0] = dice.choice(
            [b"\xff\xfe", b"\xef\xbb\xbf", b"\x00", b"PK\x03\x04", b"PAR1", b"%PDF"]
        )
    else:
        at = dice.randrange(len(out))
        out[at:at] = dice.choice([b"\xe9", b"\xff", b"\x80\x80", b"\xed\xa0\x80", b"\xf0\x9f"])
    return bytes(out)


def spoiled_one(name: str, dice: Dice) -> tuple[str, set[str]]:
    """A seed with one recipe spoiled, and the titles of the others, which nothing touched."""
    text = SEEDS[name][0]
    title = TITLES[dice.randrange(1, COUNT - 1)]
    start = text.index(title)
    following = text.index(TITLES[TITLES.index(title) + 1])
    between = text[start : text.rfind("\n", start, following) + 1]
    inside = between.rstrip("\n-")  # what parts it from the next stays
    end = start + len(inside)
    spoil = dice.choice([_insert, _replace_number, _cut_out])
    return text[:start] + spoil(inside, dice) + text[end:], set(TITLES) - {title}


NUMBERS = [
    0, -1, 1e-320, 5e-324, 1e-9, 0.001, 1e9, 1e15, 1.7e38, 3.4e38, 1e300, 1.79e308, float("inf"),
    float("-inf"), float("nan"), 2**31, 2**63, -(2**63),
]  # fmt: skip


def number_texts() -> list[str]:
    """Numbers as a CSV may hold them, of every size, and what is none."""
    plain = [repr(n) for n in NUMBERS]
    return [
        *plain,
        "1e400",
        "-1e400",
        "9" * 400,
        "1,5",
        "1.000,5",
        "½",
        "٣",
        "0x10",
        "1_000",
        "",
        " ",
    ]


@dataclass
class Tally:
    """What came of the inputs, kind by kind; printed at the end of ``make soak``."""

    rows: dict[tuple[str, str], list[int]] = field(default_factory=dict)
    worst: list[str] = field(default_factory=list)

    def add(self, door: str, kind: str, *, raised: bool = False, hung: bool = False,
            lost: bool = False, what: str = "") -> None:  # fmt: skip
        """Count one input."""
        row = self.rows.setdefault((door, kind), [0, 0, 0, 0])
        for at, hit in enumerate((True, raised, hung, lost)):
            row[at] += hit
        if raised or hung or lost:
            self.worst.append(f"{door}, {kind}: {what}")

    def table(self) -> str:
        """Kind × count, with how many raised, hung, or lost something in silence."""
        head = f"{'door':<16}{'kind':<34}{'inputs':>8}{'raised':>8}{'hung':>8}{'lost':>8}"
        lines = [head, "-" * len(head)]
        total = [0, 0, 0, 0]
        for (door, kind), row in sorted(self.rows.items()):
            lines.append(f"{door:<16}{kind:<34}" + "".join(f"{n:>8,}" for n in row))
            total = [a + b for a, b in zip(total, row, strict=True)]
        lines.append(f"{'all':<50}" + "".join(f"{n:>8,}" for n in total))
        return "\n".join(lines)

    @property
    def total(self) -> int:
        """Inputs of all kinds."""
        return sum(row[0] for row in self.rows.values())


TALLY = Tally()


def parquet(path: Path, values: dict[str, object]) -> None:
    """A table of one row with typed values."""
    import duckdb

    with duckdb.connect() as con:
        names = ", ".join(f'$v{n} as "{name}"' for n, name in enumerate(values))
        con.execute(
            f"copy (select {names}) to '{path}' (format parquet)",
            {f"v{n}": value for n, value in enumerate(values.values())},
        )


def f32(value: float) -> float:
    """The nearest number of single precision, as many tables hold it."""
    try:
        return float(struct.unpack("f", struct.pack("f", value))[0])
    except OverflowError:
        return value
