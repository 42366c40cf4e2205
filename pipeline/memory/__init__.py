"""What people own and the tool remembers: the pantry's label foods, and decisions about lines."""

from pipeline.memory.decisions import Decision, Decisions, load_decisions, save_decision
from pipeline.memory.pantry import Pantry, PantryFood, load_pantry, save_pantry_food

__all__ = [
    "Decision",
    "Decisions",
    "Pantry",
    "PantryFood",
    "load_decisions",
    "load_pantry",
    "save_decision",
    "save_pantry_food",
]
