"""English as the house writes it."""
