"""What Fernhollow makes, where it sells, and who works there. All of it invented."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Account:
    """One of the people a visitor can be. The passwords are no secret: these accounts exist in a demo alone."""

    username: str
    password: str
    role: str
    boutique: str
    name: str
    says: str


ACCOUNTS = (
    Account("counter", "fernhollow-counter", "boutique", "HAR", "Ida Marlcombe", "the counter at Harrowmere"),
    Account("desk", "fernhollow-desk", "desk", "", "Jonas Lindenthal", "the service desk"),
    Account("bench", "fernhollow-bench", "watchmaker", "", "Chloé Valfontaine", "the watchmaker"),
    Account("manager", "fernhollow-manager", "manager", "", "Mio Shirasaki", "the manager"),
)

BOUTIQUES = (
    {"boutique": "HAR", "name": "Harrowmere", "country": "GB", "time_zone": "Europe/London"},
    {"boutique": "EST", "name": "Port-Estrelle", "country": "FR", "time_zone": "Europe/Paris"},
    {"boutique": "KAZ", "name": "Kazenoura", "country": "JP", "time_zone": "Asia/Tokyo"},
)

CALIBRES = tuple(
    dict(
        zip(
            ("calibre", "winding", "beats_per_hour", "lift_angle_deg", "power_reserve_h", "complexity"),
            values,
            strict=True,
        )
    )
    for values in (
        ("FH-10", "hand", "21600", "49", "72", "simple"),
        ("FH-21", "automatic", "28800", "52", "48", "automatic"),
        ("FH-24", "automatic", "28800", "51", "70", "automatic"),
        ("FH-30", "automatic", "28800", "50", "60", "chronograph"),
        ("FH-40", "automatic", "21600", "48", "55", "complicated"),
    )
)


@dataclass(frozen=True, slots=True)
class Model:
    """One reference, and how often it is sold beside the others."""

    reference: str
    name: str
    calibre: str
    rated_bar: str
    divers: bool
    case_material: str
    share: int

    def row(self) -> dict[str, str]:
        """Its line of models.csv."""
        return {
            "reference": self.reference,
            "name": self.name,
            "calibre": self.calibre,
            "rated_bar": self.rated_bar,
            "divers": "yes" if self.divers else "no",
            "case_material": self.case_material,
        }


MODELS = (
    Model("SK-2101", "Skerry", "FH-21", "30", divers=True, case_material="steel", share=24),
    Model("SK-2107", "Skerry Deep", "FH-24", "60", divers=True, case_material="titanium", share=7),
    Model("SL-2401", "Slipway", "FH-24", "10", divers=False, case_material="steel", share=22),
    Model("SL-2404", "Slipway Twilight", "FH-24", "10", divers=False, case_material="bronze", share=8),
    Model("HR-2103", "Heronry", "FH-21", "5", divers=False, case_material="steel", share=14),
    Model("WG-3001", "Weirgate", "FH-30", "10", divers=False, case_material="steel", share=12),
    Model("LK-1001", "Lanternkeeper", "FH-10", "3", divers=False, case_material="rose gold", share=7),
    # A dress piece without a rating: no tightness check, whatever becomes of it.
    Model("LK-1004", "Lanternkeeper Slim", "FH-10", "", divers=False, case_material="white gold", share=3),
    Model("TW-4001", "Tidewright", "FH-40", "3", divers=False, case_material="platinum", share=3),
)

# The house's own rules: those of the trade, and a shorter overhaul for the chronograph from 2021 on.
RULES = tuple(
    dict(
        zip(
            (
                "rule", "kind", "scope", "scope_value", "use", "opens_months", "due_months", "closes_months",
                "in_force_from", "covers_running",
            ),
            values,
            strict=True,
        )
    )
    for values in (
        ("overhaul", "overhaul", "house", "", "any", "72", "84", "96", "2010-01-01", "yes"),
        ("overhaul-chronograph", "overhaul", "calibre", "FH-30", "any", "60", "72", "84", "2021-01-01", "no"),
        ("tightness", "tightness", "house", "", "any", "11", "12", "15", "2010-01-01", "yes"),
        ("tightness-in-water", "tightness", "house", "", "in_water", "5", "6", "9", "2010-01-01", "yes"),
    )
)  # fmt: skip

SKILLS = tuple(
    {"skill": skill, "hours_a_week": hours, "in_force_from": "2020-01-06"}
    for skill, hours in (("simple", "24"), ("automatic", "96"), ("chronograph", "38"), ("complicated", "18"))
)
