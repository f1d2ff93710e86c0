"""What a backup says of itself, and which names may stand in it."""
