"""The table that a food comes from, in words."""

from __future__ import annotations

import pytest
from national_tables import ids

from pipeline.snapshot import Snapshot, source_names


def test_one_table_in_use_needs_no_telling_apart(published: Snapshot) -> None:
    names = source_names(published)
    assert names.of("sr28:09040") == "USDA SR28"
    assert names.of("pantry:halloumi") == "your pantry"
    assert names.column([None, "", "recipe:base-dressing"]) == ["", "", "your recipes"]
    assert not names.several


@pytest.mark.parametrize("table", ["harbour_alone", "harbour_beside"])
def test_a_national_table_goes_by_its_title(request: pytest.FixtureRequest, table: str) -> None:
    names = source_names(request.getfixturevalue(table))
    assert names.of(ids()["Banana raw"]) == "Skarrow Harbour food table (invented)"
    assert names.several is (table == "harbour_beside")  # foods for reference only answer nothing
