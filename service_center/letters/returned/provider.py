"""What a mail provider tells by calling us. django-anymail knows how each signs, and what its words mean.

Only providers whose calls are signed. The library's own view tells by signals whoever listens; here its two halves are
used apart, the check of the signature when a call comes and the reading of its events afterwards, in the sweep.
"""

import io
import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from anymail.exceptions import AnymailWebhookValidationFailure
from anymail.signals import AnymailTrackingEvent, EventType, RejectReason
from anymail.webhooks.base import AnymailBaseWebhookView
from anymail.webhooks.mailgun import MailgunTrackingWebhookView
from anymail.webhooks.mandrill import MandrillCombinedWebhookView
from django.core.handlers.wsgi import WSGIRequest
from django.http import HttpRequest

from service_center.letters.rules.addressing import one_line
from service_center.letters.rules.bounces import Happened, fault_told
from service_center.letters.rules.codes import Fault, most_telling


@dataclass(frozen=True, slots=True)
class Provider:
    """How calls are read, under which name the library takes the key, and the header that takes a word along."""

    view: type[AnymailBaseWebhookView]
    key: str
    header: str


PROVIDERS = {
    "mailgun": Provider(MailgunTrackingWebhookView, "webhook_signing_key", "X-Mailgun-Variables"),
    "mandrill": Provider(MandrillCombinedWebhookView, "webhook_key", "X-MC-Metadata"),
}
# Being opened and followed is the owner's own affair: it is neither read nor kept.
HAPPENED = {
    EventType.BOUNCED: Happened.FAILED,
    EventType.REJECTED: Happened.FAILED,
    EventType.FAILED: Happened.FAILED,
    EventType.DEFERRED: Happened.DELAYED,
    EventType.SENT: Happened.RELAYED,
    EventType.DELIVERED: Happened.DELIVERED,
    EventType.COMPLAINED: Happened.COMPLAINED,
    EventType.UNSUBSCRIBED: Happened.UNSUBSCRIBED,
}
# What a provider says without a code of RFC 3463.
REASONS = {
    RejectReason.INVALID: Fault.ADDRESS,
    RejectReason.BOUNCED: Fault.ADDRESS,
    RejectReason.BLOCKED: Fault.POLICY,
    RejectReason.SPAM: Fault.WISH,
    RejectReason.UNSUBSCRIBED: Fault.WISH,
}


class NotSigned(Exception):  # noqa: N818  # what is missing
    """The call does not bear the provider's signature."""


@dataclass(frozen=True, slots=True)
class Event:
    """One thing a call says. `names` is where the letter is named; `at` None: the call does not say when."""

    names: str
    happened: Happened
    at: datetime | None
    status: str
    words: str
    fault: Fault


def header_for(provider: str, message_id: str) -> dict[str, str]:
    """The header that makes a provider name the letter in its calls, also where it gives it a Message-ID of its own."""
    known = PROVIDERS.get(provider)
    return {known.header: json.dumps({"letter": message_id.strip("<>").split("@")[0]})} if known else {}


def check_signature(request: HttpRequest, *, provider: str, key: str) -> None:
    """Raise NotSigned unless the provider that has the key made this call."""
    known = PROVIDERS[provider]
    try:
        known.view(**{known.key: key}).run_validators(request)
    except (AnymailWebhookValidationFailure, UnicodeError, TypeError) as error:
        raise NotSigned(str(error)) from error


def events_in(*, provider: str, content_type: str, body: bytes) -> list[Event]:
    """What a call says, of those things that matter here. Raises whatever a call of another form makes it raise."""
    known = PROVIDERS[provider]
    request = WSGIRequest(
        {
            "REQUEST_METHOD": "POST",
            "CONTENT_TYPE": content_type,
            "CONTENT_LENGTH": str(len(body)),
            "wsgi.input": io.BytesIO(body),
        }
    )
    view = known.view(**{known.key: "checked when it came"})
    return [told for event in view.parse_events(request) for told in _told(event)]


def _told(event: AnymailTrackingEvent) -> Iterator[Event]:
    happened = HAPPENED.get(event.event_type)
    if happened is None:
        return
    words = one_line(event.mta_response or event.description or "")
    status = most_telling(words)
    fault = fault_told(happened, status)
    if happened is Happened.FAILED and (status is None or not status.says_why):
        # A message that the provider itself could not make or did not take is the house's to mend.
        ours = Fault.MESSAGE if event.event_type == EventType.FAILED else fault
        fault = REASONS.get(event.reject_reason, ours)
    names = f"{event.message_id or ''} {(event.metadata or {}).get('letter', '')}"
    code = str(status or "")
    yield Event(names, happened, event.timestamp, code, words, fault)
    if happened is Happened.FAILED and event.reject_reason in (RejectReason.SPAM, RejectReason.UNSUBSCRIBED):
        yield Event(names, Happened.UNSUBSCRIBED, event.timestamp, "", words, Fault.WISH)
