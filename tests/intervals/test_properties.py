"""What holds for every history."""

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from service_center.book.rules import EntryKind, ServiceKind, Tightness, Use
from service_center.intervals.rules import HOUSE_DEFAULTS, Due, Entry, PieceFacts, due_dates, state_on
from tests.intervals.facts import piece

DAYS = st.dates(date(2010, 1, 1), date(2026, 3, 1))
ENTRIES = st.builds(
    Entry,
    code=st.text("ABCDEFGH", min_size=8, max_size=8),
    done_on=DAYS,
    kind=st.sampled_from(EntryKind),
    case_opened=st.booleans(),
    tightness=st.sampled_from(Tightness),
    counts=st.booleans(),
)
PIECES = st.builds(
    lambda history, made, stock, use: piece(
        *history, made=made and str(made), sold=made and str(made + timedelta(days=stock)), use=use
    ),
    st.lists(ENTRIES, max_size=6, unique_by=lambda entry: entry.code),
    st.none() | st.dates(date(2000, 1, 1), date(2012, 1, 1)),
    st.integers(0, 3000),
    st.none() | st.sampled_from(Use),
)


def dues(facts: PieceFacts, as_of: date) -> dict[ServiceKind, Due]:
    return {due.kind: due for due in due_dates(facts, HOUSE_DEFAULTS, as_of, shelf_months=36)}


@given(PIECES, st.integers(0, 2000), st.sampled_from(EntryKind))
def test_due_dates_never_go_back_when_a_later_service_is_added(facts, later, kind) -> None:
    as_of = date(2032, 1, 1)
    last = max([facts.sold_on or date(2012, 1, 1), *(entry.done_on for entry in facts.history)])
    service = Entry(
        code="ZZZZZZZZZ",
        done_on=last + timedelta(days=later),
        kind=kind,
        case_opened=True,
        tightness=Tightness.PASSED,
        counts=True,
    )
    served = PieceFacts(
        serial=facts.serial,
        reference=facts.reference,
        calibre=facts.calibre,
        rated=facts.rated,
        made_on=facts.made_on,
        sold_on=facts.sold_on,
        use=facts.use,
        status=facts.status,
        moves=facts.moves,
        history=(*facts.history, service),
    )
    before, after = dues(facts, as_of), dues(served, as_of)
    for one in before:
        was, now = before[one].due_on, after[one].due_on
        assert was is None or (now is not None and now >= was)


@given(PIECES, DAYS)
def test_opens_due_and_closes_never_change_places_and_a_start_is_never_ahead(facts, as_of) -> None:
    for due in dues(facts, as_of).values():
        if due.start is None:
            assert state_on(as_of, due) in {"no_start", "held"}
            continue
        assert due.start.on <= as_of
        assert due.opens_on is not None
        assert due.due_on is not None
        assert due.closes_on is not None
        assert due.opens_on <= due.due_on <= due.closes_on


@given(PIECES, DAYS, st.randoms())
def test_the_order_in_which_entries_were_written_changes_nothing(facts, as_of, shuffle) -> None:
    mixed = list(facts.history)
    shuffle.shuffle(mixed)
    other = piece(
        *mixed,
        made=facts.made_on and str(facts.made_on),
        sold=facts.sold_on and str(facts.sold_on),
        use=facts.use,
    )
    assert dues(facts, as_of) == dues(other, as_of)
