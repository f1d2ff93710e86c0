"""The rules of a work order."""
