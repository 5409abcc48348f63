"""What the gauges show with the air off, beside each reading."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Bring an older shop file to this schema; earlier readings have no zero recorded."""
    for name in ("test_pressure_zero", "meter_pressure_zero"):
        op.add_column("reading", sa.Column(name, sa.Float(), nullable=True))
