"""First schema."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Bring an older shop file to this schema."""
    op.create_table(
        "bench",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=60), nullable=False),
        sa.Column("name", sa.Text(), server_default="", nullable=False),
        sa.Column("kind", sa.Text(), server_default="", nullable=False),
        sa.Column("readout", sa.Text(), server_default="", nullable=False),
        sa.Column("inlet_aid", sa.Text(), server_default="", nullable=False),
        sa.Column("exhaust_stub", sa.Text(), server_default="", nullable=False),
        sa.Column("service_from", sa.Text(), server_default="", nullable=False),
        sa.Column("service_to", sa.Text(), server_default="", nullable=False),
        sa.Column("notes", sa.Text(), server_default="", nullable=False),
        sa.Column("typed", sa.JSON(), server_default="{}", nullable=False),
        sa.Column("version", sa.Integer(), server_default="1", nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bench")),
        sa.UniqueConstraint("code", name=op.f("uq_bench_code")),
    )
    op.create_table(
        "blob",
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("data", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("sha256", name=op.f("pk_blob")),
    )
    op.create_table(
        "casting",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.String(length=120), nullable=False),
        sa.Column("description", sa.Text(), server_default="", nullable=False),
        sa.Column("architecture", sa.Text(), server_default="", nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_casting")),
        sa.UniqueConstraint("number", name=op.f("uq_casting_number")),
    )
    op.create_table(
        "job",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.String(length=120), nullable=False),
        sa.Column("opened", sa.String(length=40), server_default="", nullable=False),
        sa.Column("promised", sa.Text(), server_default="", nullable=False),
        sa.Column("delivered", sa.Text(), server_default="", nullable=False),
        sa.Column("customer", sa.Text(), server_default="", nullable=False),
        sa.Column("vehicle", sa.Text(), server_default="", nullable=False),
        sa.Column("casting", sa.String(length=120), server_default="", nullable=False),
        sa.Column("goal", sa.Text(), server_default="", nullable=False),
        sa.Column("facts", sa.JSON(), server_default="{}", nullable=False),
        sa.Column("version", sa.Integer(), server_default="1", nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job")),
        sa.UniqueConstraint("number", name=op.f("uq_job_number")),
    )
    with op.batch_alter_table("job", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_job_casting"), ["casting"], unique=False)
        batch_op.create_index(batch_op.f("ix_job_opened"), ["opened"], unique=False)

    op.create_table(
        "setting",
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("value", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_setting")),
    )
    op.create_table(
        "shop",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), server_default="", nullable=False),
        sa.Column("town", sa.Text(), server_default="", nullable=False),
        sa.Column("porter", sa.Text(), server_default="", nullable=False),
        sa.Column("currency", sa.Text(), server_default="", nullable=False),
        sa.Column("labour_rate", sa.Text(), server_default="", nullable=False),
        sa.Column("length_unit", sa.Text(), server_default="", nullable=False),
        sa.Column("flow_unit", sa.Text(), server_default="", nullable=False),
        sa.Column("pressure_unit", sa.Text(), server_default="", nullable=False),
        sa.Column("temperature_unit", sa.Text(), server_default="", nullable=False),
        sa.Column("typed", sa.JSON(), server_default="{}", nullable=False),
        sa.Column("version", sa.Integer(), server_default="1", nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shop")),
    )
    op.create_table(
        "attachment",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("name", sa.Text(), server_default="", nullable=False),
        sa.Column("media_type", sa.Text(), server_default="", nullable=False),
        sa.Column("subject", sa.Text(), server_default="", nullable=False),
        sa.Column("stage", sa.Text(), server_default="", nullable=False),
        sa.Column("caption", sa.Text(), server_default="", nullable=False),
        sa.Column("added_at", sa.Text(), server_default="", nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_attachment_job_id_job")),
        sa.ForeignKeyConstraint(
            ["sha256"], ["blob.sha256"], name=op.f("fk_attachment_sha256_blob")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_attachment")),
    )
    with op.batch_alter_table("attachment", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_attachment_job_id"), ["job_id"], unique=False)

    op.create_table(
        "calibration",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("bench", sa.String(length=60), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("valid_from", sa.Text(), server_default="", nullable=False),
        sa.Column("metering", sa.String(length=40), nullable=False),
        sa.Column("flow_air", sa.Text(), server_default="", nullable=False),
        sa.Column("relative_uncertainty", sa.Float(), nullable=False),
        sa.Column("constants", sa.JSON(), server_default="{}", nullable=False),
        sa.Column("typed", sa.JSON(), server_default="{}", nullable=False),
        sa.Column("reason", sa.Text(), server_default="", nullable=False),
        sa.ForeignKeyConstraint(
            ["bench"], ["bench.code"], name=op.f("fk_calibration_bench_bench"), onupdate="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_calibration")),
        sa.UniqueConstraint("bench", "version", name=op.f("uq_calibration_bench")),
    )
    op.create_table(
        "cam",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("card", sa.String(length=120), nullable=False),
        sa.Column("rocker_ratio", sa.Float(), nullable=True),
        sa.Column("points", sa.JSON(), server_default="[]", nullable=False),
        sa.Column("typed", sa.JSON(), server_default="{}", nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_cam_job_id_job")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cam")),
        sa.UniqueConstraint("job_id", "card", name=op.f("uq_cam_job_id")),
    )
    op.create_table(
        "head",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=60), nullable=False),
        sa.Column("casting", sa.Text(), server_default="", nullable=False),
        sa.Column("serial", sa.Text(), server_default="", nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_head_job_id_job")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_head")),
        sa.UniqueConstraint("job_id", "code", name=op.f("uq_head_job_id")),
    )
    op.create_table(
        "measurement",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("subject", sa.Text(), server_default="", nullable=False),
        sa.Column("quantity", sa.String(length=80), nullable=False),
        sa.Column("place", sa.Text(), server_default="", nullable=False),
        sa.Column("stage", sa.Text(), server_default="", nullable=False),
        sa.Column("value", sa.Float(), nullable=False),
        sa.Column("typed", sa.JSON(), server_default="{}", nullable=False),
        sa.Column("instrument", sa.Text(), server_default="", nullable=False),
        sa.Column("date", sa.Text(), server_default="", nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.Column("replaces", sa.Integer(), nullable=True),
        sa.Column("reason", sa.Text(), server_default="", nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_measurement_job_id_job")),
        sa.ForeignKeyConstraint(
            ["replaces"], ["measurement.id"], name=op.f("fk_measurement_replaces_measurement")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_measurement")),
        sa.UniqueConstraint("replaces", name=op.f("uq_measurement_replaces")),
    )
    with op.batch_alter_table("measurement", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_measurement_job_id"), ["job_id"], unique=False)

    op.create_table(
        "note",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("written_at", sa.Text(), server_default="", nullable=False),
        sa.Column("subject", sa.Text(), server_default="", nullable=False),
        sa.Column("stage", sa.Text(), server_default="", nullable=False),
        sa.Column("author", sa.Text(), server_default="", nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_note_job_id_job")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_note")),
    )
    with op.batch_alter_table("note", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_note_job_id"), ["job_id"], unique=False)

    op.create_table(
        "plate_check",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("bench", sa.String(length=60), nullable=False),
        sa.Column("date", sa.Text(), server_default="", nullable=False),
        sa.Column("plate", sa.Text(), server_default="", nullable=False),
        sa.Column("repeat", sa.Integer(), nullable=False),
        sa.Column("certified", sa.Float(), nullable=False),
        sa.Column("measured", sa.Float(), nullable=False),
        sa.Column("typed", sa.JSON(), server_default="{}", nullable=False),
        sa.ForeignKeyConstraint(
            ["bench"], ["bench.code"], name=op.f("fk_plate_check_bench_bench"), onupdate="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_plate_check")),
    )
    with op.batch_alter_table("plate_check", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_plate_check_bench"), ["bench"], unique=False)

    op.create_table(
        "port",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=60), nullable=False),
        sa.Column("side", sa.String(length=10), nullable=False),
        sa.Column("head", sa.Text(), server_default="", nullable=False),
        sa.Column("cylinder", sa.Integer(), nullable=True),
        sa.Column("valve_count", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_port_job_id_job")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_port")),
        sa.UniqueConstraint("job_id", "code", name=op.f("uq_port_job_id")),
    )
    op.create_table(
        "sheet_row",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("subject", sa.Text(), server_default="", nullable=False),
        sa.Column("source", sa.Text(), server_default="", nullable=False),
        sa.Column("cells", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_sheet_row_job_id_job")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sheet_row")),
    )
    with op.batch_alter_table("sheet_row", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_sheet_row_job_id"), ["job_id"], unique=False)

    op.create_table(
        "stage",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=60), nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.Column("date", sa.Text(), server_default="", nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_stage_job_id_job")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stage")),
        sa.UniqueConstraint("job_id", "code", name=op.f("uq_stage_job_id")),
    )
    op.create_table(
        "run",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=120), nullable=False),
        sa.Column("port", sa.String(length=60), nullable=False),
        sa.Column("stage", sa.String(length=60), nullable=False),
        sa.Column("bench", sa.String(length=60), nullable=False),
        sa.Column("calibration", sa.Integer(), nullable=False),
        sa.Column("method", sa.String(length=60), nullable=False),
        sa.Column("repeat", sa.Integer(), nullable=False),
        sa.Column("date", sa.String(length=40), server_default="", nullable=False),
        sa.Column("time", sa.Text(), server_default="", nullable=False),
        sa.Column("conditions", sa.JSON(), server_default="{}", nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.ForeignKeyConstraint(
            ["bench", "calibration"],
            ["calibration.bench", "calibration.version"],
            name=op.f("fk_run_bench_calibration"),
        ),
        sa.ForeignKeyConstraint(
            ["bench"], ["bench.code"], name=op.f("fk_run_bench_bench"), onupdate="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["job_id", "port"],
            ["port.job_id", "port.code"],
            name=op.f("fk_run_job_id_port"),
            onupdate="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["job_id", "stage"],
            ["stage.job_id", "stage.code"],
            name=op.f("fk_run_job_id_stage"),
            onupdate="CASCADE",
        ),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_run_job_id_job")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_run")),
        sa.UniqueConstraint("job_id", "code", name=op.f("uq_run_job_id")),
    )
    with op.batch_alter_table("run", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_run_code"), ["code"], unique=False)
        batch_op.create_index(batch_op.f("ix_run_date"), ["date"], unique=False)
        batch_op.create_index("ix_run_job_date", ["job_id", "date"], unique=False)

    op.create_table(
        "reading",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("run_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("lift", sa.Float(), nullable=False),
        sa.Column("flow", sa.Float(), nullable=True),
        sa.Column("percent", sa.Float(), nullable=True),
        sa.Column("meter_pressure", sa.Float(), nullable=True),
        sa.Column("test_pressure", sa.Float(), nullable=True),
        sa.Column("air_temperature", sa.Float(), nullable=True),
        sa.Column("meter_temperature", sa.Float(), nullable=True),
        sa.Column("barometer", sa.Float(), nullable=True),
        sa.Column("humidity", sa.Float(), nullable=True),
        sa.Column("leak", sa.Float(), nullable=True),
        sa.Column("scatter", sa.Float(), nullable=True),
        sa.Column("range_number", sa.Integer(), nullable=True),
        sa.Column("state", sa.String(length=20), server_default="taken", nullable=False),
        sa.Column("typed", sa.JSON(), server_default="{}", nullable=False),
        sa.Column("taken_at", sa.Text(), server_default="", nullable=False),
        sa.Column("replaces", sa.Integer(), nullable=True),
        sa.Column("reason", sa.Text(), server_default="", nullable=False),
        sa.ForeignKeyConstraint(
            ["replaces"], ["reading.id"], name=op.f("fk_reading_replaces_reading")
        ),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_reading_run_id_run")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading")),
        sa.UniqueConstraint("replaces", name=op.f("uq_reading_replaces")),
    )
    with op.batch_alter_table("reading", schema=None) as batch_op:
        batch_op.create_index("ix_reading_run_position", ["run_id", "position"], unique=False)

    op.create_table(
        "result",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("run_id", sa.Integer(), nullable=False),
        sa.Column("method", sa.String(length=60), nullable=False),
        sa.Column("calibration", sa.String(length=120), nullable=False),
        sa.Column("program", sa.String(length=40), nullable=False),
        sa.Column("readings_digest", sa.String(length=64), nullable=False),
        sa.Column("lift", sa.LargeBinary(), nullable=False),
        sa.Column("area", sa.LargeBinary(), nullable=False),
        sa.Column("uncertainty", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_result_run_id_run")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_result")),
        sa.UniqueConstraint(
            "run_id",
            "method",
            "calibration",
            "readings_digest",
            "program",
            name=op.f("uq_result_run_id"),
        ),
    )
    op.create_table(
        "run_mark",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("run_id", sa.Integer(), nullable=False),
        sa.Column("left_out", sa.Text(), server_default="", nullable=False),
        sa.Column("marked_at", sa.Text(), server_default="", nullable=False),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_run_mark_run_id_run")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_run_mark")),
    )
    with op.batch_alter_table("run_mark", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_run_mark_run_id"), ["run_id"], unique=False)
    _guard()


RAW = ("reading", "measurement", "run_mark", "plate_check", "blob", "note")
NEVER_DELETED = (
    "attachment",
    "bench",
    "calibration",
    "cam",
    "casting",
    "head",
    "job",
    "port",
    "run",
    "sheet_row",
    "stage",
)
STAND_IN = "made with the first run on this bench; not checked yet"


def _guard() -> None:
    """Raw rows are never changed, nothing a shop entered is deleted."""
    for table in RAW:
        op.execute(
            f"CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table} "
            f"BEGIN SELECT RAISE(ABORT, '{table} rows are never changed, only replaced'); END"
        )
    for table in (*RAW, *NEVER_DELETED):
        op.execute(
            f"CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} "
            f"BEGIN SELECT RAISE(ABORT, '{table} rows are never deleted'); END"
        )
    op.execute(
        "CREATE TRIGGER calibration_no_update BEFORE UPDATE ON calibration "
        f"WHEN OLD.reason <> '{STAND_IN}' "
        "BEGIN SELECT RAISE(ABORT, 'a calibration is never changed, only followed by a newer "
        "version'); END"
    )
