"""Benches and their calendars: who is at a bench for how many minutes of a day, and for which skills."""
