"""Pages of the desk about letters."""
