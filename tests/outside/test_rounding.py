"""Label rounding row by row.

Sources: FDA, A Food Labeling Guide (October 2009), Appendix H, restating 21 CFR 101.9(c); European
Commission guidance on tolerances (December 2012) for the rules per 100 g. The cases below were
written out by hand from those rows.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.reconcile.rounding import bands, shown

CASES = [
    ("us", "ENERC_KCAL", 4.9, "0"), ("us", "ENERC_KCAL", 5, "5"), ("us", "ENERC_KCAL", 47.4, "45"),
    ("us", "ENERC_KCAL", 47.5, "50"), ("us", "ENERC_KCAL", 50, "50"), ("us", "ENERC_KCAL", 54.9, "50"),
    ("us", "ENERC_KCAL", 55, "60"), ("us", "ENERC_KCAL", 412, "410"),
    ("us", "FAT", 0.49, "0"), ("us", "FAT", 0.5, "0.5"), ("us", "FAT", 4.7, "4.5"),
    ("us", "FAT", 4.8, "5.0"), ("us", "FAT", 5.4, "5"), ("us", "FAT", 11.5, "12"),
    ("us", "FASAT", 0.2, "0"), ("us", "FASAT", 1.3, "1.5"), ("us", "FASAT", 7.2, "7"),
    ("us", "NA", 4.9, "0"), ("us", "NA", 5, "5"), ("us", "NA", 138, "140"), ("us", "NA", 140, "140"),
    ("us", "NA", 143, "140"), ("us", "NA", 732, "730"),
    ("us", "CHOCDF", 0.4, "0"), ("us", "CHOCDF", 0.7, "less than 1"), ("us", "CHOCDF", 1.4, "1"),
    ("us", "CHOCDF", 44.5, "45"), ("us", "FIBTG", 0.9, "less than 1"), ("us", "FIBTG", 8.7, "9"),
    ("us", "SUGAR", 0.5, "less than 1"), ("us", "SUGAR", 13.2, "13"),
    ("us", "PROCNT", 0.4, "0"), ("us", "PROCNT", 0.6, "less than 1"), ("us", "PROCNT", 13.98, "14"),
    ("eu", "ENERC_KCAL", 76.59, "77"), ("eu", "ENERC_KCAL", 0.4, "0"),
    ("eu", "FAT", 0.5, "<0.5"), ("eu", "FAT", 0.51, "0.5"), ("eu", "FAT", 9.94, "9.9"),
    ("eu", "FAT", 10, "10"), ("eu", "FAT", 21.31, "21"), ("eu", "FAT", 0, "0"),
    ("eu", "CHOCDF", 11.49, "11"), ("eu", "CHOCDF", 9.99, "10.0"), ("eu", "CHOCDF", 0.3, "<0.5"),
    ("eu", "SUGAR", 1.76, "1.8"), ("eu", "PROCNT", 3.78, "3.8"), ("eu", "FIBTG", 2.36, "2.4"),
    ("eu", "FASAT", 0.1, "<0.1"), ("eu", "FASAT", 0.14, "0.1"), ("eu", "FASAT", 8.26, "8.3"),
    ("eu", "FASAT", 12.6, "13"), ("eu", "NACL", 0.0125, "<0.01"), ("eu", "NACL", 0.494, "0.49"),
    ("eu", "NACL", 1.83, "1.8"), ("eu", "NA", 0.004, "<0.005"), ("eu", "NA", 0.394, "0.39"),
    ("eu", "NA", 1.04, "1.0"),
    ("whole", "ENERC_KCAL", 411.5, "412"), ("whole", "FAT", 11.49, "11"), ("whole", "NA", 0, "0"),
]  # fmt: skip


@pytest.mark.parametrize(("rule", "tag", "value", "text"), CASES)
def test_by_hand(rule, tag, value, text):
    assert shown(rule, tag, np.array([value]))[0].tolist() == [text]


@pytest.mark.parametrize("rule", ["eu", "us"])
@pytest.mark.parametrize(
    "tag", ["ENERC_KCAL", "PROCNT", "CHOCDF", "FAT", "FIBTG", "SUGAR", "FASAT", "NA"]
)
def test_the_rows_of_a_nutrient_cover_every_number_once(rule, tag):
    from pipeline.reconcile.rounding import _WORDS

    rows = bands(rule, _WORDS[rule][tag])
    edges = {0.0, 1e9} | {r.lower for r in rows} | {r.upper for r in rows if r.upper < 1e9}
    for edge in edges:
        for value in (edge - 1e-9, edge, edge + 1e-9):
            if value >= 0:
                assert sum(r.holds(np.array([value])).item() for r in rows) == 1, value


@given(st.sampled_from(["eu", "us"]), st.sampled_from(["PROCNT", "CHOCDF", "FAT", "ENERC_KCAL"]),
       st.floats(0, 3000), st.floats(0, 3000))  # fmt: skip
def test_more_is_never_shown_as_less(rule, tag, a, b):
    low, high = shown(rule, tag, np.array(sorted((a, b))))[1]
    assert low <= high


def test_what_cannot_be_published_is_refused():
    with pytest.raises(ValueError, match="cannot publish"):
        shown("us", "FAT", np.array([1.0, np.nan]))
    with pytest.raises(ValueError, match="cannot publish"):
        shown("us", "FAT", np.array([1.0, -1.0]))
