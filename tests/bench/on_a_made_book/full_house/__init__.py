"""A made book with a workshop, counters and a desk that are busy: `__main__.py` says how it is filled."""
