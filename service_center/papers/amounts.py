"""An amount of money as papers and pages write it, in any language."""

import re
from decimal import Decimal

from babel.core import Locale
from babel.numbers import format_currency

# CLDR, currencySpacing: a no-break space between a currency that ends with a letter and the digits beside it. Babel
# leaves it out where the language's pattern has none: CHF480.00, CHF1,264.50.
_BESIDE = re.compile(r"(?<=[^\W\d_])(?=\d)|(?<=\d)(?=[^\W\d_])")
NO_BREAK_SPACE = "\N{NO-BREAK SPACE}"


def amount_written(amount: Decimal, currency: str, language: str) -> str:
    """An amount in a currency (ISO 4217) and a language ("en", "zh-hans"): £480.00, CHF 480.00, 480,00 CHF."""
    text: str = format_currency(amount, currency, locale=Locale.parse(language.replace("-", "_")))
    return _BESIDE.sub(NO_BREAK_SPACE, text)
