"""The statement that works out due dates for a range of pieces: one text, with the few words each database says its way.

It gives the columns of `COLUMNS`, a row a piece and kind. It reads the temporary tables of setwise.py and needs the
parameters `first` and `last` (keys of pieces), `as_of` (ISO day), `before` (the moment after that day ends),
`shelf_months` and `no_start` (ISO day).
"""

from dataclasses import dataclass

COLUMNS = (
    "piece_id", "kind", "starts_on", "start_fact", "start_entry_id", "rule_id", "opens_on", "due_on", "closes_on",
    "owed_since", "owed_entry_id", "held", "boutique_id",
)  # fmt: skip

# Below every character that a code can hold, so that keys sort by day, then code.
MARK = "\x01"


@dataclass(frozen=True, slots=True)
class Words:
    """How one database says what the other says differently. Each is a format string."""

    day_text: str
    day_of: str
    key_of: str
    add_months: str
    by_character: str


WORDS = {
    "postgresql": Words(
        day_text="{0}::text",
        day_of="substr({0}, 1, 10)::date",
        key_of="split_part({0}, %(mark)s, 2)::bigint",
        # An interval of months stops at the end of a shorter month.
        add_months="({0} + make_interval(months => {1}))::date",
        by_character='{0} COLLATE "C"',
    ),
    "sqlite": Words(
        day_text="{0}",
        day_of="substr({0}, 1, 10)",
        key_of="CAST(substr({0}, instr({0}, %(mark)s) + 1) AS INTEGER)",
        # Days beyond a shorter month would run into the next one; the smaller of the two is the day that is meant.
        add_months=(
            "min(date({0}, 'start of month', ({1}) || ' months', (substr({0}, 9, 2) - 1) || ' days'), "
            "date({0}, 'start of month', ({1} + 1) || ' months', '-1 day'))"
        ),
        by_character="{0}",
    ),
}

# Stored rows of a kind that no longer applies to the piece: its model lost its rating, or no rule matches it. What ties
# it to the stored row stands in WHERE alone: PostgreSQL makes a join of it only then, else a search for every row.
INAPPLICABLE = """
DELETE FROM intervals_duedate WHERE piece_id BETWEEN %(first)s AND %(last)s AND NOT EXISTS (
    SELECT 1 FROM book_piece p
    JOIN due_class c ON c.model_id = COALESCE(p.model_id, 0) AND c.worn = p.use
    LEFT JOIN due_own_class o ON o.piece_id = p.id
    LEFT JOIN book_watchmodel m ON m.id = p.model_id
    JOIN due_span r ON r.class = COALESCE(o.class, c.class)
    WHERE p.id = intervals_duedate.piece_id AND r.kind = intervals_duedate.kind
        AND p.id BETWEEN %(first)s AND %(last)s AND (r.kind = 'overhaul' OR m.rated_bar IS NOT NULL)
)"""


def due_rows(vendor: str) -> str:
    """The SELECT for one database, as rules/start.py, rules/choosing.py and rules/due.py say it."""
    say = WORDS[vendor]
    key = say.by_character.format(f"({say.day_text.format('h.done_on')} || h.code || %(mark)s || h.id)")
    shelf_ends = say.add_months.format("p.made_on", "CAST(%(shelf_months)s AS integer)")
    dates = {name: say.add_months.format("s.starts_on", f"r.{name}") for name in ("opens", "due", "closes")}
    return f"""
WITH dated AS (
    SELECT p.id, p.boutique_id, p.model_id, p.use, p.status,
        CASE WHEN p.made_on <= %(as_of)s THEN p.made_on END AS made_on,
        CASE WHEN p.sold_on <= %(as_of)s THEN p.sold_on END AS sold_on
    FROM book_piece p
    WHERE p.id BETWEEN %(first)s AND %(last)s AND p.id NOT IN (SELECT piece_id FROM due_left_out)
), known AS (
    SELECT h.piece_id, h.done_on, {key} AS entry,
        h.kind = 'overhaul' AND (h.done_by = 'own' OR COALESCE(h.accepted, false)) AS overhauled,
        h.tightness = 'passed' AND (h.done_by = 'own' OR COALESCE(h.accepted, false)) AS passed,
        h.tightness = 'failed' AS failed,
        COALESCE(h.case_opened, false) AS opened
    FROM book_historyentry h
    WHERE h.piece_id BETWEEN %(first)s AND %(last)s AND h.done_on <= %(as_of)s
        AND h.id NOT IN (
            SELECT voids_id FROM book_historyentry
            WHERE voids_id IS NOT NULL AND piece_id BETWEEN %(first)s AND %(last)s AND done_on <= %(as_of)s)
), settled AS (
    SELECT known.*, max(CASE WHEN passed THEN done_on END) OVER (PARTITION BY piece_id) AS last_pass FROM known
), latest AS (
    SELECT s.piece_id, max(CASE WHEN s.overhauled THEN s.entry END) AS overhaul,
        max(CASE WHEN s.passed THEN s.entry END) AS pass,
        min(CASE WHEN ((s.opened AND NOT s.passed) OR s.failed)
            AND s.done_on > COALESCE(s.last_pass, d.sold_on, d.made_on) THEN s.entry END) AS owed
    FROM settled s JOIN dated d ON d.id = s.piece_id
    GROUP BY s.piece_id
), held AS (
    SELECT piece_id, place FROM (
        SELECT piece_id, place, row_number() OVER (PARTITION BY piece_id ORDER BY since DESC, id DESC) AS back
        FROM book_custody WHERE piece_id BETWEEN %(first)s AND %(last)s AND since < %(before)s
    ) moves WHERE back = 1 AND place <> 'owner'
), pieces AS (
    SELECT p.id, p.boutique_id, COALESCE(o.class, c.class) AS class, m.rated_bar IS NOT NULL AS rated,
        CASE WHEN p.status NOT IN ('', 'in_use') THEN p.status WHEN held.place IS NOT NULL THEN 'workshop' ELSE '' END
            AS held,
        p.made_on, p.sold_on, CASE WHEN p.sold_on > {shelf_ends} THEN {shelf_ends} END AS shelf_ends,
        latest.overhaul, latest.pass, latest.owed
    FROM dated p
    JOIN due_class c ON c.model_id = COALESCE(p.model_id, 0) AND c.worn = p.use
    LEFT JOIN due_own_class o ON o.piece_id = p.id
    LEFT JOIN book_watchmodel m ON m.id = p.model_id
    LEFT JOIN latest ON latest.piece_id = p.id
    LEFT JOIN held ON held.piece_id = p.id
), starts AS (
    SELECT id, boutique_id, class, held, 'overhaul' AS kind, overhaul AS entry, NULL AS owed,
        COALESCE({say.day_of.format("overhaul")}, shelf_ends, sold_on, made_on) AS starts_on,
        CASE WHEN overhaul IS NOT NULL THEN 'overhaul' WHEN shelf_ends IS NOT NULL THEN 'shelf'
            WHEN sold_on IS NOT NULL THEN 'sale' WHEN made_on IS NOT NULL THEN 'making' ELSE '' END AS start_fact
    FROM pieces
    UNION ALL
    SELECT id, boutique_id, class, held, 'tightness', pass, owed,
        COALESCE({say.day_of.format("pass")}, sold_on, made_on),
        CASE WHEN pass IS NOT NULL THEN 'pass' WHEN sold_on IS NOT NULL THEN 'sale'
            WHEN made_on IS NOT NULL THEN 'making' ELSE '' END
    FROM pieces WHERE rated
), told AS (
    SELECT s.id, s.boutique_id, s.kind, s.held, s.starts_on, s.start_fact, s.entry, s.owed, r.rule_id,
        {dates["opens"]} AS opens_on, {dates["due"]} AS due_on, {dates["closes"]} AS closes_on,
        {say.day_of.format("s.owed")} AS owed_since
    FROM starts s
    JOIN due_span r ON r.class = s.class AND r.kind = s.kind
        AND COALESCE(s.starts_on, %(no_start)s) BETWEEN r.first_start AND r.last_start
)
SELECT id AS piece_id, kind, starts_on, start_fact, {say.key_of.format("entry")} AS start_entry_id, rule_id,
    COALESCE(owed_since, opens_on) AS opens_on, COALESCE(owed_since, due_on) AS due_on,
    COALESCE(owed_since, closes_on) AS closes_on,
    owed_since, {say.key_of.format("owed")} AS owed_entry_id, held, boutique_id
FROM told WHERE true"""  # noqa: S608  # our own words; every value is a parameter
