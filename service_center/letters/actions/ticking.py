"""What happens every half minute, by whoever is alive."""

from datetime import datetime

from service_center.letters.actions.returning import sweep_returned
from service_center.letters.actions.rounds import round_of_the_day
from service_center.letters.actions.running import SendResult
from service_center.letters.actions.sending import send_for_a_while
from service_center.letters.doorbell import ring


def tick(*, now: datetime) -> SendResult:
    """The day's round if it is to run, then what waits, then what came back. Ticks beside each other do no harm."""
    round_of_the_day(now=now)
    result = send_for_a_while(now=now)
    if result.more:
        ring()
    # Last, and for a few seconds: a mailbox that is away keeps no letter waiting.
    sweep_returned(now=now)
    return result
