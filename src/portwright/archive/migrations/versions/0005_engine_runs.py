"""Simulated engine runs kept with a job."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from portwright.archive.migrations import guard

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Bring an older shop file to this schema."""
    op.create_table(
        "engine_run",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(length=60), nullable=False),
        sa.Column("at", sa.Text(), server_default="", nullable=False),
        sa.Column("author", sa.Text(), server_default="", nullable=False),
        sa.Column("method", sa.Text(), server_default="", nullable=False),
        sa.Column("program", sa.Text(), server_default="", nullable=False),
        sa.Column("replaces", sa.Text(), server_default="", nullable=False),
        sa.Column("content", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_engine_run_job_id_job")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_engine_run")),
        sa.UniqueConstraint("job_id", "key", name=op.f("uq_engine_run_job_id")),
    )
    guard.never("engine_run")
