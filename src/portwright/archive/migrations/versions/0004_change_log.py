"""Who wrote what."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Bring an older shop file to this schema."""
    op.create_table(
        "change_log",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.String(length=40), nullable=False),
        sa.Column("who", sa.Text(), server_default="", nullable=False),
        sa.Column("role", sa.Text(), server_default="", nullable=False),
        sa.Column("device", sa.Text(), server_default="", nullable=False),
        sa.Column("changes", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_change_log")),
    )
    op.create_index(op.f("ix_change_log_at"), "change_log", ["at"])
    for what, why in (("update", "changed"), ("delete", "deleted")):
        op.execute(
            f"CREATE TRIGGER change_log_no_{what} BEFORE {what.upper()} ON change_log "
            f"BEGIN SELECT RAISE(ABORT, 'change_log rows are never {why}'); END"
        )
