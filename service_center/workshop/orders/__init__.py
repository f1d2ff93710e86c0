"""Work orders: what is done to a piece while it is with us, step by step."""
