"""The first tables."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make all tables of the first release."""
    op.create_table(
        "cars",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("sheet", sa.Text(), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("deleted_at", sa.DateTime(timezone=True), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cars")),
    )
    op.create_index(
        op.f("ix_cars_name"),
        "cars",
        ["name"],
        unique=True,
        sqlite_where=sa.text("deleted_at IS NULL"),
        postgresql_where=sa.text("deleted_at IS NULL"),
    )
    op.create_table(
        "column_decisions",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("signature", sa.String(length=64), nullable=False),
        sa.Column("header", sa.Text(), nullable=False),
        sa.Column("channel", sa.Text(), nullable=True),
        sa.Column("unit", sa.Text(), nullable=True),
        sa.Column("decided_by", sa.Text(), nullable=False),
        sa.Column("decided_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_column_decisions")),
        sa.UniqueConstraint("signature", "header", name=op.f("uq_column_decisions_signature_header")),
    )
    op.create_table(
        "library",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_library")),
    )
    op.create_table(
        "settings",
        sa.Column("key", sa.String(length=100), nullable=False),
        sa.Column("value", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_settings")),
    )
    op.create_table(
        "changes",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("car_id", sa.Integer(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("place", sa.Text(), nullable=False),
        sa.Column("dimensions", sa.Text(), nullable=False),
        sa.Column("path_sheet", sa.Text(), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("cost", sa.Numeric(12, 2).with_variant(sa.String(16), "sqlite"), nullable=True),
        sa.Column("currency", sa.String(length=3), nullable=True),
        sa.Column("temporary", sa.Boolean(), nullable=False),
        sa.Column("fitted", sa.DateTime(), nullable=False),
        sa.Column("removed", sa.DateTime(), nullable=True),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("deleted_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("removed IS NULL OR removed >= fitted", name=op.f("ck_changes_removed_after_fitted")),
        sa.ForeignKeyConstraint(["car_id"], ["cars.id"], name=op.f("fk_changes_car_id_cars")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_changes")),
    )
    op.create_index(op.f("ix_changes_car_id"), "changes", ["car_id"], unique=False)
    op.create_table(
        "comparisons",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("car_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("before", sa.JSON(), nullable=False),
        sa.Column("after", sa.JSON(), nullable=False),
        sa.Column("window_low_rpm", sa.Double(), nullable=True),
        sa.Column("window_high_rpm", sa.Double(), nullable=True),
        sa.Column("main", sa.Text(), nullable=True),
        sa.Column("level", sa.Double(), nullable=False),
        sa.Column("result", sa.JSON(), nullable=True),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("deleted_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["car_id"], ["cars.id"], name=op.f("fk_comparisons_car_id_cars")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_comparisons")),
    )
    op.create_index(op.f("ix_comparisons_car_id"), "comparisons", ["car_id"], unique=False)
    op.create_table(
        "days",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("car_id", sa.Integer(), nullable=False),
        sa.Column("label", sa.Text(), nullable=False),
        sa.Column("date", sa.Date(), nullable=False),
        sa.Column("place", sa.Text(), nullable=False),
        sa.Column("air_temperature_c", sa.Double(), nullable=True),
        sa.Column("air_pressure_kpa", sa.Double(), nullable=True),
        sa.Column("relative_humidity_pct", sa.Double(), nullable=True),
        sa.Column("fuel", sa.Text(), nullable=False),
        sa.Column("people", sa.Integer(), nullable=True),
        sa.Column("odometer_km", sa.Double(), nullable=True),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("build_stated", sa.Boolean(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("deleted_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["car_id"], ["cars.id"], name=op.f("fk_days_car_id_cars")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_days")),
    )
    op.create_index(op.f("ix_days_car_id"), "days", ["car_id"], unique=False)
    op.create_index(
        op.f("ix_days_car_id_label"),
        "days",
        ["car_id", "label"],
        unique=True,
        sqlite_where=sa.text("deleted_at IS NULL"),
        postgresql_where=sa.text("deleted_at IS NULL"),
    )
    op.create_table(
        "jobs",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("car_id", sa.Integer(), nullable=True),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("done", sa.Integer(), nullable=False),
        sa.Column("total", sa.Integer(), nullable=False),
        sa.Column("message", sa.Text(), nullable=False),
        sa.Column("arguments", sa.JSON(), nullable=False),
        sa.Column("stop_asked", sa.Boolean(), nullable=False),
        sa.Column("host", sa.Text(), nullable=False),
        sa.Column("pid", sa.Integer(), nullable=True),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["car_id"], ["cars.id"], name=op.f("fk_jobs_car_id_cars")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_jobs")),
    )
    op.create_table(
        "day_builds",
        sa.Column("day_id", sa.Integer(), nullable=False),
        sa.Column("change_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["change_id"], ["changes.id"], name=op.f("fk_day_builds_change_id_changes")),
        sa.ForeignKeyConstraint(["day_id"], ["days.id"], name=op.f("fk_day_builds_day_id_days")),
        sa.PrimaryKeyConstraint("day_id", "change_id", name=op.f("pk_day_builds")),
    )
    op.create_table(
        "logs",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("car_id", sa.Integer(), nullable=False),
        sa.Column("day_id", sa.Integer(), nullable=True),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.Column("size", sa.BigInteger(), nullable=False),
        sa.Column("file", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("signature", sa.String(length=64), nullable=False),
        sa.Column("when", sa.DateTime(), nullable=True),
        sa.Column("direction", sa.Text(), nullable=True),
        sa.Column("air_temperature_c", sa.Double(), nullable=True),
        sa.Column("air_pressure_kpa", sa.Double(), nullable=True),
        sa.Column("relative_humidity_pct", sa.Double(), nullable=True),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("rows", sa.Integer(), nullable=False),
        sa.Column("duration_s", sa.Double(), nullable=False),
        sa.Column("reader_version", sa.Text(), nullable=False),
        sa.Column("reading_key", sa.String(length=64), nullable=False),
        sa.Column("pulls_key", sa.String(length=64), nullable=False),
        sa.Column("samples_hash", sa.String(length=64), nullable=False),
        sa.Column("samples_size", sa.BigInteger(), nullable=False),
        sa.Column("companions", sa.JSON(), nullable=False),
        sa.Column("imported_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("deleted_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["car_id"], ["cars.id"], name=op.f("fk_logs_car_id_cars")),
        sa.ForeignKeyConstraint(["day_id"], ["days.id"], name=op.f("fk_logs_day_id_days")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_logs")),
        sa.UniqueConstraint("car_id", "name", name=op.f("uq_logs_car_id_name")),
    )
    op.create_index(op.f("ix_logs_car_id"), "logs", ["car_id"], unique=False)
    op.create_index(
        op.f("ix_logs_car_id_hash"),
        "logs",
        ["car_id", "hash"],
        unique=True,
        sqlite_where=sa.text("deleted_at IS NULL"),
        postgresql_where=sa.text("deleted_at IS NULL"),
    )
    op.create_index(op.f("ix_logs_day_id"), "logs", ["day_id"], unique=False)
    op.create_index(op.f("ix_logs_hash"), "logs", ["hash"], unique=False)
    op.create_index(op.f("ix_logs_signature"), "logs", ["signature"], unique=False)
    op.create_table(
        "photos",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("change_id", sa.Integer(), nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.Column("size", sa.BigInteger(), nullable=False),
        sa.Column("file", sa.Text(), nullable=False),
        sa.Column("media_type", sa.Text(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("deleted_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["change_id"], ["changes.id"], name=op.f("fk_photos_change_id_changes")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photos")),
    )
    op.create_index(op.f("ix_photos_change_id"), "photos", ["change_id"], unique=False)
    op.create_table(
        "job_files",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("path", sa.Text(), nullable=False),
        sa.Column("outcome", sa.Text(), nullable=False),
        sa.Column("sentence", sa.Text(), nullable=False),
        sa.Column("log_id", sa.Integer(), nullable=True),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name=op.f("fk_job_files_job_id_jobs")),
        sa.ForeignKeyConstraint(["log_id"], ["logs.id"], name=op.f("fk_job_files_log_id_logs")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job_files")),
    )
    op.create_index(op.f("ix_job_files_job_id"), "job_files", ["job_id"], unique=False)
    op.create_table(
        "overrulings",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("log_id", sa.Integer(), nullable=False),
        sa.Column("start_s", sa.Double(), nullable=False),
        sa.Column("end_s", sa.Double(), nullable=False),
        sa.Column("use", sa.Boolean(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("decided_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("deleted_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["log_id"], ["logs.id"], name=op.f("fk_overrulings_log_id_logs")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_overrulings")),
    )
    op.create_index(op.f("ix_overrulings_log_id"), "overrulings", ["log_id"], unique=False)
    op.create_table(
        "pulls",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("log_id", sa.Integer(), nullable=False),
        sa.Column("start_s", sa.Double(), nullable=False),
        sa.Column("end_s", sa.Double(), nullable=False),
        sa.Column("gear", sa.Integer(), nullable=True),
        sa.Column("rpm_start", sa.Double(), nullable=False),
        sa.Column("rpm_end", sa.Double(), nullable=False),
        sa.Column("used", sa.Boolean(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=True),
        sa.Column("assumptions", sa.JSON(), nullable=False),
        sa.Column("rpm_per_kmh", sa.Double(), nullable=True),
        sa.ForeignKeyConstraint(["log_id"], ["logs.id"], name=op.f("fk_pulls_log_id_logs")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pulls")),
    )
    op.create_index(op.f("ix_pulls_log_id"), "pulls", ["log_id"], unique=False)
