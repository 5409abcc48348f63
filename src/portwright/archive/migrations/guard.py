"""Guards for a table that a step to a newer schema makes."""

from __future__ import annotations

from alembic import op


def never(table: str, *, changed: bool = True, deleted: bool = True) -> None:
    """Let rows of a new table never be changed, never be deleted.

    In a file the guards are part of the step.  On a server they follow from those of a file of the
    newest schema, and are put in place after the last step.
    """
    if op.get_bind().dialect.name != "sqlite":
        return
    for what, wanted, why in (
        ("update", changed, "changed, only replaced"),
        ("delete", deleted, "deleted"),
    ):
        if wanted:
            op.execute(
                f"CREATE TRIGGER {table}_no_{what} BEFORE {what.upper()} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{table} rows are never {why}'); END"
            )
