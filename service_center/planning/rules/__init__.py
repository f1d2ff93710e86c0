"""Weeks, bench hours, expected arrivals and the levelling of invitations (design/workshop.md). No Django, no clock."""
