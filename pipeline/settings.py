"""``steelyard.toml`` beside the recipes, and what the command line overrides of it."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from pipeline.problems import Problem, SteelyardError

FILE_NAME = "steelyard.toml"


Carbohydrate = Literal["total", "net"]
Energy = Literal["table", "4-4-9", "without fibre"]


class Conventions(BaseModel):
    """How one creator counts; what is not said is as for the collection."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    carbohydrate: Carbohydrate | None = Field(None, description="as in the settings")
    energy: Energy | None = Field(None, description="as in the settings")


class Settings(BaseModel):
    """Choices that belong to a collection; every one has a default that is said in the report."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    profile: str = Field("eu", description="tolerance profile, a key of shared/tolerances.csv")
    percent: float = Field(10.0, gt=0, le=100, description="for the profile 'percent'")
    spoons: Literal["us", "metric", "uk", "au"] = Field(
        "us", description="system of cups and spoons when the line does not say"
    )
    publish: Literal["eu", "us", "whole"] = Field(
        "whole", description="rounding of corrected numbers"
    )
    pantry: str = Field("", description="pantry file, relative to this one; default pantry.csv")
    decisions: str = Field("", description="decisions file; default decisions.csv")
    creator: str = Field("", description="creator of the recipes that name none")
    carbohydrate: Carbohydrate = Field(
        "total", description="what plain 'carbohydrate' means in the recipes: net is without fibre"
    )
    energy: Energy = Field(
        "table",
        description="how the recipes' energy is counted: as the table has it, by 4-4-9, or "
        "without that of fibre",
    )
    follow_links: bool = Field(False, description="follow symbolic links out of the collection")
    creators: dict[str, Conventions] = Field(
        default_factory=dict,
        description="carbohydrate and energy of single creators; a table each, at the end of the "
        'file: [creators."Name"]',
    )

    def carbohydrate_of(self, creator: str) -> Carbohydrate:
        """What plain carbohydrate means in this creator's recipes."""
        own = self.creators.get(creator)
        return own.carbohydrate if own and own.carbohydrate else self.carbohydrate

    def energy_of(self, creator: str) -> Energy:
        """How this creator's energy is counted."""
        own = self.creators.get(creator)
        return own.energy if own and own.energy else self.energy

    @property
    def has_conventions(self) -> bool:
        """Whether anything is counted otherwise than the table does."""
        every = {self.carbohydrate_of(c) for c in ("", *self.creators)}
        energy = {self.energy_of(c) for c in ("", *self.creators)}
        return every != {"total"} or energy != {"table"}


def load_settings(folder: Path) -> Settings:
    """Read ``steelyard.toml`` in ``folder``; defaults when there is none.

    Raises:
        SteelyardError: the file is no TOML, or names an unknown key or a value out of range.
    """
    path = folder / FILE_NAME
    if not path.is_file():
        return Settings()
    try:
        return Settings.model_validate(tomllib.loads(path.read_text(encoding="utf-8")))
    except tomllib.TOMLDecodeError as fault:
        what, why = f"{FILE_NAME} is not valid TOML", str(fault)
    except UnicodeDecodeError as fault:
        what, why = f"{FILE_NAME} is not UTF-8 text", str(fault)
    except ValidationError as fault:
        what = f"{FILE_NAME} holds a setting that is not known or out of range"
        why = "; ".join(f"{'.'.join(map(str, e['loc']))}: {e['msg']}" for e in fault.errors())
    known = ", ".join(Settings.model_fields)
    raise SteelyardError(
        Problem("settings-invalid", what, why, f"known settings: {known}", source=str(path))
    )
