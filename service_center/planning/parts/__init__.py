"""Which parts the coming months need, and what to order by when."""
