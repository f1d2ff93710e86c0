"""What the outside asks of due dates and their rules."""

from service_center.intervals.actions.stored import Recomputed, bring_to, recompute

__all__ = ["Recomputed", "bring_to", "recompute"]
