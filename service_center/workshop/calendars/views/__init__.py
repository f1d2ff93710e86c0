"""The pages of the benches and of the days on which the workshop stands still."""
