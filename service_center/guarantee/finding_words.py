"""Findings in words, and why they are covered or not, in the language that is active. What an owner may read too."""

from django.utils.translation import gettext as _

from service_center.guarantee.rules import Finding, FindingDecision, Row


def names() -> dict[Finding, str]:
    """What each finding is called."""
    return {
        Finding.MANUFACTURE: _("A fault of manufacture"),
        Finding.OUR_WORK: _("A fault of our own work"),
        Finding.WATER: _("Water inside, the yearly checks kept"),
        Finding.WATER_AFTER_MISSED_CHECK: _("Water inside after a missed check"),
        Finding.WEAR: _("Worn parts: strap, clasp, crystal, plating, gaskets"),
        Finding.CELL: _("An empty cell"),
        Finding.ACCIDENT: _("A fall, a blow or misuse"),
        Finding.OPENED_BY_OTHERS: _("Opened by somebody else"),
        Finding.MAGNETISM: _("Magnetised"),
        Finding.WITHIN_TOLERANCE: _("A rate within the calibre's limits"),
        Finding.ALTERED_NUMBER: _("The serial number is missing or was altered"),
    }


def because(said: FindingDecision, row: Row) -> str:
    """Why a finding is covered or not: that no guarantee runs, the house's own words, or the usual ones."""
    if not said.runs:
        return _("No guarantee was running on that day.")
    if row.reason:
        return row.reason
    if said.covered:
        return _covered()[said.finding]
    return _not_covered()[said.finding]


def _covered() -> dict[Finding, str]:
    usual = _("The guarantee that was running covers it.")
    return {
        **dict.fromkeys(Finding, usual),
        Finding.MANUFACTURE: _("The guarantee covers faults of manufacture."),
        Finding.OUR_WORK: _("We answer for our own work and the parts fitted then."),
        Finding.WATER: _("The case should have kept the water out, and the yearly checks were kept."),
    }


def _not_covered() -> dict[Finding, str]:
    usual = _("The guarantee that was running does not cover it.")
    return {
        **dict.fromkeys(Finding, usual),
        Finding.MANUFACTURE: _("Only the guarantee on our work was running; it covers that work, not the making."),
        Finding.WATER_AFTER_MISSED_CHECK: _(
            "Gaskets age; without the yearly check nobody knew whether the case was still tight."
        ),
        Finding.WEAR: _("These parts wear with use, and a guarantee does not cover wear."),
        Finding.CELL: _("A cell runs empty with use."),
        Finding.ACCIDENT: _("A guarantee does not cover accidents and misuse."),
        Finding.OPENED_BY_OTHERS: _("We cannot answer for what was changed by other hands."),
        Finding.MAGNETISM: _("A magnet nearby did this; the piece itself has no fault."),
        Finding.WITHIN_TOLERANCE: _("The piece runs as it should."),
        Finding.ALTERED_NUMBER: _("Without its number we cannot tell that this is the piece we promised it for."),
    }
