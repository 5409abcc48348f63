"""Valve angle and port location of castings and heads."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Bring an older shop file to this schema; what is kept of its ports stays as it is."""
    for table in ("casting", "head"):
        for side in ("intake", "exhaust"):
            op.add_column(table, _text(f"{side}_port_location"))
        op.add_column(table, sa.Column("typed", sa.JSON(), server_default="{}", nullable=False))
    op.add_column("casting", sa.Column("version", _whole(), server_default="1", nullable=False))
    op.add_column("port_overview", sa.Column("valve_angle", sa.Float(), nullable=True))
    op.add_column("port_overview", _text("port_location"))


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text(), server_default="", nullable=False)


def _whole() -> sa.types.TypeEngine[int]:
    return sa.Integer().with_variant(sa.BigInteger(), "postgresql")
