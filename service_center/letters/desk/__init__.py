"""The desk's place for letters: what needs a hand, and what a person decides."""
