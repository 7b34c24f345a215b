"""The tables of a library: what people typed and what was decided.

Rows are mapped classes with plain attributes and no lazy relations: a row that came out of a transaction is an
ordinary object that can be read anywhere. Samples and originals are files; rows name them by SHA-256.

What is deleted keeps its row with `deleted_at`, so that a deletion can be taken back.

Two kinds of time are kept apart. `datetime` of what people say (`when`, `fitted`) is the clock on the wall, without a
zone, as in the sheets. Moments at which something was written (`made_at`, ...) are in universal time.
"""

import datetime
from decimal import Decimal
from typing import Any, ClassVar

from sqlalchemy import (
    JSON,
    BigInteger,
    CheckConstraint,
    DateTime,
    Dialect,
    ForeignKey,
    Index,
    MetaData,
    Numeric,
    String,
    Text,
    TypeDecorator,
    UniqueConstraint,
    column,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

__all__ = [
    "REVISION",
    "Base",
    "CarRow",
    "ChangeRow",
    "ColumnDecisionRow",
    "ComparisonRow",
    "DayBuildRow",
    "DayRow",
    "JobFileRow",
    "JobRow",
    "LibraryRow",
    "LogRow",
    "OverrulingRow",
    "PhotoRow",
    "PullRow",
    "SettingRow",
    "now",
]

REVISION = "0001"
"""The migration that these tables are the result of."""


def now() -> datetime.datetime:
    """The present moment in universal time."""
    return datetime.datetime.now(datetime.UTC)


class Moment(TypeDecorator[datetime.datetime]):
    """A moment in universal time; SQLite keeps no zone, so it is put back on the way out."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime.datetime | None, dialect: Dialect) -> datetime.datetime | None:  # noqa: ARG002
        """Into the database: always in universal time."""
        return None if value is None else value.astimezone(datetime.UTC)

    def process_result_value(self, value: datetime.datetime | None, dialect: Dialect) -> datetime.datetime | None:  # noqa: ARG002
        """Out of the database: with its zone."""
        if value is None:
            return None
        return value.replace(tzinfo=datetime.UTC) if value.tzinfo is None else value.astimezone(datetime.UTC)


class Money(TypeDecorator[Decimal]):
    """An amount of money, exact: SQLite has no decimal numbers, so it is kept as text there."""

    impl = Numeric(12, 2)
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> Any:  # noqa: ANN401  (SQLAlchemy's signature)
        """Text in SQLite, a decimal number elsewhere."""
        return dialect.type_descriptor(String(16) if dialect.name == "sqlite" else Numeric(12, 2))

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> Any:  # noqa: ANN401
        """Into the database."""
        return str(value) if value is not None and dialect.name == "sqlite" else value

    def process_result_value(self, value: Any, dialect: Dialect) -> Decimal | None:  # noqa: ANN401, ARG002
        """Out of the database."""
        return None if value is None else Decimal(value)


class Base(DeclarativeBase):
    """All tables; constraints get the same names on every database."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
            "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
            "pk": "pk_%(table_name)s",
        }
    )
    type_annotation_map: ClassVar = {
        datetime.datetime: DateTime(),
        Decimal: Money(),
        str: Text(),
        dict[str, Any]: JSON(none_as_null=True),
        list[Any]: JSON(none_as_null=True),
    }


_NOT_DELETED = column("deleted_at").is_(None)


def _unique_while_there(*columns: str) -> Index:
    """Unique among the rows that are not deleted."""
    return Index(None, *columns, unique=True, sqlite_where=_NOT_DELETED, postgresql_where=_NOT_DELETED)


class LibraryRow(Base):
    """One row: which library this catalogue belongs to."""

    __tablename__ = "library"
    id: Mapped[str] = mapped_column(String(36), primary_key=True)
    made_at: Mapped[datetime.datetime] = mapped_column(Moment, default=now)


class CarRow(Base):
    """A car. `sheet` is the car sheet as its owner typed it; `catalogue.car_of` parses it."""

    __tablename__ = "cars"
    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str]
    sheet: Mapped[str]
    notes: Mapped[str] = mapped_column(default="")
    made_at: Mapped[datetime.datetime] = mapped_column(Moment, default=now)
    changed_at: Mapped[datetime.datetime] = mapped_column(Moment, default=now, onupdate=now)
    deleted_at: Mapped[datetime.datetime | None] = mapped_column(Moment)
    __table_args__ = (_unique_while_there("name"),)


class ChangeRow(Base):
    """Something done to the car: a part fitted or removed, a calibration loaded, a hole cut, a temporary fix.

    It is on the car from `fitted` until `removed`, for ever where that is None. `temporary`: still to undo.
    """

    __tablename__ = "changes"
    id: Mapped[int] = mapped_column(primary_key=True)
    car_id: Mapped[int] = mapped_column(ForeignKey("cars.id"), index=True)
    what: Mapped[str]
    kind: Mapped[str] = mapped_column(default="part")
    place: Mapped[str] = mapped_column(default="")
    """Place in the air path."""
    dimensions: Mapped[str] = mapped_column(default="")
    path_sheet: Mapped[str] = mapped_column(default="")
    """Air path as it is with this change fitted (TOML), where somebody measured it."""
    notes: Mapped[str] = mapped_column(default="")
    cost: Mapped[Decimal | None]
    currency: Mapped[str | None] = mapped_column(String(3))
    temporary: Mapped[bool] = mapped_column(default=False)
    fitted: Mapped[datetime.datetime]
    removed: Mapped[datetime.datetime | None]
    made_at: Mapped[datetime.datetime] = mapped_column(Moment, default=now)
    deleted_at: Mapped[datetime.datetime | None] = mapped_column(Moment)
    __table_args__ = (CheckConstraint("removed IS NULL OR removed >= fitted", name="removed_after_fitted"),)


class PhotoRow(Base):
    """A photo of a change; the file lies among the originals under its hash."""

    __tablename__ = "photos"
    id: Mapped[int] = mapped_column(primary_key=True)
    change_id: Mapped[int] = mapped_column(ForeignKey("changes.id"), index=True)
    hash: Mapped[str] = mapped_column(String(64))
    size: Mapped[int] = mapped_column(BigInteger)
    file: Mapped[str]
    media_type: Mapped[str]
    made_at: Mapped[datetime.datetime] = mapped_column(Moment, default=now)
    deleted_at: Mapped[datetime.datetime | None] = mapped_column(Moment)


class DayRow(Base):
    """A test day: one outing. `build_stated` says that `DayBuildRow`s name the build, not the dates of the changes."""

    __tablename__ = "days"
    id: Mapped[int] = mapped_column(primary_key=True)
    car_id: Mapped[int] = mapped_column(ForeignKey("cars.id"), index=True)
    label: Mapped[str]
    date: Mapped[datetime.date]
    place: Mapped[str] = mapped_column(default="")
    air_temperature_c: Mapped[float | None]
    air_pressure_kpa: Mapped[float | None]
    relative_humidity_pct: Mapped[float | None]
    fuel: Mapped[str] = mapped_column(default="")
    people: Mapped[int | None]
    """People aboard, the driver counted."""
    odometer_km: Mapped[float | None]
    notes: Mapped[str] = mapped_column(default="")
    build_stated: Mapped[bool] = mapped_column(default=False)
    made_at: Mapped[datetime.datetime] = mapped_column(Moment, default=now)
    deleted_at: Mapped[datetime.datetime | None] = mapped_column(Moment)
    __table_args__ = (_unique_while_there("car_id", "label"),)


class DayBuildRow(Base):
    """A change that was on the car on a day, because somebody said so."""

    __tablename__ = "day_builds"
    day_id: Mapped[int] = mapped_column(ForeignKey("days.id"), primary_key=True)
    change_id: Mapped[int] = mapped_column(ForeignKey("changes.id"), primary_key=True)


class LogRow(Base):
    """One recorded file. `hash` finds the original; `reading_key` and `samples_hash` the samples made from it.

    `file` is the base name that it came with; `name` is that, made unique within the car: pulls and days go by it.
    """

    __tablename__ = "logs"
    id: Mapped[int] = mapped_column(primary_key=True)
    car_id: Mapped[int] = mapped_column(ForeignKey("cars.id"), index=True)
    day_id: Mapped[int | None] = mapped_column(ForeignKey("days.id"), index=True)
    hash: Mapped[str] = mapped_column(String(64), index=True)
    size: Mapped[int] = mapped_column(BigInteger)
    file: Mapped[str]
    name: Mapped[str]
    signature: Mapped[str] = mapped_column(String(64), index=True)
    """Fingerprint of the headers: logs of one logger, set up one way, share it."""
    when: Mapped[datetime.datetime | None]
    direction: Mapped[str | None]
    air_temperature_c: Mapped[float | None]
    air_pressure_kpa: Mapped[float | None]
    relative_humidity_pct: Mapped[float | None]
    """Air of this log, where it differs from the day's."""
    notes: Mapped[str] = mapped_column(default="")
    rows: Mapped[int]
    duration_s: Mapped[float]
    reader_version: Mapped[str]
    reading_key: Mapped[str] = mapped_column(String(64))
    """Fingerprint of the reader and of what the owner says of the columns: another one, and it is read anew."""
    pulls_key: Mapped[str] = mapped_column(String(64))
    """Fingerprint of the car and the reading from which the pulls were found."""
    samples_hash: Mapped[str] = mapped_column(String(64))
    samples_size: Mapped[int] = mapped_column(BigInteger)
    companions: Mapped[list[Any]] = mapped_column(default=list)
    """What has to lie beside the file to read it, such as a .dbc: `{"file": ..., "hash": ..., "size": ...}`."""
    imported_at: Mapped[datetime.datetime] = mapped_column(Moment, default=now)
    deleted_at: Mapped[datetime.datetime | None] = mapped_column(Moment)
    __table_args__ = (_unique_while_there("car_id", "hash"), UniqueConstraint("car_id", "name"))


class ColumnDecisionRow(Base):
    """What somebody said that a column of a logger is; it holds for every log of that logger, now and later.

    `channel` None keeps the column unrecognised. `unit` is what the file uses, with its reference: `psi gauge`.
    """

    __tablename__ = "column_decisions"
    id: Mapped[int] = mapped_column(primary_key=True)
    signature: Mapped[str] = mapped_column(String(64))
    header: Mapped[str]
    channel: Mapped[str | None]
    unit: Mapped[str | None]
    decided_by: Mapped[str] = mapped_column(default="")
    decided_at: Mapped[datetime.datetime] = mapped_column(Moment, default=now)
    __table_args__ = (UniqueConstraint("signature", "header"),)


class PullRow(Base):
    """A pull as it was found, before anybody overruled it. Made anew whenever its log is read anew."""

    __tablename__ = "pulls"
    id: Mapped[int] = mapped_column(primary_key=True)
    log_id: Mapped[int] = mapped_column(ForeignKey("logs.id"), index=True)
    start_s: Mapped[float]
    end_s: Mapped[float]
    gear: Mapped[int | None]
    rpm_start: Mapped[float]
    rpm_end: Mapped[float]
    used: Mapped[bool]
    reason: Mapped[str | None]
    assumptions: Mapped[list[Any]]
    rpm_per_kmh: Mapped[float | None]


class OverrulingRow(Base):
    """The user's word on a pull, kept by log and span of time so that it outlives every new reading."""

    __tablename__ = "overrulings"
    id: Mapped[int] = mapped_column(primary_key=True)
    log_id: Mapped[int] = mapped_column(ForeignKey("logs.id"), index=True)
    start_s: Mapped[float]
    end_s: Mapped[float]
    use: Mapped[bool]
    reason: Mapped[str]
    decided_at: Mapped[datetime.datetime] = mapped_column(Moment, default=now)
    deleted_at: Mapped[datetime.datetime | None] = mapped_column(Moment)


class ComparisonRow(Base):
    """A comparison that somebody kept. `before` and `after` are `catalogue.Selection`s as JSON."""

    __tablename__ = "comparisons"
    id: Mapped[int] = mapped_column(primary_key=True)
    car_id: Mapped[int] = mapped_column(ForeignKey("cars.id"), index=True)
    name: Mapped[str]
    note: Mapped[str] = mapped_column(default="")
    before: Mapped[dict[str, Any]]
    after: Mapped[dict[str, Any]]
    window_low_rpm: Mapped[float | None]
    window_high_rpm: Mapped[float | None]
    main: Mapped[str | None]
    level: Mapped[float] = mapped_column(default=0.95)
    result: Mapped[dict[str, Any] | None]
    """The document of `pullproof compare --json` as it was when last computed."""
    made_at: Mapped[datetime.datetime] = mapped_column(Moment, default=now)
    deleted_at: Mapped[datetime.datetime | None] = mapped_column(Moment)


class JobRow(Base):
    """Long work. `state` is running, stopped, done or failed; a runner that died leaves it running, see `pid`."""

    __tablename__ = "jobs"
    id: Mapped[int] = mapped_column(primary_key=True)
    kind: Mapped[str]
    car_id: Mapped[int | None] = mapped_column(ForeignKey("cars.id"))
    state: Mapped[str] = mapped_column(default="running")
    done: Mapped[int] = mapped_column(default=0)
    total: Mapped[int] = mapped_column(default=0)
    message: Mapped[str] = mapped_column(default="")
    arguments: Mapped[dict[str, Any]]
    stop_asked: Mapped[bool] = mapped_column(default=False)
    host: Mapped[str] = mapped_column(default="")
    pid: Mapped[int | None]
    made_at: Mapped[datetime.datetime] = mapped_column(Moment, default=now)
    changed_at: Mapped[datetime.datetime] = mapped_column(Moment, default=now, onupdate=now)


class JobFileRow(Base):
    """What became of one file of an import: imported, there, or failed with a sentence."""

    __tablename__ = "job_files"
    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), index=True)
    path: Mapped[str]
    outcome: Mapped[str]
    sentence: Mapped[str] = mapped_column(default="")
    log_id: Mapped[int | None] = mapped_column(ForeignKey("logs.id"))
    made_at: Mapped[datetime.datetime] = mapped_column(Moment, default=now)


class SettingRow(Base):
    """A preference of the person who uses the library, such as units to show."""

    __tablename__ = "settings"
    key: Mapped[str] = mapped_column(String(100), primary_key=True)
    value: Mapped[dict[str, Any]]
