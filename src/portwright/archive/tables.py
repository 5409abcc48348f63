"""Tables of the shop file.

Values keep the number and unit as typed in a JSON column ``typed`` ({"lift": ["7,25", "mm"]})
beside SI columns that can be searched; a value without a column of its own has its SI value as
third entry there.  Readings and measurements are append-only: triggers in
the first migration refuse to change or delete them; a correction is a new row that names the one
it replaces and why.
"""

from __future__ import annotations

from enum import StrEnum

from sqlalchemy import (
    JSON,
    BigInteger,
    Column,
    Float,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(column_0_label)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _text(name: str) -> Column[str]:
    return Column(name, Text, nullable=False, server_default="")


# 64 bits everywhere, as in a file: a whole number that fits there fits on a server too.
_Whole = Integer().with_variant(BigInteger(), "postgresql")


def _id() -> Column[int]:
    return Column("id", _Whole, primary_key=True)


def _job(*, index: bool = False) -> Column[int]:
    """The job a row belongs to; indexed where no unique constraint begins with it."""
    return Column("job_id", ForeignKey("job.id"), nullable=False, index=index)


def _typed() -> Column[object]:
    return Column("typed", JSON, nullable=False, server_default="{}")


shop = Table(
    "shop",
    metadata,
    _id(),
    _text("name"),
    _text("town"),
    _text("porter"),
    _text("currency"),
    _text("labour_rate"),
    _text("length_unit"),
    _text("flow_unit"),
    _text("pressure_unit"),
    _text("temperature_unit"),
    _typed(),
    Column("version", _Whole, nullable=False, server_default="1"),
)

casting = Table(
    "casting",
    metadata,
    _id(),
    Column("number", String(120), nullable=False, unique=True),
    _text("description"),
    _text("architecture"),
    _text("intake_port_location"),
    _text("exhaust_port_location"),
    _typed(),
    Column("version", _Whole, nullable=False, server_default="1"),
)

bench = Table(
    "bench",
    metadata,
    _id(),
    Column("code", String(60), nullable=False, unique=True),
    _text("name"),
    _text("kind"),
    _text("readout"),
    _text("inlet_aid"),
    _text("exhaust_stub"),
    _text("service_from"),
    _text("service_to"),
    _text("notes"),
    _typed(),
    Column("version", _Whole, nullable=False, server_default="1"),
)

calibration = Table(
    "calibration",
    metadata,
    _id(),
    Column("bench", ForeignKey("bench.code", onupdate="CASCADE"), nullable=False),
    Column("version", _Whole, nullable=False),
    _text("valid_from"),
    Column("metering", String(40), nullable=False),
    _text("flow_air"),
    Column("relative_uncertainty", Float, nullable=False),
    Column("constants", JSON, nullable=False, server_default="{}"),
    _typed(),
    _text("reason"),
    UniqueConstraint("bench", "version"),
)

plate_check = Table(
    "plate_check",
    metadata,
    _id(),
    Column("bench", ForeignKey("bench.code", onupdate="CASCADE"), nullable=False, index=True),
    _text("date"),
    _text("plate"),
    Column("repeat", _Whole, nullable=False),
    Column("certified", Float, nullable=False),
    Column("measured", Float, nullable=False),
    _typed(),
)

job = Table(
    "job",
    metadata,
    _id(),
    Column("number", String(120), nullable=False, unique=True),
    Column("opened", String(40), nullable=False, server_default="", index=True),
    _text("promised"),
    _text("delivered"),
    _text("customer"),
    _text("vehicle"),
    Column("casting", String(120), nullable=False, server_default="", index=True),
    _text("goal"),
    Column("facts", JSON, nullable=False, server_default="{}"),
    Column("version", _Whole, nullable=False, server_default="1"),
)

head = Table(
    "head",
    metadata,
    _id(),
    _job(),
    Column("code", String(60), nullable=False),
    _text("casting"),
    _text("serial"),
    _text("intake_port_location"),
    _text("exhaust_port_location"),
    _typed(),
    UniqueConstraint("job_id", "code"),
)

port = Table(
    "port",
    metadata,
    _id(),
    _job(),
    Column("code", String(60), nullable=False),
    Column("side", String(10), nullable=False),
    _text("head"),
    Column("cylinder", _Whole),
    Column("valve_count", _Whole, nullable=False),
    UniqueConstraint("job_id", "code"),
)

stage = Table(
    "stage",
    metadata,
    _id(),
    _job(),
    Column("code", String(60), nullable=False),
    _text("note"),
    _text("date"),
    UniqueConstraint("job_id", "code"),
)

measurement = Table(
    "measurement",
    metadata,
    _id(),
    _job(index=True),
    _text("subject"),
    Column("quantity", String(80), nullable=False),
    _text("place"),
    _text("stage"),
    Column("value", Float, nullable=False),
    _typed(),
    _text("instrument"),
    _text("date"),
    _text("note"),
    Column("replaces", ForeignKey("measurement.id"), unique=True),
    _text("reason"),
)

cam = Table(
    "cam",
    metadata,
    _id(),
    _job(),
    Column("card", String(120), nullable=False),
    Column("rocker_ratio", Float),
    Column("points", JSON, nullable=False, server_default="[]"),
    _typed(),
    UniqueConstraint("job_id", "card"),
)

sheet_row = Table(
    "sheet_row",
    metadata,
    _id(),
    _job(index=True),
    Column("kind", String(40), nullable=False),
    _text("subject"),
    _text("source"),
    Column("cells", JSON, nullable=False),
)

# What a job card says; append-only, a correction names the key it replaces.
job_entry = Table(
    "job_entry",
    metadata,
    _id(),
    _job(),
    Column("key", String(60), nullable=False),
    Column("kind", String(20), nullable=False),
    _text("at"),
    _text("author"),
    _text("replaces"),
    Column("cells", JSON, nullable=False),
    UniqueConstraint("job_id", "key"),
)

# Simulated before and after that somebody kept; append-only, a newer one names the key it replaces.
engine_run = Table(
    "engine_run",
    metadata,
    _id(),
    _job(),
    Column("key", String(60), nullable=False),
    _text("at"),
    _text("author"),
    _text("method"),
    _text("program"),
    _text("replaces"),
    Column("content", JSON, nullable=False),
    UniqueConstraint("job_id", "key"),
)

note = Table(
    "note",
    metadata,
    _id(),
    _job(index=True),
    Column("text", Text, nullable=False),
    _text("written_at"),
    _text("subject"),
    _text("stage"),
    _text("author"),
)

run = Table(
    "run",
    metadata,
    _id(),
    _job(),
    Column("code", String(120), nullable=False, index=True),
    Column("port", String(60), nullable=False),
    Column("stage", String(60), nullable=False),
    Column("bench", ForeignKey("bench.code", onupdate="CASCADE"), nullable=False),
    Column("calibration", _Whole, nullable=False),
    Column("method", String(60), nullable=False),
    Column("repeat", _Whole, nullable=False),
    Column("date", String(40), nullable=False, server_default="", index=True),
    _text("time"),
    Column("conditions", JSON, nullable=False, server_default="{}"),
    _text("note"),
    Index("ix_run_job_date", "job_id", "date"),
    Index("ix_run_bench_date", "bench", "date"),
    UniqueConstraint("job_id", "code"),
    ForeignKeyConstraint(["job_id", "port"], ["port.job_id", "port.code"], onupdate="CASCADE"),
    ForeignKeyConstraint(["job_id", "stage"], ["stage.job_id", "stage.code"], onupdate="CASCADE"),
    ForeignKeyConstraint(["bench", "calibration"], ["calibration.bench", "calibration.version"]),
)

# What a person decided about a run later; the newest row of a run counts.
run_mark = Table(
    "run_mark",
    metadata,
    _id(),
    Column("run_id", ForeignKey("run.id"), nullable=False, index=True),
    _text("left_out"),
    _text("marked_at"),
)

# Reason of a calibration nobody has entered yet; only such a one may be filled in later.
STAND_IN = "made with the first run on this bench; not checked yet"


class ReadingState(StrEnum):
    """What a stored reading row means."""

    TAKEN = "taken"  # counts until a newer row replaces it
    WITHDRAWN = "withdrawn"  # takes the row it replaces back
    SET_ASIDE = "set-aside"  # came second for its lift and waits for a person to choose


CHANNELS = (
    "lift",
    "flow",
    "percent",
    "meter_pressure",
    "test_pressure",
    "air_temperature",
    "meter_temperature",
    "barometer",
    "humidity",
    "leak",
    "test_pressure_zero",
    "meter_pressure_zero",
    "scatter",
)

reading = Table(
    "reading",
    metadata,
    _id(),
    Column("run_id", ForeignKey("run.id"), nullable=False),
    Column("position", _Whole, nullable=False),
    *(Column(name, Float, nullable=name != "lift") for name in CHANNELS),
    Column("range_number", _Whole),
    Column("state", String(20), nullable=False, server_default=ReadingState.TAKEN.value),
    _typed(),
    _text("taken_at"),
    Column("replaces", ForeignKey("reading.id"), unique=True),
    _text("reason"),
    Index("ix_reading_run_position", "run_id", "position"),
)

# Effective areas computed from a run by a named method; several methods may stand side by side.
result = Table(
    "result",
    metadata,
    _id(),
    Column("run_id", ForeignKey("run.id"), nullable=False),
    Column("method", String(60), nullable=False),
    Column("calibration", String(120), nullable=False),
    Column("program", String(40), nullable=False),
    Column("readings_digest", String(64), nullable=False),
    Column("lift", LargeBinary, nullable=False),
    Column("area", LargeBinary, nullable=False),
    Column("uncertainty", LargeBinary, nullable=False),
    UniqueConstraint("run_id", "method", "calibration", "readings_digest", "program"),
)

blob = Table(
    "blob",
    metadata,
    Column("sha256", String(64), primary_key=True),
    Column("size", _Whole, nullable=False),
    Column("data", LargeBinary, nullable=False),
)

attachment = Table(
    "attachment",
    metadata,
    _id(),
    _job(index=True),
    Column("sha256", ForeignKey("blob.sha256"), nullable=False),
    _text("name"),
    _text("media_type"),
    _text("subject"),
    _text("stage"),
    _text("caption"),
    _text("added_at"),
)

# What every port flows, kept so that one can be ranked among thousands.  Worked out from the raw
# rows and never exported: it can be made again at any time.
port_overview = Table(
    "port_overview",
    metadata,
    _id(),
    _job(index=True),
    _text("port"),
    _text("stage"),
    _text("bench"),
    Column("side", String(10), nullable=False),
    Column("place", String(10), nullable=False),  # see PortOverview
    Column("valve_count", _Whole, nullable=False),
    Column("valve_diameter", Float),
    Column("sweeps", _Whole, nullable=False),
    Column("sessions", _Whole, nullable=False),
    Column("top_lift", Float, nullable=False),
    Column("top_area", Float, nullable=False),
    Column("areas", LargeBinary, nullable=False),
    Column("valve_angle", Float),
    _text("port_location"),
    Index("ix_port_overview_class", "side", "place", "valve_count", "valve_diameter"),
)

# Every word of the shop with where it stands; made again at any time, never exported.
search_line = Table(
    "search_line",
    metadata,
    _id(),
    _job(index=True),
    Column("kind", String(20), nullable=False),
    _text("place"),
    Column("words", Text, nullable=False),
    Column("job_version", _Whole),
)

# Who wrote what: one row for each step that was stored, never changed.
change_log = Table(
    "change_log",
    metadata,
    _id(),
    Column("at", String(40), nullable=False, index=True),
    _text("who"),
    _text("role"),
    _text("device"),
    Column("changes", JSON, nullable=False),
)

# Small settings of the program for this shop: passphrase hash, preferences.
setting = Table(
    "setting",
    metadata,
    Column("name", String(80), primary_key=True),
    Column("value", JSON, nullable=False),
)
