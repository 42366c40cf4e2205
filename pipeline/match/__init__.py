"""Stage 3, match: food name and state → a food of the snapshot, with honest confidence."""
