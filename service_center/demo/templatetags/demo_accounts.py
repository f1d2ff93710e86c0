"""The accounts of the demo, for the sign-in page."""

from django import template

from service_center.demo.rules.house import ACCOUNTS, Account

register = template.Library()


@register.simple_tag
def demo_accounts() -> tuple[Account, ...]:
    """Who a visitor of the demo can be."""
    return ACCOUNTS
