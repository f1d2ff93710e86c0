"""What the outside asks of letters: a round, an answer, the end of what has not gone out, handing over, the desk."""

from service_center.letters.actions.answering import InvalidAnswer, record_answer
from service_center.letters.actions.ending import end_reminders

__all__ = ["InvalidAnswer", "end_reminders", "record_answer"]
