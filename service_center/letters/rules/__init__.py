"""Pure decisions about letters: what goes out, when, once."""
