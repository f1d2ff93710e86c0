"""Amounts of money as people write and read them. Never a float."""

from decimal import Decimal, InvalidOperation

from babel.numbers import get_currency_precision, get_territory_currencies, is_currency
from django.conf import settings
from django.core.exceptions import ValidationError
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from service_center.papers.amounts import amount_written

MOST = Decimal("99999999.99")


def amount_or_none(text: str, currency: str) -> Decimal | None:
    """An amount as people type it: 1200, 1'200.50, 1 200,50. None for nothing. ValidationError for anything else.

    A last comma or full stop with one or two digits behind it is the decimal mark; with three it parts thousands.
    """
    plain = "".join(text.split()).replace("'", "").replace("\N{RIGHT SINGLE QUOTATION MARK}", "")
    if not plain:
        return None
    head, mark, tail = _cut(plain)
    digits = head.replace(",", "").replace(".", "")
    try:
        amount = Decimal(f"{digits}.{tail}" if mark else digits) if (digits + tail).isascii() else Decimal("NaN")
    except InvalidOperation:
        amount = Decimal("NaN")
    if not amount.is_finite() or not (digits + tail).isdigit():
        raise ValidationError(_("“%(text)s” is no amount of money."), params={"text": text[:20]})
    if amount > MOST:
        raise ValidationError(_("That is more than the house can note."))
    decimals = get_currency_precision(currency)
    if len(tail) > decimals and tail.strip("0"):
        raise ValidationError(
            _("%(currency)s has %(decimals)s decimals."), params={"currency": currency, "decimals": decimals}
        )
    return amount.quantize(Decimal("0.01"))


def _cut(plain: str) -> tuple[str, str, str]:
    place = max(plain.rfind(","), plain.rfind("."))
    tail = plain[place + 1 :]
    return (plain[:place], plain[place], tail) if place >= 0 and len(tail) <= 2 else (plain, "", "")


def written(amount: Decimal, currency: str) -> str:
    """An amount in the language that is active."""
    return amount_written(amount, currency, get_language() or "en")


def typed(amount: Decimal | None, currency: str) -> str:
    """An amount as it stands in a field, in plain digits."""
    return "" if amount is None else f"{amount:.{get_currency_precision(currency)}f}"


def currencies(country: str) -> list[str]:
    """The currencies offered at a boutique: its country's, then the house's (ISO 4217)."""
    there = get_territory_currencies(country) if country else []
    known = [one for one in [*there, settings.HOUSE_CURRENCY] if is_currency(one)]
    return list(dict.fromkeys(known))
