"""What an owner signs: everything that was noted, promised and agreed, as plain text in their language.

The page shows these very lines, and the signature keeps them with their SHA-256. The receipt says the same with the
same words. Texts come out in the language that is active.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from hashlib import sha256

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from service_center.book.days import day_written
from service_center.book.models import Boutique, Owner, Piece
from service_center.book.wording import listed, said_of
from service_center.guarantee import words
from service_center.guarantee.rules import Decision
from service_center.intake import money
from service_center.intake.rules import Asked, Caution, Condition, Estimate, Line, Noted, Price
from service_center.intake.wording import ASKED, CAUTIONS, GRADES, PARTS, TERMS


@dataclass(frozen=True, slots=True)
class Told:
    """All that a statement speaks of. `owner` None: not known, or not to be shown before the piece is taken in."""

    piece: Piece
    owner: Owner | None
    boutique: Boutique
    taken_on: date
    asked: Sequence[Asked]
    owner_says: str
    left_with: str
    noted: Noted
    photographs: int
    readings: int
    dry: Sequence[bool]
    decision: Decision
    cautions: Sequence[Caution]


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and its lines, each a text."""

    heading: str
    lines: tuple[str, ...]


def statement(told: Told) -> list[Section]:
    """The statement, section by section; empty ones are left out."""
    piece = told.piece
    model = f"{piece.model} ({piece.model.reference}), {piece.serial}" if piece.model else piece.serial
    brought = _("Taken in on %(day)s at %(boutique)s") % {
        "day": day_written(told.taken_on),
        "boutique": told.boutique,
    }
    all_asked = listed(str(ASKED[one]) for one in told.asked)
    sections = [
        Section(_("The piece"), (model, *([str(told.owner)] if told.owner else []), brought)),
        Section(_("You ask for"), (all_asked,) if all_asked else ()),
        Section(_("What you told us"), (told.owner_says,) if told.owner_says else ()),
        Section(_("Condition"), condition_lines(told.noted.condition)),
        Section(_("Photographs and readings"), _taken(told)),
        Section(_("Left with it"), (told.left_with,) if told.left_with else ()),
        Section(_("Declared value"), (declared_line(told.noted),) if told.noted.declared else ()),
        Section(_("Guarantee"), (words.name_of(told.decision.covered_by), words.sentence(told.decision))),
        Section(_("Rough estimate"), estimate_lines(told.noted.estimate)),
        Section(_("When it is ready"), promise_lines(told.noted.promised_on)),
        Section(_("Good to know"), (*map(str, TERMS), *(str(CAUTIONS[one]) for one in told.cautions))),
        Section("", (words.statutory_note(),)),
    ]
    return [section for section in sections if section.lines]


def text_of(sections: Sequence[Section]) -> str:
    """The statement as one text, as it is kept and hashed."""
    blocks = ("\n".join((*([section.heading] if section.heading else []), *section.lines)) for section in sections)
    return "\n\n".join(blocks).replace("\r\n", "\n") + "\n"


def sha256_of(text: str) -> str:
    """The mark of a text, in hexadecimal."""
    return sha256(text.encode()).hexdigest()


def condition_lines(condition: Condition) -> tuple[str, ...]:
    """What stands out, part by part, and one line for the rest. Empty where nobody looked."""
    if not condition.parts:
        return ()
    found = condition.standing_out
    if not found:
        return (_("All parts as worn, no marks to note."),)
    lines = [
        said_of(str(PARTS[one.part]), str(GRADES[one.grade])) + (f" ({one.remark})" if one.remark else "")
        for one in found
    ]
    rest = len(condition.parts) - len(found)
    return (*lines, *([_("All other parts as worn, no marks to note.")] if rest else []))


def declared_line(noted: Noted) -> str:
    """The declared value as it is written; empty where none was declared."""
    return money.written(noted.declared.amount, noted.declared.currency) if noted.declared else ""


def line_words(line: Line, currency: str) -> str:
    """What one line of an estimate comes to."""
    if line.because is Price.GUARANTEE:
        return _("nothing, under the guarantee, unless the workshop finds wear, an accident or work by others")
    return _("to be estimated after opening") if line.amount is None else money.written(line.amount, currency)


def estimate_lines(estimate: Estimate | None) -> tuple[str, ...]:
    """The estimate, line by line, with its sum and what it means. Empty for none."""
    if estimate is None or not estimate.lines:
        return ()
    lines = [said_of(str(ASKED[one.asked]), line_words(one, estimate.currency)) for one in estimate.lines]
    if len(estimate.lines) > 1 and estimate.is_whole:
        lines.append(_("Together: %(sum)s") % {"sum": money.written(estimate.total, estimate.currency)})
    lines.append(_("An estimate, before the case is opened. We ask you before it costs more."))
    return tuple(lines)


def promise_lines(promised_on: date | None) -> tuple[str, ...]:
    """The promised day, and what kind of promise it is. Empty for none."""
    if promised_on is None:
        return ()
    return (
        _("Promised for %(day)s.") % {"day": day_written(promised_on)},
        _("Such work is usually ready by then. We tell you as soon as it changes."),
    )


def dry_line(results: Sequence[bool]) -> str:
    """How the test in air at the counter ended; empty where none was made. `results`: in their order."""
    if not results:
        return ""
    if all(results):
        return _("Tightness test in air at the counter: passed. It speaks of that moment only.")
    return _("Tightness test in air at the counter: not passed. Keep the watch away from water.")


def _taken(told: Told) -> tuple[str, ...]:
    pictures = ngettext("%(count)s photograph was taken.", "%(count)s photographs were taken.", told.photographs)
    neither = _("Readings and the tightness test will be taken at the workshop.")
    readings = _("Readings were taken at the counter.") if told.readings else "" if told.dry else neither
    return (
        pictures % {"count": told.photographs} if told.photographs else _("No photograph was taken."),
        *(line for line in (readings, dry_line(told.dry)) if line),
    )
