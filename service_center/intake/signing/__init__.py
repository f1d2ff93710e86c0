"""What an owner signs over the counter, and the signature."""
