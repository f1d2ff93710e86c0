"""A letter that a member of staff sends to themselves, to see it in their own mail program."""

from dataclasses import replace
from email.utils import make_msgid

from django.conf import settings
from django.utils.translation import gettext as _

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.letters import compose
from service_center.letters.compose_mail import Envelope, mail
from service_center.letters.compose_visit import calendar_of
from service_center.letters.rules.addressing import one_address
from service_center.letters.rules.handing import Phase
from service_center.letters.smtp import Line, MailServer, NoLine, on_the_wire

# Somebody waits before the page: nobody keeps them for the ten minutes that a letter may take.
COMMAND_SECONDS, DOT_SECONDS = 10.0, 20.0


class NotSent(Exception):  # noqa: N818  # a refusal; the message is for the person who waits
    """The test letter did not go out. The message says why."""


def send_test(content: compose.Content, *, case: str, by: Staff) -> str:
    """Hand a letter over to the mail server, to the address of the member of staff, and give back the server's words.

    It is marked as a test; its links open nothing; no letter and no reminder is written. Raises NotSent.
    """
    address = one_address(by.email)
    if not address:
        raise NotSent(
            _("Your account has no e-mail address. Whoever runs the machine adds one: manage.py staff_address.")
        )
    if not settings.MAIL_CONFIGURED:
        raise NotSent(_("The house has no mail server yet (EMAIL_URL)."))
    leave_trail(by=by, deed="test_letter", subject=f"wording:{content.language}:{case}")
    server = replace(MailServer.of_the_house(), command_seconds=COMMAND_SECONDS, dot_seconds=DOT_SECONDS)
    return _hand_over(_as_test(content, address, by), address, server)


def _as_test(content: compose.Content, address: str, by: Staff) -> bytes:
    links = compose.masked_links()
    written = compose.write(content, links)
    message_id = make_msgid(idstring="test", domain=settings.MAIL_FROM.rpartition("@")[2])
    attached = calendar_of(content) if isinstance(content, compose.VisitContent) else []
    return mail(
        _("[Test] %(subject)s") % {"subject": written.subject},
        written.text,
        written.html,
        Envelope(by.get_full_name(), address, message_id, content.language, stop_link=""),
        attached=attached,
    )


def _hand_over(message: bytes, address: str, server: MailServer) -> str:
    try:
        line = Line(server)
    except NoLine as error:
        raise NotSent(_("The mail server cannot be reached: %(why)s") % {"why": error}) from error
    try:
        outcome = line.hand_over(
            sender=settings.MAIL_FROM, recipient=address, message=on_the_wire(message), before_dot=lambda: True
        )
    finally:
        line.close()
    if outcome is None or outcome.code is None or outcome.phase is not Phase.DOT or not 200 <= outcome.code <= 299:
        words = outcome.text if outcome else ""
        raise NotSent(_("The mail server did not take it: %(why)s") % {"why": words})
    return outcome.text
