"""Words of the shelf."""

from django.utils.translation import gettext_lazy as _

from service_center.workshop.parts.rules import PartSort, StockReason

SORTS = {
    PartSort.GASKET: _("Gasket"),
    PartSort.MAINSPRING: _("Mainspring"),
    PartSort.CROWN: _("Crown"),
    PartSort.CRYSTAL: _("Crystal"),
    PartSort.CELL: _("Cell"),
    PartSort.STRAP: _("Strap or bracelet"),
    PartSort.MOVEMENT: _("Movement part"),
    PartSort.CASE: _("Case part"),
}

REASONS = {
    StockReason.USED: _("used"),
    StockReason.DELIVERED: _("delivered"),
    StockReason.COUNTED: _("counted"),
    StockReason.SPOILT: _("spoilt"),
}
