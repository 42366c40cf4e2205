"""Four times the text takes no more than seven times the time, whatever it is padded with.

Processor time is compared with processor time, so a busy machine changes nothing; times too short to
be told apart count as one. All readers and paddings are tried by ``make soak``; the ones that were
once quadratic in ``make test`` too.
"""

from __future__ import annotations

from functools import partial
from itertools import product

import pytest
from growth import growth
from paddings import PADDINGS, READERS, seconds

#: Generous: linear is 4, and what has to be bounded was 16 and more; caches and collections of
#: garbage take a half more now and then.
MOST = 7.0


def test_there_are_thirty_kinds_of_padding_and_every_reader() -> None:
    assert len(PADDINGS) >= 30
    assert len(READERS) >= 25


@pytest.mark.parametrize(
    ("reader", "padding", "n"),
    [
        ("card", "blank lines", 4_000), ("card, at its end", "blank lines", 4_000),
        ("talk", "blank lines", 4_000), ("Markdown", "open brackets", 4_000),
        ("Markdown", "underscores", 3_000), ("card, within a line", "spaces", 6_000),
        ("card", "digits", 1_000), ("page, within a script", "spaces", 3_000),
        ("Markdown, at its top", "unclosed front matter", 20_000), ("card", "rules", 6_000),
        ("CSV, a quote before", "open quotes", 4_000), ("YAML, at its top", "blank lines", 3_000),
        ("page, its tables", "words", 1_000),
    ],
)  # fmt: skip
def test_what_was_quadratic_is_linear(reader: str, padding: str, n: int) -> None:
    seconds(reader, padding, 50)  # imports and tables
    assert growth(partial(seconds, reader, padding), n, within=MOST) <= MOST


@pytest.mark.soak
def test_megabytes_of_nothing_take_as_much_longer_as_they_are_longer() -> None:
    for reader, padding in (
        *product(("card", "Markdown", "talk"), ("blank lines", "spaces", "open brackets")),
        ("Markdown, at its top", "unclosed front matter"),
    ):
        seconds(reader, padding, 50)
        measured = growth(partial(seconds, reader, padding), 300_000, within=MOST)
        assert measured <= MOST, (reader, padding)


@pytest.mark.soak
@pytest.mark.parametrize("reader", READERS)
def test_every_reader_takes_every_padding_in_linear_time(reader: str) -> None:
    seconds(reader, "words", 50)
    found = {padding: growth(partial(seconds, reader, padding), 4_000, within=MOST)
             for padding in PADDINGS}  # fmt: skip
    assert {p: round(g, 1) for p, g in found.items() if g > MOST} == {}
