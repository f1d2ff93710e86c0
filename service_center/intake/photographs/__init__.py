"""Photographs of a piece as it comes in: taken at the counter, written anew, kept private."""
