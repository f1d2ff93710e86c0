"""Parts ordered from suppliers: what was ordered, what came of it, and what is still to come."""
