"""Pack values from the official FoodData Central search, with the user's own key.

The key goes in a header, never into an address, and is never written to the cache or to a log.
"""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.nutrients import BY_TAG
from pipeline.problems import Problem, input_problem
from pipeline.refresh.fetch import Patience, cached_session, check_url, one_line
from pipeline.resources import shared_rows
from pipeline.snapshot.home import home_dir

if TYPE_CHECKING:
    import requests

API = "https://api.nal.usda.gov/fdc/v1/foods/search"
#: Variables that may hold the key, asked in this order.
KEY_VARIABLES = ("STEELYARD_FDC_KEY", "FDC_API_KEY")
_KEY_HEADER = "X-Api-Key"
_FRESH = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class Found:
    """One food of the search.

    Attributes:
        fdc_id: id of this revision of the food.
        description: its name; ``brand``: who makes it.
        kind: Branded, Foundation, SR Legacy, Survey (FNDDS).
        serving_name: "2 Tbsp (30 g)"; ``serving_g``: grams of a serving, None when not said in g.
        per_100g: column of ``pantry.csv`` → amount per 100 g; what is not reported is absent.
    """

    fdc_id: int
    description: str
    brand: str
    kind: str
    serving_name: str
    serving_g: float | None
    per_100g: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Lookup:
    """What a search gave; ``problem`` says why it gave nothing, or an answer from the cache."""

    foods: list[Found]
    problem: Problem | None = None


def api_key(given: str = "") -> str:
    """The key given, else of the environment, "" when there is none."""
    return given or next((os.environ[v] for v in KEY_VARIABLES if os.environ.get(v)), "")


def look_up(
    query: str,
    *,
    key: str = "",
    branded: bool = True,
    most: int = 10,
    home: Path | None = None,
    api: str = API,
    patience: Patience | None = None,
) -> Lookup:
    """Search FoodData Central for a food by name, brand or GTIN.

    Args:
        key: the user's own key; default from :data:`KEY_VARIABLES`.
        branded: search Branded foods; else Foundation, SR Legacy and FNDDS.
        most: foods wanted, 1 to 50.
        home: the data directory, for the cache.
        api: address of the search.

    Returns:
        Foods, best first. Offline, without a key, refused or over the limit: a problem that says
        so, with foods of an earlier answer when the cache has one. Never raises for these.
    """
    import requests

    patience = patience or Patience()
    secret = api_key(key)
    if not secret:
        return Lookup([], input_problem("lookup-no-key", variable=KEY_VARIABLES[0]))  # fmt: skip
    check_url(api)
    session = cached_session(
        home_dir(home) / "lookup-cache",
        expire_after=_FRESH,
        ignored_parameters=[_KEY_HEADER, "api_key", "Authorization", "Cookie"],
        allowable_codes=(200,),
    )
    session.hooks["response"].append(_must_be_foods)
    kinds = "Branded" if branded else "Foundation,SR Legacy,Survey (FNDDS)"
    parameters = {"query": query[:200], "dataType": kinds, "pageSize": str(max(1, min(most, 50)))}
    asked = {"params": parameters, "headers": {_KEY_HEADER: secret}}
    try:
        answer = session.get(api, **asked, timeout=patience.timeout)
    except (requests.RequestException, OSError) as fault:
        return Lookup([], _unanswered(str(fault).replace(secret, "***")))
    if answer.status_code != 200:
        return Lookup([], _refused(answer))
    foods = [found for row in answer.json().get("foods", []) if (found := _food(row)) is not None]
    stale = getattr(answer, "from_cache", False) and getattr(answer, "is_expired", False)
    return Lookup(foods[:most], _old(answer) if stale else None)


def _must_be_foods(response: requests.Response, **_: object) -> requests.Response:
    """Raised inside ``send``, so that a login page is no answer and is not cached."""
    import requests

    if response.status_code == 200:
        try:
            answer = response.json()
        except ValueError as fault:
            raise requests.RequestException("the answer is no JSON") from fault
        if not isinstance(answer, dict) or not isinstance(answer.get("foods"), list):
            raise requests.RequestException("the answer lists no foods")
    return response


def _unanswered(why: str) -> Problem:
    return input_problem("lookup-offline", said=one_line(why)[:200])


def _refused(answer: Any) -> Problem:
    code = answer.status_code
    if code == 429:
        wait = answer.headers.get("Retry-After", "")
        return input_problem("lookup-limit", wait=f" and asks to wait {wait} s" if wait else "")
    if code not in (401, 403):
        return _unanswered(f"the server answered {code}")
    return input_problem("lookup-key-refused", status=code, variable=KEY_VARIABLES[0])


def _old(answer: Any) -> Problem:
    since = getattr(answer, "created_at", None)
    return input_problem(
        "lookup-from-cache",
        age=f"it is of {since:%Y-%m-%d}" if since is not None else "its age is not known",
    )


def _columns() -> dict[str, str]:
    """Publisher's nutrient number → pantry column, first choices only."""
    return {
        row["nutrient_nbr"]: BY_TAG[row["nutrient"]].column
        for row in shared_rows("fdc_nutrients.csv")
        if row["rank"] == "1" and row["nutrient"] in BY_TAG
    }


def _food(row: Any) -> Found | None:
    if not isinstance(row, dict) or not row.get("description"):
        return None
    columns = _columns()
    amounts: dict[str, float] = {}
    for item in row.get("foodNutrients") or []:
        if not isinstance(item, dict):
            continue
        column = columns.get(str(item.get("nutrientNumber", "")))
        value = item.get("value")
        if column and isinstance(value, int | float) and value >= 0:
            amounts[column] = float(value)
    size, unit = row.get("servingSize"), str(row.get("servingSizeUnit", "")).lower()
    grams = float(size) if isinstance(size, int | float) and unit in ("g", "grm", "gm") else None
    return Found(
        fdc_id=int(row.get("fdcId") or 0),
        description=" ".join(str(row["description"]).split()),
        brand=str(row.get("brandName") or row.get("brandOwner") or "").strip(),
        kind=str(row.get("dataType", "")),
        serving_name=str(row.get("householdServingFullText") or "").strip(),
        serving_g=grams if grams and grams > 0 else None,
        per_100g=amounts,
    )
