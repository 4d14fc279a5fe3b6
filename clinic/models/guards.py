"""Database triggers, on both engines, that keep insert-only tables insert-only.

A guarded row is never changed. It is deleted only while an ``ErasurePass`` exists in the same
transaction. A table may be guarded conditionally (a letter only once it is signed).
"""

from dataclasses import dataclass

from django.db.backends.base.base import BaseDatabaseWrapper

PASS = "clinic_erasurepass"  # noqa: S105  a table's name


@dataclass(frozen=True, kw_only=True, slots=True)
class Guard:
    """A guarded table; ``when`` is SQL over OLD that limits the guard, empty for always."""

    table: str
    when: str = ""


GUARDS: tuple[Guard, ...] = (
    Guard(table="clinic_auditentry"),
    Guard(table="clinic_restriction"),
    Guard(table="clinic_episodechange"),
    Guard(table="outcomes_measureversion"),
    Guard(table="outcomes_protocolversion"),
    Guard(table="outcomes_instrumentversion"),
    Guard(table="outcomes_progressionversion"),
    Guard(table="outcomes_normversion"),
    Guard(table="outcomes_reading"),
    Guard(table="outcomes_completedquestionnaire"),
    Guard(table="outcomes_event"),
    Guard(table="outcomes_redflagcheck"),
    Guard(table="outcomes_lookanswer"),
    Guard(table="outcomes_decision"),
    Guard(table="outcomes_planstep"),
    Guard(table="outcomes_figureset"),
    Guard(table="outcomes_lineround"),
    Guard(table="outcomes_linegrades"),
    Guard(table="outcomes_agreement"),
    Guard(table="outcomes_document"),
    Guard(table="outcomes_picture"),
    Guard(table="outcomes_pictureagreement"),
    Guard(table="outcomes_pictureerasure"),
    Guard(table="outcomes_letter", when="OLD.state = 'signed'"),
)


def _sqlite(guard: Guard) -> list[str]:
    only = f"({guard.when}) AND " if guard.when else ""
    refuse = "SELECT RAISE(ABORT, 'this row is kept as it is');"
    return [
        f"CREATE TRIGGER guard_{guard.table}_update BEFORE UPDATE ON {guard.table} "
        f"FOR EACH ROW WHEN {only}1 BEGIN {refuse} END",
        f"CREATE TRIGGER guard_{guard.table}_delete BEFORE DELETE ON {guard.table} "
        f"FOR EACH ROW WHEN {only}NOT EXISTS (SELECT 1 FROM {PASS}) BEGIN {refuse} END",
    ]


def _postgresql(guard: Guard) -> list[str]:
    when = f" WHEN ({guard.when})" if guard.when else ""
    return [
        f"CREATE TRIGGER guard_{guard.table}_update BEFORE UPDATE ON {guard.table} "
        f"FOR EACH ROW{when} EXECUTE FUNCTION kept_as_it_is()",
        f"CREATE TRIGGER guard_{guard.table}_delete BEFORE DELETE ON {guard.table} "
        f"FOR EACH ROW{when} EXECUTE FUNCTION kept_as_it_is()",
        f"CREATE TRIGGER guard_{guard.table}_truncate BEFORE TRUNCATE ON {guard.table} "
        f"FOR EACH STATEMENT EXECUTE FUNCTION kept_as_it_is()",
    ]


_FUNCTION = f"""
CREATE OR REPLACE FUNCTION kept_as_it_is() RETURNS trigger AS $$
BEGIN
  IF TG_OP = 'DELETE' AND EXISTS (SELECT 1 FROM {PASS}) THEN RETURN OLD; END IF;
  RAISE EXCEPTION 'this row is kept as it is' USING ERRCODE = 'restrict_violation';
END $$ LANGUAGE plpgsql
"""


def install_guards(connection: BaseDatabaseWrapper) -> None:
    """Install every guard whose table exists; those already there are renewed."""
    remove_guards(connection)
    tables = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(_FUNCTION)
        for guard in GUARDS:
            if guard.table in tables:
                make = _postgresql if connection.vendor == "postgresql" else _sqlite
                for statement in make(guard):
                    cursor.execute(statement)


def remove_guards(connection: BaseDatabaseWrapper) -> None:
    """Take every guard away: only migrations that alter a table and the test flush do this."""
    tables = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        for guard in GUARDS:
            if guard.table not in tables:
                continue
            for act in ("update", "delete", "truncate"):
                name = f"guard_{guard.table}_{act}"
                if connection.vendor == "postgresql":
                    cursor.execute(f"DROP TRIGGER IF EXISTS {name} ON {guard.table}")
                elif act != "truncate":
                    cursor.execute(f"DROP TRIGGER IF EXISTS {name}")
