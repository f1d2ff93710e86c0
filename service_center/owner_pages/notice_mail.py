"""The two mails about another e-mail address, as their readers see them."""

import css_inline
from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import translation
from django.utils.translation import gettext as _

from service_center.book.days import day_written
from service_center.book.wording import language_of
from service_center.letters.composing.mail import addressed, encoded_words
from service_center.letters.rules.addressing import one_line
from service_center.letters.rules.layout import wrapped
from service_center.letters.rules.return_path import mac
from service_center.owner_pages.models import Notice
from service_center.owner_pages.queries import zone_for
from service_center.owner_pages.rules import NoticeKind, last_day

_inliner = css_inline.CSSInliner(keep_style_tags=False, keep_at_rules=True, load_remote_stylesheets=False)


def as_mail(notice: Notice, *, to: str, secret: str) -> bytes:
    """The whole message. The mail to the address before names the new one only in part, and carries no secret."""
    owner = notice.change.owner
    language = language_of(owner)
    with translation.override(language):
        context = _context(notice, secret) | {"language": language}
        text = wrapped(render_to_string("owner_pages/mail/notice.txt", context))
        html = _inliner.inline(render_to_string("owner_pages/mail/notice.html", context))
    mail = EmailMultiAlternatives(
        subject=encoded_words(one_line(context["subject"]), header="Subject"),
        body=text,
        from_email=addressed(settings.HOUSE_NAME, settings.MAIL_FROM),
        to=[addressed(_name_told(notice), to)],
        headers={
            "Message-ID": _message_id(notice),
            "Auto-Submitted": "auto-generated",  # RFC 3834, 5
            "Content-Language": language,
        },
    )
    mail.attach_alternative(html, "text/html")
    return mail.message().as_bytes()


def _name_told(notice: Notice) -> str:
    """The owner's name for the address that is known to be theirs; a new one may be mistyped, and reach a stranger."""
    return notice.change.owner.name if notice.kind == NoticeKind.TELL_BEFORE else ""


def _message_id(notice: Notice) -> str:
    """The same for every copy of one notice (RFC 5322, 3.6.4)."""
    domain = settings.MAIL_FROM.rpartition("@")[2]
    return f"<notice.{notice.pk}.{mac('notice', notice.pk, settings.SECRET_KEY)}@{domain}>"


def _context(notice: Notice, secret: str) -> dict[str, str]:
    change = notice.change
    name = _name_told(notice)
    common = {
        "house_name": settings.HOUSE_NAME,
        "mail_from": settings.MAIL_FROM,
        "greeting": _("Dear %(name)s,") % {"name": name} if name else _("Good day,"),
    }
    said = {
        "house": settings.HOUSE_NAME,
        "email": masked(change.email),
        "day": day_written(last_day(change.expires_at, zone_for(change.owner, change.letter))),
    }
    if notice.kind == NoticeKind.CONFIRM:
        return common | {
            "subject": _("Please confirm your e-mail address"),
            "opening": _("On a page of %(house)s you gave this address for our letters to you.") % said,
            "what": _("Letters come here once you press the button behind this link, by %(day)s:") % said,
            "link": settings.SITE_URL + reverse("owner_pages:confirm_email", kwargs={"token": secret}),
            "label": _("Confirm this address"),
            "otherwise": _("If it was not you, there is nothing to do: nothing changes without that button."),
        }
    return common | {
        "subject": _("Another e-mail address was given for you"),
        "opening": _("On a page of %(house)s somebody gave another address for our letters to you: %(email)s.") % said,
        "what": _("Once it is confirmed from that mailbox, our letters go there and no longer here."),
        "link": "",
        "label": "",
        "otherwise": _("If it was not you, please answer this mail, so that we can prevent it."),
    }


def masked(email: str) -> str:
    """An address as somebody recognises it who knows it: `a•••@owners.example`."""
    local, _at, domain = email.rpartition("@")
    return f"{local[:1]}•••@{domain}"
