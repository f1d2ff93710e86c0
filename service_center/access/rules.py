"""Who may open what: one table, enforced by the middleware and walked by the tests.

Every named page of the site has a row. A page without a row opens for nobody, and fails the tests.
"""

from datetime import timedelta
from enum import StrEnum


class Role(StrEnum):
    """What a member of staff does; the boutique's staff are bound to their own boutique."""

    BOUTIQUE = "boutique"
    DESK = "desk"
    WATCHMAKER = "watchmaker"
    MANAGER = "manager"


class Door(StrEnum):
    """Doors that need no sign-in, each for its own reason."""

    SIGN_IN = "sign_in"  # the way in itself
    OWNER = "owner"  # opened by the secret in a letter's link, and by nothing else
    PROVIDER = "provider"  # opened by the mail provider's signature, and by nothing else
    PROBE = "probe"  # asked by the machine that watches the service; says nothing of anybody


EVERYONE = frozenset(Role)
COUNTER = frozenset({Role.BOUTIQUE, Role.DESK, Role.MANAGER})
DESK = frozenset({Role.DESK, Role.MANAGER})
MANAGER = frozenset({Role.MANAGER})
WORK = frozenset({Role.DESK, Role.WATCHMAKER, Role.MANAGER})

DOORS: dict[str, frozenset[Role] | Door] = {
    # signing in and out
    "account_login": Door.SIGN_IN,
    "account_logout": EVERYONE,
    "account_signup": Door.SIGN_IN,  # closed: says that the house makes the accounts
    "account_inactive": Door.SIGN_IN,
    "account_reauthenticate": EVERYONE,
    "account_change_password": EVERYONE,
    "own_address": EVERYONE,
    # what the house has set, behind one place
    "house": DESK,
    "today:home": EVERYONE,
    # pieces
    "pieces:search": EVERYONE,
    "pieces:piece": EVERYONE,
    "pieces:correct": DESK,
    "pieces:record_entry": WORK,
    "pieces:strike_entry": WORK,
    "pieces:correct_sheet": WORK,
    "pieces:hand_back": WORK,
    # measurements
    "bench:measurements": EVERYONE,
    "bench:sheet": EVERYONE,
    "bench:compare": EVERYONE,
    "bench:new_sheet": EVERYONE,
    "bench:correct_lift_angle": WORK,
    "bench:tightness": EVERYONE,
    "bench:reserve": EVERYONE,
    "bench:service_report": EVERYONE,
    "bench:settings": DESK,
    "bench:judging": DESK,
    "bench:new_machine_file": DESK,
    "bench:machine_file": DESK,
    "bench:chronometer": EVERYONE,
    # the workshop
    "bench:queue": WORK,
    "bench:finish": WORK,
    "bench:take_back": WORK,
    "bench:take": WORK,
    "bench:move": WORK,
    "bench:one_hand": EVERYONE,
    "bench:reception": WORK,
    "workshop:standard_times": DESK,
    "workshop:times": DESK,
    "workshop:parts": WORK,
    "workshop:new_part": WORK,
    "workshop:part": WORK,
    "workshop:order_parts": WORK,
    "workshop:ordered_parts": WORK,
    "workshop:ordered_line": DESK,
    # orders
    "bench:orders": EVERYONE,
    "bench:order": EVERYONE,  # what of it each role does is in bench/orders/deeds.py
    "bench:estimate": WORK,
    "bench:estimate_paper": EVERYONE,
    # the guarantee
    "guarantee:piece": EVERYONE,
    "guarantee:decide": DESK,
    "guarantee:card": EVERYONE,
    "guarantee:house": DESK,
    # due dates
    "intervals:due_list": COUNTER,
    "intervals:due_file": COUNTER,
    # the house's rules
    "rulebook:rules": DESK,
    "rulebook:add_rule": DESK,
    "rulebook:end_rule": DESK,
    # letters
    "letters:desk": DESK,
    "letters:letters": DESK,
    "letters:ahead": DESK,
    "letters:rehearsal": DESK,
    "letters:rehearse": DESK,
    "letters:rehearsal_progress": DESK,
    "letters:answers": DESK,
    "letters:round": DESK,
    "letters:decide_round": DESK,
    "letters:held": DESK,
    "letters:go_on": DESK,
    "letters:end_held": DESK,
    "letters:reach": DESK,
    "letters:prepare": DESK,
    "letters:prepare_unsaid": DESK,
    "letters:on_paper": DESK,
    "letters:reached": DESK,
    "letters:put_back": DESK,
    "letters:letter": DESK,
    "letters:letter_html": DESK,
    "letters:settle_doubt": DESK,
    "letters:release": DESK,
    "letters:end": DESK,
    "letters:try_all_again": DESK,
    "letters:withdraw_links": DESK,
    "letters:bounces": DESK,
    "letters:write_again": DESK,
    "letters:wording": DESK,
    "letters:wording_in": DESK,
    "letters:wording_group": DESK,
    "letters:wording_preview": DESK,
    "letters:wording_text": DESK,
    "letters:wording_back": DESK,
    "letters:provider_events": Door.PROVIDER,
    # the benches' calendars
    "calendars:benches": DESK,
    "calendars:add": DESK,
    "calendars:watchmaker": DESK,
    "calendars:standing_still": DESK,
    "calendars:mine": WORK,
    # planning
    "planning:weeks": DESK,
    "planning:proposal": DESK,
    "planning:accept": DESK,
    "planning:hours": DESK,
    "planning:parts": WORK,
    "planning:parts_paper": WORK,
    "planning:write_order": DESK,
    "planning:this_week": WORK,
    "planning:week_plan": WORK,
    "planning:week_paper": WORK,
    "planning:plan_again": DESK,
    "planning:plan_line": DESK,
    "planning:promises": DESK,
    "planning:accepting": DESK,
    "planning:work_out": DESK,
    "planning:progress": DESK,
    "planning:what_if": DESK,
    "planning:what_if_answer": DESK,
    "planning:curves": DESK,
    "planning:scores": DESK,
    "planning:behind": DESK,
    "planning:letters_out": DESK,
    "planning:invited": DESK,
    # the counter
    "intake:find": COUNTER,
    "intake:drop_off": COUNTER,
    "intake:owner_of": COUNTER,
    "intake:new_piece": COUNTER,
    "intake:started": COUNTER,
    "intake:step": COUNTER,
    "intake:take_over": COUNTER,
    "intake:give_up": COUNTER,
    "intake:photograph": EVERYONE,  # the benches too: what came in, and in what state
    "intake:signature": COUNTER,
    "intake:usual_terms": DESK,
    "intake:drop_offs": COUNTER,
    "intake:taken_in": COUNTER,
    "intake:receipt": COUNTER,
    "intake:label": COUNTER,
    "intake:mail_receipt": COUNTER,
    "intake:visits": COUNTER,
    "intake:mark_visit": COUNTER,
    "intake:opening_hours": DESK,
    # the book's files
    "exchange:import_book": DESK,
    "exchange:export_book": DESK,
    # the owner's side
    "owner_pages:letter": Door.OWNER,
    "owner_pages:answer": Door.OWNER,
    "owner_pages:stop_letters": Door.OWNER,
    "owner_pages:book_visit": Door.OWNER,
    "owner_pages:visit": Door.OWNER,
    "owner_pages:move_visit": Door.OWNER,
    "owner_pages:cancel_visit": Door.OWNER,
    "owner_pages:visit_calendar": Door.OWNER,
    "owner_pages:piece": Door.OWNER,
    "owner_pages:enrol": Door.OWNER,
    "owner_pages:receipt": Door.OWNER,
    "owner_pages:report": Door.OWNER,
    "owner_pages:estimate_paper": Door.OWNER,
    "owner_pages:answer_estimate": Door.OWNER,
    "owner_pages:photograph": Door.OWNER,
    "owner_pages:details": Door.OWNER,
    "owner_pages:correct_name": Door.OWNER,
    "owner_pages:withdraw_email": Door.OWNER,
    "owner_pages:confirm_email": Door.OWNER,
    "owner_pages:data": Door.OWNER,
    "owner_pages:data_copy": Door.OWNER,
    "owner_pages:data_ask": Door.OWNER,
    "owners:requests": DESK,
    "owners:request": DESK,
    "owners:owner": DESK,
    "owners:correct": DESK,
    "owners:ground": DESK,
    "owners:erase": MANAGER,
    # the demo's mail, on loopback
    "demo:mailbox": EVERYONE,
    "demo:mail": EVERYONE,
    "demo:mail_html": EVERYONE,
    # probes
    "serving:live": Door.PROBE,
    "serving:ready": Door.PROBE,
}


# After OWASP ASVS 5.0.0, 7.3.1 and 7.3.2: a tablet on a counter is left lying; nobody works for longer than a day.
SESSION_LIFE = timedelta(hours=12)
COUNTER_IDLE = timedelta(minutes=30)


def idle_life(role: str) -> timedelta:
    """How long a session stays open while nobody uses it."""
    return COUNTER_IDLE if role == Role.BOUTIQUE else SESSION_LIFE


def may_open(view_name: str, role: str | None) -> bool:
    """Whether a role (None: not signed in) may open the page of that name."""
    row = DOORS.get(view_name)
    if row is None:
        return False
    if isinstance(row, Door):
        return True
    return role in row
