"""A kept overview of every port, and the words of the shop for searching."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Bring an older shop file to this schema; both tables are filled on first use."""
    op.create_table(
        "port_overview",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("port", sa.Text(), server_default="", nullable=False),
        sa.Column("stage", sa.Text(), server_default="", nullable=False),
        sa.Column("bench", sa.Text(), server_default="", nullable=False),
        sa.Column("side", sa.String(length=10), nullable=False),
        sa.Column("place", sa.String(length=10), nullable=False),
        sa.Column("valve_count", sa.Integer(), nullable=False),
        sa.Column("valve_diameter", sa.Float(), nullable=True),
        sa.Column("sweeps", sa.Integer(), nullable=False),
        sa.Column("sessions", sa.Integer(), nullable=False),
        sa.Column("top_lift", sa.Float(), nullable=False),
        sa.Column("top_area", sa.Float(), nullable=False),
        sa.Column("areas", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_port_overview_job_id_job")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_port_overview")),
    )
    op.create_index("ix_port_overview_job_id", "port_overview", ["job_id"])
    op.create_index(
        "ix_port_overview_class",
        "port_overview",
        ["side", "place", "valve_count", "valve_diameter"],
    )
    op.create_table(
        "search_line",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("place", sa.Text(), server_default="", nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("job_version", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_search_line_job_id_job")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_search_line")),
    )
    op.create_index("ix_search_line_job_id", "search_line", ["job_id"])
    op.create_index("ix_run_bench_date", "run", ["bench", "date"])
    if op.get_bind().dialect.name == "sqlite":
        op.execute(
            "CREATE VIRTUAL TABLE search_index USING fts5(words, content='search_line', "
            "content_rowid='id', tokenize='unicode61 remove_diacritics 2', prefix='2 3')"
        )
