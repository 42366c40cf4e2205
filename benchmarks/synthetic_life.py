"""A synthetic collection that looks like life: long recipes, long lines, half of them disagreeing.

All of it is invented. Only the mix was measured, on 262 public pages (in brackets what it is there):
12 lines a recipe, give or take 5 (12.4, 4.9), a third of the lines with a note in brackets (0.32),
one in eight with a clause behind a comma (0.12), one in forty a range of amounts (0.026), one in
thirteen a choice of two foods (0.078), one in eleven without an amount (0.089), and half of the
recipes that state energy disagreeing with their lines (0.53 disagree or are uncertain). Most state
eight numbers, some energy alone (0.08). Of all lines 45 % are distinct, as in collections of some
thousand recipes. Every fifth recipe has a creator with some dozens of others.
"""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from synthetic import _TITLE, FOUR, _stated, _texts

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from pipeline.snapshot import Snapshot

DISTINCT_SHARE = 0.45
FAULTY_SHARE = 0.5
LINES_A_RECIPE = 12
IN_BRACKETS, RANGES, CHOICES, OPEN, ENERGY_ALONE = 0.32, 0.026, 0.078, 0.089, 0.08
CREATORS_SHARE, RECIPES_A_CREATOR = 0.2, 40
_NOTES = (
    "about {n} small pieces", "see the note below", "or whatever the larder holds", "packed",
    "from last night's pot", "drained and patted dry", "the coarser the better", "optional",
    "at room temperature", "plus a little for the tin", "weighed without its peel", "I like it ripe",
)  # fmt: skip
_OPEN = ("to taste", "for the pan", "to serve", "for scattering")
_OTHERS = ("oat drink", "barley", "leeks", "herring", "quark", "spelt flour", "turnips", "kale")


def _as_in_life(text: str, dice: random.Random) -> str:
    """A line of ``synthetic`` as people write it."""
    amount, _, rest = text.partition(" ")
    if dice.random() < OPEN:
        return f"{rest} {dice.choice(_OPEN)}"
    if dice.random() < RANGES and amount.isdigit():
        text = f"{amount}-{int(amount) + dice.randint(1, 3)} {rest}"
    if dice.random() < CHOICES:
        text += f" or {dice.choice(_OTHERS)}"
    if dice.random() < IN_BRACKETS:
        text += f" ({dice.choice(_NOTES).format(n=dice.randint(2, 9))})"
    return text


def make(lines: int, folder: Path, snapshot: Snapshot, *, seed: int = 11) -> Path:
    """Write one collection as JSON lines; made once a size."""
    path = folder / f"life-{lines}.jsonl"
    if path.is_file():
        return path
    folder.mkdir(parents=True, exist_ok=True)
    rng, dice = random.Random(seed), np.random.default_rng(seed)
    plain, _, amounts = _texts(int(lines * DISTINCT_SHARE), snapshot, rng)
    texts = [_as_in_life(text, rng) for text in plain]
    often = (len(texts) * dice.random(lines - len(texts)) ** 3).astype(np.int64)
    picked = dice.permutation(np.concatenate([np.arange(len(texts)), often]))
    cuts = np.cumsum(np.clip(dice.normal(LINES_A_RECIPE, 5, lines), 3, 31).astype(np.int64))
    starts = np.concatenate([[0], cuts[cuts < lines - 2]])
    sizes = np.diff(np.append(starts, lines))
    servings = dice.integers(1, 9, size=len(sizes))
    totals = np.add.reduceat(amounts[picked], starts)
    numbers = _stated(
        totals, amounts[picked], starts, sizes, servings, dice, faulty_share=FAULTY_SHARE
    )
    with path.open("w", encoding="utf-8") as out:
        for n, (start, size) in enumerate(zip(starts, sizes, strict=True)):
            mine = [texts[i] for i in picked[start : start + size]]
            out.write(json.dumps(_recipe(n, mine, int(servings[n]), numbers[n], rng)) + "\n")
    return path


def _recipe(
    n: int, lines: list[str], servings: int, numbers: NDArray[Any], rng: random.Random
) -> dict[str, Any]:
    said = FOUR if rng.random() >= ENERGY_ALONE else FOUR[:1]
    stated = {column: int(value) for column, value in zip(FOUR, numbers, strict=True)}
    recipe: dict[str, Any] = {
        "id": f"l{n:07d}",
        "title": " ".join(rng.choice(part) for part in _TITLE) + f" of page {n}",
        "servings": f"{servings} servings",
        "ingredients": lines,
        "stated": {"basis": "per_serving", **{c: stated[c] for c in said}},
    }
    if rng.random() < CREATORS_SHARE:
        recipe["creator"] = f"Invented cook {n // int(RECIPES_A_CREATOR / CREATORS_SHARE)}"
    return recipe
