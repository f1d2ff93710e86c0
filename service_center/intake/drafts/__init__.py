"""Drop-offs that were started and are not finished: kept at every step, listed at the counter."""
