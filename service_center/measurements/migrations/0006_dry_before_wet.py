"""Tests and running times are facts; and no result in water comes before the dry tests passed, whoever writes."""

from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

from service_center.access.insert_only import GuardsTable, insert_only

TABLE = "measurements_tightnessresult"
FAILED = f"EXISTS (SELECT 1 FROM {TABLE} r WHERE r.run_id = NEW.run_id AND NOT r.passed)"
DRY_PASSED = (
    f"(SELECT COUNT(*) FROM {TABLE} r WHERE r.run_id = NEW.run_id AND r.passed "
    "AND r.test IN ('look', 'dry_vacuum', 'dry_pressure'))"
)
DRY_PLANNED = "(SELECT CASE WHEN t.vacuum_first THEN 3 ELSE 2 END FROM measurements_tightnessrun t WHERE t.id = NEW.run_id)"
RULES = {
    "a failed test ends a run: begin a new one in air": FAILED,
    "no test in water before the dry tests passed": (
        f"NEW.test IN ('water', 'condensation') AND {DRY_PASSED} < {DRY_PLANNED}"
    ),
}


def guard(schema_editor: BaseDatabaseSchemaEditor) -> None:
    if schema_editor.connection.vendor == "postgresql":
        checks = " ".join(f"IF {when} THEN RAISE EXCEPTION '{why}'; END IF;" for why, when in RULES.items())
        schema_editor.execute(
            f"CREATE FUNCTION {TABLE}_in_order() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN {checks} RETURN NEW; END $$"
        )
        schema_editor.execute(
            f"CREATE TRIGGER {TABLE}_in_order BEFORE INSERT ON {TABLE} FOR EACH ROW EXECUTE FUNCTION {TABLE}_in_order()"
        )
        return
    for number, (why, when) in enumerate(RULES.items()):
        schema_editor.execute(
            f"CREATE TRIGGER {TABLE}_in_order_{number} BEFORE INSERT ON {TABLE} WHEN {when} "
            f"BEGIN SELECT RAISE(ABORT, '{why}'); END"
        )


def release(schema_editor: BaseDatabaseSchemaEditor) -> None:
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(f"DROP TRIGGER {TABLE}_in_order ON {TABLE}")
        schema_editor.execute(f"DROP FUNCTION {TABLE}_in_order()")
        return
    for number in range(len(RULES)):
        schema_editor.execute(f"DROP TRIGGER {TABLE}_in_order_{number}")


class Migration(migrations.Migration):
    dependencies = [("measurements", "0005_what_is_measured")]
    operations = [
        insert_only("measurements_tightnessrun"),
        insert_only(TABLE),
        insert_only("measurements_reservereading"),
        GuardsTable(guard, release),
    ]
