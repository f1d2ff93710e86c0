"""Reading work orders."""
