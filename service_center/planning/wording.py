"""Words of planning as staff read them."""

from django.utils.translation import gettext_lazy as _

SKILLS = {
    "simple": _("Simple"),
    "automatic": _("Automatic"),
    "chronograph": _("Chronograph"),
    "complicated": _("Complicated"),
}
