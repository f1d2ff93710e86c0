"""Pages of work orders."""
