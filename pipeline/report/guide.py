"""What to run next, and what a run assumed: the last lines of ``steelyard verify``."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.near_names import near_names
from pipeline.report.words import SPOONS, listing, plural

if TYPE_CHECKING:
    from pipeline.run import Result

MOST_STEPS = 3
#: Lines to weigh that are named here, and how much of each is shown.
_NAMED, _SHOWN = 2, 40


def assumed(result: Result) -> str:
    """Profile, spoons, energy and carbohydrate convention of a run, in one line."""
    settings = result.settings
    profile = settings.profile
    if profile == "percent":
        profile = f"percent ({settings.percent:g} %)"
    spoons = SPOONS[settings.spoons]
    return (
        f"Assumed: tolerance profile {profile}; {spoons} cups and spoons unless a line says"
        f" otherwise; counted as: {result.convention.reason}. Change any of it in steelyard.toml."
    )


def next_steps(
    result: Result, paths: Sequence[str], *, out: Path | None, corrected: Path | None = None
) -> list[tuple[str, str]]:
    """One to three commands for this collection, the most useful first, each with what it does.

    Args:
        paths: as they were given.
        out: folder of the report that was written, None when none was.
        corrected: folder of corrected copies that were written.
    """
    from pipeline.memory.decisions import text_key
    from pipeline.report.todo import how_many, to_weigh

    given = [p for p in paths if p != "-"]
    if not given:
        return []
    at = shlex.join(given)
    if result.recipes.empty:
        there = [near for path in given for near in _near(Path(path))]
        if there:
            words = f"steelyard verify {shlex.quote(there[0])}"
            return [(words, "the one of much the same name that is there")]
        return [("steelyard new my-recipes", "a starter folder to look at")]
    waits = how_many(result)
    steps = []
    if out is None:
        does = "the same as a report with everything in it"
        steps.append((f"steelyard verify {at} --out out", does))
    asked = [
        phrase.format(plural(waits[kind], word))
        for kind, phrase, word in (
            ("settle", "settle {}", "habit"),
            ("answer", "answer {}", "line"),
        )
        if waits[kind]
    ]
    loose = to_weigh(result)
    command = f"steelyard review {at}"
    if loose:  # the page does not ask about these, so they are named
        named = " and ".join(f'"{text[:_SHOWN]}"' for text in loose[:_NAMED])
        more = f" and {len(loose) - _NAMED} more" if len(loose) > _NAMED else ""
        asked.append(f"weigh or name {named}{more}")
        if len(asked) == 1:
            command += f" --line {shlex.quote(text_key(loose[0]))}"
    if asked:
        steps.append((command, f"{listing(asked)} on a local page"))
    copies, words = plural(waits["fix"], "recipe"), f"{at} --fail-on disagrees"
    does = "keep it that way, in a pre-commit hook or CI"
    if waits["fix"] and corrected is None:
        words, does = (
            f"{at} --write-corrected fixed",
            f"copies of {copies} with the numbers corrected",
        )
    elif waits["fix"]:
        words, does = shlex.quote(str(corrected)), "check the corrected copies"
    return [*steps, (f"steelyard verify {words}", does)][:MOST_STEPS]


def _near(path: Path) -> list[str]:
    """Files and folders beside one that is not there, of much the same name."""
    if path.exists() or not path.parent.is_dir():
        return []
    try:
        names = [entry.name for entry in path.parent.iterdir() if not entry.name.startswith(".")]
    except OSError:
        return []
    return [str(path.with_name(name)) for name in near_names(path.name, names, cutoff=0.7)]
