"""Amounts of a nutrient as people write them: value, unit, and the rounding the writing implies."""

import math

import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.intake.amounts import Amount, Written, read_amount
from pipeline.intake.numbers import read_number
from pipeline.nutrients import NUTRIENTS
from pipeline.publish.restate import restate_amount, shown

KJ = 1 / 4.184  # NIST SP 811: thermochemical calorie, exact


@pytest.mark.parametrize(
    ("text", "tag", "amount", "step"),
    [
        ("412 kcal", "ENERC_KCAL", 412, 1),
        ("412 calories", "ENERC_KCAL", 412, 1),
        ("412", "ENERC_KCAL", 412, 1),
        (412, "ENERC_KCAL", 412, 1),
        (412.5, "ENERC_KCAL", 412.5, 0.1),
        (Written("12.50"), "FAT", 12.5, 0.01),
        ("1,724 kJ", "ENERC_KCAL", 1724 * KJ, KJ),
        ("1.724 kJ", "ENERC_KCAL", 1724 * KJ, KJ),
        ("1 724 kJ", "ENERC_KCAL", 1724 * KJ, KJ),
        ("1724 kJ / 412 kcal", "ENERC_KCAL", 412, 1),
        ("412 kcal (1724 kJ)", "ENERC_KCAL", 412, 1),
        ("1,234.5 kcal", "ENERC_KCAL", 1234.5, 0.1),
        ("412.345 kcal", "ENERC_KCAL", 412.345, 0.001),
        ("0,5 g", "FAT", 0.5, 0.1),
        ("12,5g", "PROCNT", 12.5, 0.1),
        ("11 grams fat", "FAT", 11, 1),
        ("32g (64% DV)", "PROCNT", 32, 1),
        ("2½ g", "FAT", 2.5, 0.01),
        ("600 mg", "NA", 600, 1),
        ("0.6 g", "NA", 600, 100),
        ("500 mg", "PROCNT", 0.5, 0.001),
        ("<1 g", "FAT", 0.5, 1),
        ("less than 1 g", "FIBTG", 0.5, 1),
        ("10-12 g", "FAT", 11, 3),
        ("trace", "FAT", 0.25, 0.5),
    ],
)
def test_amounts_in_the_unit_of_their_tag(text, tag, amount, step):
    read = read_amount(text, tag)
    assert isinstance(read, Amount), read
    assert read.amount == pytest.approx(amount)
    assert read.step == pytest.approx(step)


def test_salt_is_sodium_times_two_and_a_half():
    # Regulation (EU) 1169/2011, Annex I: salt = sodium x 2.5
    assert read_amount("1.25 g", "NA", salt=True).amount == pytest.approx(500)


@pytest.mark.parametrize(
    "value",
    ["∞ g", "-5 g", "12 %", "", "lots", None, True, float("nan"), float("inf"), -3, 10**400],
)
def test_what_is_no_amount_is_said_in_words(value):
    assert isinstance(read_amount(value, "FAT"), str)


@given(value=st.integers(0, 9999), decimals=st.integers(0, 2), comma=st.booleans())
def test_decimals_round_trip_in_either_tradition(value, decimals, comma):
    text = f"{value / 10**decimals:.{decimals}f}"
    read = read_amount((text.replace(".", ",") if comma else text) + " g", "FAT")
    assert read.amount == pytest.approx(value / 10**decimals)
    assert read.step == pytest.approx(10.0**-decimals)


@given(value=st.integers(1000, 9_999_999), mark=st.sampled_from([",", " ", "\u202f", "'"]))
def test_thousands_are_no_decimals_in_energies(value, mark):
    grouped = f"{value:,}".replace(",", mark)
    assert read_amount(f"{grouped} kcal", "ENERC_KCAL").amount == value


@given(
    old=st.floats(0, 5000), new=st.floats(0, 5000), tag=st.sampled_from([n.tag for n in NUTRIENTS])
)
def test_a_restated_text_reads_back_as_the_new_number(old, new, tag):
    text = restate_amount(f"about {shown(old)} {'kcal' if tag == 'ENERC_KCAL' else 'g'}", tag, new)
    read = read_amount(text, tag)
    assert isinstance(read, Amount)
    assert read.amount == pytest.approx(new, abs=5.01 if tag == "NA" else 0.0051)
    assert text.startswith("about ")


@given(
    text=st.from_regex(r"[0-9]{1,7}(\.[0-9]{1,4})?", fullmatch=True),
    tag=st.sampled_from(["ENERC_KCAL", "FAT", "NA"]),
    unit=st.sampled_from(["", "g", "mg", "kcal", "kJ"]),
    salt=st.booleans(),
)
def test_a_bare_number_reads_as_it_does_among_words(text, tag, unit, salt):
    read, said = (read_amount(t, tag, unit=unit, salt=salt) for t in (text, f"is {text}"))
    assert (read.amount, read.step, read.text) == (said.amount, said.step, text)


@settings(max_examples=examples(200))
@given(st.one_of(st.text(max_size=60), st.floats(), st.integers(), st.none(), st.booleans()))
def test_reading_is_total_and_finite(value):
    for tag in ("ENERC_KCAL", "FAT", "NA"):
        read = read_amount(value, tag)
        if isinstance(read, Amount):
            assert math.isfinite(read.amount)
            assert read.amount >= 0
            assert read.step > 0


def test_a_lone_number_of_three_decimals_keeps_them_in_grams():
    assert read_number("1,250", "g").value == 1.25
    assert read_number("1,250", "mg").value == 1250
    assert read_number("0,125", "kcal").value == 0.125
