"""The invented house of Fernhollow: who it is, whom it sold to, and what happened to the pieces since. Pure."""
