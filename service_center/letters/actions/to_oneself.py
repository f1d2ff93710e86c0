"""A letter that a member of staff sends to themselves, to see it in their own mail program."""

import smtplib
from email.utils import make_msgid

from django.conf import settings
from django.core.mail.backends.smtp import EmailBackend
from django.utils.translation import gettext as _

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.letters.composing import letter as compose
from service_center.letters.composing.mail import Envelope, mail
from service_center.letters.composing.visit import calendar_of
from service_center.letters.rules.addressing import one_address

# Somebody waits before the page: nobody keeps them for the ten minutes that a letter may take.
SECONDS = 10


class NotSent(Exception):  # noqa: N818  # a refusal; the message is for the person who waits
    """The test letter did not go out. The message says why."""


def send_test(content: compose.Content, *, case: str, by: Staff) -> None:
    """Hand a letter over to the mail server, to the address of the member of staff.

    It is marked as a test; its links open nothing; no letter and no reminder is written. Raises NotSent.
    """
    address = one_address(by.email)
    if not address:
        raise NotSent(
            _("Your account has no e-mail address. Press your name at the top of the page and write it down there.")
        )
    if not settings.MAIL_CONFIGURED:
        raise NotSent(_("The house has no mail server yet (EMAIL_URL)."))
    leave_trail(by=by, deed="test_letter", subject=f"wording:{content.language}:{case}")
    _hand_over(_as_test(content, address, by), address)


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


def _hand_over(message: bytes, address: str) -> None:
    """By the same settings as letters go, without what a letter needs that must never go twice."""
    server = EmailBackend(timeout=SECONDS)
    try:
        server.open()
        if server.connection:
            # As text: smtplib then sees to the ends of its lines. It is of seven bits.
            server.connection.sendmail(settings.MAIL_FROM, [address], message.decode("ascii"))
    except smtplib.SMTPRecipientsRefused as error:
        raise NotSent(
            _("The mail server did not take it: %(why)s") % {"why": _words(*error.recipients[address])}
        ) from error
    except smtplib.SMTPResponseException as error:
        words = _words(error.smtp_code, error.smtp_error)
        raise NotSent(_("The mail server did not take it: %(why)s") % {"why": words}) from error
    except (OSError, ValueError) as error:  # every other error of smtplib is an OSError
        raise NotSent(
            _("The mail server cannot be reached: %(why)s") % {"why": error or type(error).__name__}
        ) from error
    finally:
        server.close()


def _words(code: int, text: bytes | str) -> str:
    return f"{code} {text.decode('utf-8', 'replace') if isinstance(text, bytes) else text}"
