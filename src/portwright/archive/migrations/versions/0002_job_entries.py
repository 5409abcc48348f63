"""Entries of a job card: work, hours, parts, holds, quotes and invoices."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Bring an older shop file to this schema."""
    op.create_table(
        "job_entry",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(length=60), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("at", sa.Text(), server_default="", nullable=False),
        sa.Column("author", sa.Text(), server_default="", nullable=False),
        sa.Column("replaces", sa.Text(), server_default="", nullable=False),
        sa.Column("cells", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_job_entry_job_id_job")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job_entry")),
        sa.UniqueConstraint("job_id", "key", name=op.f("uq_job_entry_job_id")),
    )
    op.execute(
        "CREATE TRIGGER job_entry_no_update BEFORE UPDATE ON job_entry "
        "BEGIN SELECT RAISE(ABORT, 'job_entry rows are never changed, only replaced'); END"
    )
    op.execute(
        "CREATE TRIGGER job_entry_no_delete BEFORE DELETE ON job_entry "
        "BEGIN SELECT RAISE(ABORT, 'job_entry rows are never deleted'); END"
    )
