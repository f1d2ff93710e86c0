"""What the outside asks of letters: a round, an answer, the end of what has not gone out, handing over, the desk."""

from service_center.letters.actions.after_restore import HeldBack, Replayed, end_held, go_on, hold_waiting, replay
from service_center.letters.actions.answering import InvalidAnswer, record_answer
from service_center.letters.actions.arriving import link_was_used
from service_center.letters.actions.confirming import confirm_visit
from service_center.letters.actions.counting import count_ahead
from service_center.letters.actions.desk import (
    NotInThatState,
    Settled,
    TooNear,
    end_nameless,
    release,
    settle_doubt,
    try_all_again,
    withdraw_links,
)
from service_center.letters.actions.ending import end_reminders
from service_center.letters.actions.forgetting import forget_returned
from service_center.letters.actions.grounds import (
    ImpossibleGround,
    NoWording,
    OwnerErased,
    note_existing_customers,
    note_ground,
    set_ground,
)
from service_center.letters.actions.held_rounds import AlreadyDecided, let_round_go, take_round_back
from service_center.letters.actions.ordering import Word, end_order_words, mail_order_word, note_order_word
from service_center.letters.actions.planning import PlannedDay, plan_invitations
from service_center.letters.actions.reaching import (
    NothingToSay,
    NotPrepared,
    links_on_paper,
    note_reached,
    prepare,
    prepare_unsaid,
    put_back,
)
from service_center.letters.actions.receipts import Receipt, failed, is_reached, mail_receipt
from service_center.letters.actions.reporting import write_again
from service_center.letters.actions.returning import Looked, read_calls, read_returned, take_call
from service_center.letters.actions.rounds import RoundResult, daily_round, round_of_the_day
from service_center.letters.actions.running import SendResult
from service_center.letters.actions.sending import send_for_a_while, send_waiting
from service_center.letters.actions.ticking import tick
from service_center.letters.actions.to_oneself import NotSent, send_test
from service_center.letters.actions.wording import SavedMeanwhile, UnusableTexts, back_to_ours, save_texts

__all__ = [
    "AlreadyDecided",
    "HeldBack",
    "ImpossibleGround",
    "InvalidAnswer",
    "Looked",
    "NoWording",
    "NotInThatState",
    "NotPrepared",
    "NotSent",
    "NothingToSay",
    "OwnerErased",
    "PlannedDay",
    "Receipt",
    "Replayed",
    "RoundResult",
    "SavedMeanwhile",
    "SendResult",
    "Settled",
    "TooNear",
    "UnusableTexts",
    "Word",
    "back_to_ours",
    "confirm_visit",
    "count_ahead",
    "daily_round",
    "end_held",
    "end_nameless",
    "end_order_words",
    "end_reminders",
    "failed",
    "forget_returned",
    "go_on",
    "hold_waiting",
    "is_reached",
    "let_round_go",
    "link_was_used",
    "links_on_paper",
    "mail_order_word",
    "mail_receipt",
    "note_existing_customers",
    "note_ground",
    "note_order_word",
    "note_reached",
    "plan_invitations",
    "prepare",
    "prepare_unsaid",
    "put_back",
    "read_calls",
    "read_returned",
    "record_answer",
    "release",
    "replay",
    "round_of_the_day",
    "save_texts",
    "send_for_a_while",
    "send_test",
    "send_waiting",
    "set_ground",
    "settle_doubt",
    "take_call",
    "take_round_back",
    "tick",
    "try_all_again",
    "withdraw_links",
    "write_again",
]
