"""What happens every half minute, by whoever is alive."""

from datetime import datetime

from service_center.letters.actions.rounds import round_of_the_day
from service_center.letters.actions.sending import SendResult, send_for_a_while
from service_center.letters.doorbell import ring


def tick(*, now: datetime) -> SendResult:
    """The day's round if it is to run, then what waits. Ticks beside or behind each other do no harm."""
    round_of_the_day(now=now)
    result = send_for_a_while(now=now)
    if result.more:
        ring()
    return result
