"""Italian as the house writes it."""
