"""The models of Steelyard's own form of a recipe; ``own_form.py`` reads it."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

TextOrNumber = str | float | int


class OwnIngredient(BaseModel):
    """An ingredient in parts; read as the line "AMOUNT UNIT NAME, NOTE"."""

    model_config = ConfigDict(extra="allow", title="Ingredient")

    name: str = Field(description="what it is: 'oats', 'smoked paprika'")
    amount: TextOrNumber | None = Field(None, description="40, '1 1/2', '2-3'")
    unit: str | None = Field(None, description="'g', 'tbsp', 'cup'; none for pieces")
    note: str | None = Field(None, description="'finely chopped', 'drained'")
    optional: bool = Field(False, description="counted as an optional line")


class OwnGroup(BaseModel):
    """Ingredients under a heading."""

    model_config = ConfigDict(extra="forbid", title="Section")

    section: str = Field(description="'For the sauce'")
    ingredients: list[str | OwnIngredient]


class OwnStated(BaseModel):
    """The numbers the recipe states. An amount is a number or text with a unit ('1,724 kJ')."""

    model_config = ConfigDict(extra="allow", title="Stated nutrition")

    basis: str = Field(
        "per_serving", description="per_serving, per_recipe or per_100g; also 'per 100 g'"
    )
    kcal: TextOrNumber | None = Field(None, description="energy in kcal")
    kj: TextOrNumber | None = Field(None, description="energy in kJ, read when kcal is not given")
    protein_g: TextOrNumber | None = Field(None, description="protein in g")
    carbs_g: TextOrNumber | None = Field(
        None, description="carbohydrate in g, fibre included (by difference)"
    )
    net_carbs_g: TextOrNumber | None = Field(None, description="carbohydrate in g without fibre")
    fat_g: TextOrNumber | None = Field(None, description="fat in g")
    satfat_g: TextOrNumber | None = Field(None, description="saturated fat in g")
    fiber_g: TextOrNumber | None = Field(None, description="fibre in g")
    sugar_g: TextOrNumber | None = Field(None, description="sugars in g")
    sodium_mg: TextOrNumber | None = Field(None, description="sodium in mg")
    salt_g: TextOrNumber | None = Field(None, description="salt in g, read as sodium x 2.5")
    alcohol_g: TextOrNumber | None = Field(None, description="alcohol in g")


class OwnRecipe(BaseModel):
    """One recipe. A file holds one, a list of them, or ``recipes:`` with a list."""

    model_config = ConfigDict(
        extra="allow",
        title="Steelyard recipe",
        json_schema_extra={"$schema": "https://json-schema.org/draft/2020-12/schema"},
    )

    id: TextOrNumber | None = Field(None, description="stable id; else file and position make one")
    title: str = Field(description="by it other recipes may use this one as an ingredient")
    creator: str | None = Field(None, description="who published it")
    description: str | None = Field(None, description="free text; claims are looked for in it")
    servings: TextOrNumber | None = Field(None, description="4, '12 squares', '1 loaf (12 slices)'")
    yield_g: TextOrNumber | None = Field(None, description="weight of the whole as served, in g")
    ingredients: list[str | OwnIngredient | OwnGroup | dict[str, list[str | OwnIngredient]]] = (
        Field(description="one line each, as a cook writes it; a line ending in ':' is a heading")
    )
    stated: OwnStated | str | list[OwnStated | str] | None = Field(
        None, description="the numbers, or a line such as '412 kcal, P 32 g, C 45 g, F 11 g'"
    )
    method: Any = Field(None, description="how it is made; says what is cooked, drained or left")
    notes: Any = Field(None, description="not read")
