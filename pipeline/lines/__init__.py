"""Stage 2, lines: the text of an ingredient line → amount, unit, size, food name, state, notes."""
