"""Coverage-guided fuzzing of what reads text: ``python fuzz_text.py TARGET SECONDS``.

Every target must be total: no exception, and no input of at most 4 kB that takes a second. The
process ends with a fault and the input that made it (libFuzzer's crash file) when one is found.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

import atheris

with atheris.instrument_imports(include=["pipeline.lines", "pipeline.intake", "pipeline.match"]):
    from pipeline.foods.words import words
    from pipeline.intake.amounts import read_amount
    from pipeline.intake.reading import read_text
    from pipeline.intake.servings import read_yield
    from pipeline.intake.stated_line import all_found
    from pipeline.intake.text.card import read_cards
    from pipeline.intake.text.plain_lines import card_lines
    from pipeline.lines import parse

MOST_SECONDS = 1.0
NUTRIENTS = ("ENERC_KCAL", "PROCNT", "NA")


def lines(text: str) -> None:
    """One ingredient line."""
    assert parse(text).text == text
    words(text)


def numbers(text: str) -> None:
    """Stated numbers and servings."""
    for tag in NUTRIENTS:
        read_amount(text, tag)
    all_found(text)
    read_yield(text)


def cards(text: str) -> None:
    """A text card."""
    read_cards(card_lines(text), "fuzz.txt")


def files(text: str) -> None:
    """A file of the kind its first character chooses."""
    endings = ("json", "jsonl", "yaml", "md", "html", "txt", "srt", "vtt")
    read_text(text[1:], f"fuzz.{endings[ord(text[:1] or 'a') % len(endings)]}")


TARGETS: dict[str, Callable[[str], None]] = {
    "lines": lines, "numbers": numbers, "cards": cards, "files": files,
}  # fmt: skip


def main() -> None:
    """Fuzz one target for some seconds."""
    target = TARGETS[sys.argv[1]]

    def one(data: bytes) -> None:
        text = data.decode("utf-8", "surrogateescape")
        began = time.process_time()
        target(text)
        took = time.process_time() - began
        assert took < MOST_SECONDS, f"{took:.1f} s for {len(text)} characters"

    options = [f"-max_total_time={sys.argv[2]}", "-max_len=4096", "-rss_limit_mb=2048",
               "-timeout=20", "-verbosity=0", "-print_final_stats=1"]  # fmt: skip
    atheris.Setup([sys.argv[0], *options, *sys.argv[3:]], one)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
