"""The first tables, and the triggers that let the log only grow.

Revision ID: 0001
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

GROWS_ONLY = ("entry", "piece", "run", "run_piece", "run_end", "reading", "event", "photo", "plan_change")
# INSERT OR REPLACE deletes the row in the way without firing a delete trigger: so nothing may be in the way.
IN_THE_WAY = {
    "entry": "id = NEW.id OR replaces_id = NEW.replaces_id",
    "piece": "id = NEW.id",
    "run": "id = NEW.id",
    "run_piece": "run_id = NEW.run_id AND piece_id = NEW.piece_id",
    "run_end": "id = NEW.id OR run_id = NEW.run_id",
    "reading": "id = NEW.id",
    "event": "id = NEW.id",
    "photo": "id = NEW.id",
    "plan_change": "id = NEW.id",
    "limits": "id = NEW.id OR (dimension_id = NEW.dimension_id AND until IS NULL AND NEW.until IS NULL)",
}


def upgrade() -> None:
    op.create_table(
        "build",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("general_tolerance", sa.String(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.CheckConstraint("unit IN ('mm', 'in')", name=op.f("ck_build_unit_known")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_build")),
        sa.UniqueConstraint("name", name=op.f("uq_build_name")),
    )
    op.create_table(
        "device",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("role", sa.String(), nullable=False),
        sa.Column("secret_hash", sa.String(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.Column("last_seen_at", sa.DateTime(), nullable=True),
        sa.Column("revoked_at", sa.DateTime(), nullable=True),
        sa.CheckConstraint("role IN ('editor', 'viewer')", name=op.f("ck_device_role_known")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_device")),
        sa.UniqueConstraint("secret_hash", name=op.f("uq_device_secret_hash")),
    )
    op.create_table(
        "entry",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("build_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("occurred_at", sa.DateTime(), nullable=False),
        sa.Column("received_at", sa.DateTime(), nullable=False),
        sa.Column("who", sa.String(), nullable=False),
        sa.Column("replaces_id", sa.Integer(), nullable=True),
        sa.Column("why", sa.String(), nullable=False),
        sa.CheckConstraint(
            "kind IN ('piece', 'run', 'run end', 'reading', 'event', 'photo')", name=op.f("ck_entry_kind_known")
        ),
        sa.ForeignKeyConstraint(["build_id"], ["build.id"], name=op.f("fk_entry_build_id_build")),
        sa.ForeignKeyConstraint(["replaces_id"], ["entry.id"], name=op.f("fk_entry_replaces_id_entry")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_entry")),
        sa.UniqueConstraint("replaces_id", name=op.f("uq_entry_replaces_id")),
    )
    op.create_index("ix_entry_build_id_id", "entry", ["build_id", "id"], unique=False)
    op.create_table(
        "part",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("build_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("revision", sa.String(), nullable=False),
        sa.Column("material", sa.String(), nullable=False),
        sa.Column("hand", sa.String(), nullable=False),
        sa.Column("needed", sa.Integer(), nullable=False),
        sa.Column("spares", sa.Integer(), nullable=False),
        sa.Column("general_tolerance", sa.String(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.CheckConstraint("hand IN ('none', 'left', 'right', 'both')", name=op.f("ck_part_hand_known")),
        sa.CheckConstraint("needed >= 0 AND spares >= 0", name=op.f("ck_part_counts_not_negative")),
        sa.ForeignKeyConstraint(["build_id"], ["build.id"], name=op.f("fk_part_build_id_build")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part")),
        sa.UniqueConstraint("build_id", "number", name=op.f("uq_part_build_id_number")),
    )
    op.create_table(
        "request_key",
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("device_id", sa.Integer(), nullable=True),
        sa.Column("request_hash", sa.String(), nullable=False),
        sa.Column("answer", sa.String(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["device_id"], ["device.id"], name=op.f("fk_request_key_device_id_device")),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_request_key")),
    )
    op.create_table(
        "dimension",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("operation_number", sa.Integer(), nullable=True),
        sa.Column("importance", sa.String(), nullable=False),
        sa.Column("gauge", sa.String(), nullable=False),
        sa.Column("retired_at", sa.DateTime(), nullable=True),
        sa.CheckConstraint("importance IN ('fit', 'working', 'cosmetic')", name=op.f("ck_dimension_importance_known")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_dimension_part_id_part")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_dimension")),
    )
    op.create_index(
        "uq_dimension_part_id_number",
        "dimension",
        ["part_id", "number"],
        unique=True,
        sqlite_where=sa.text("retired_at IS NULL"),
        postgresql_where=sa.text("retired_at IS NULL"),
    )
    op.create_table(
        "operation",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("machine", sa.String(), nullable=False),
        sa.Column("setup", sa.String(), nullable=False),
        sa.Column("work_offset", sa.String(), nullable=False),
        sa.Column("cutters", sa.String(), nullable=False),
        sa.Column("planned_minutes", sa.Float(), nullable=True),
        sa.Column("check_before", sa.String(), nullable=False),
        sa.Column("retired_at", sa.DateTime(), nullable=True),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_operation_part_id_part")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_operation")),
    )
    op.create_index(
        "uq_operation_part_id_number",
        "operation",
        ["part_id", "number"],
        unique=True,
        sqlite_where=sa.text("retired_at IS NULL"),
        postgresql_where=sa.text("retired_at IS NULL"),
    )
    op.create_table(
        "piece",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("build_id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("mark", sa.String(), nullable=False),
        sa.Column("hand", sa.String(), nullable=False),
        sa.Column("revision", sa.String(), nullable=False),
        sa.CheckConstraint("hand IN ('none', 'left', 'right')", name=op.f("ck_piece_hand_known")),
        sa.ForeignKeyConstraint(["build_id"], ["build.id"], name=op.f("fk_piece_build_id_build")),
        sa.ForeignKeyConstraint(["id"], ["entry.id"], name=op.f("fk_piece_id_entry")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_piece_part_id_part")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_piece")),
    )
    op.create_index("ix_piece_build_id_mark", "piece", ["build_id", "mark"], unique=False)
    op.create_index(op.f("ix_piece_part_id"), "piece", ["part_id"], unique=False)
    op.create_table(
        "plan_change",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("build_id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=True),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.Column("who", sa.String(), nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["build_id"], ["build.id"], name=op.f("fk_plan_change_build_id_build")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_plan_change_part_id_part")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_plan_change")),
    )
    op.create_index(op.f("ix_plan_change_build_id"), "plan_change", ["build_id"], unique=False)
    op.create_table(
        "limits",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("dimension_id", sa.Integer(), nullable=False),
        sa.Column("requirement", sa.String(), nullable=False),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("nominal_nm", sa.BigInteger(), nullable=True),
        sa.Column("low_nm", sa.BigInteger(), nullable=True),
        sa.Column("high_nm", sa.BigInteger(), nullable=True),
        sa.Column("standard", sa.String(), nullable=False),
        sa.Column("cutting", sa.String(), nullable=False),
        sa.Column("since", sa.DateTime(), nullable=False),
        sa.Column("until", sa.DateTime(), nullable=True),
        sa.CheckConstraint("cutting IN ('smaller', 'larger', 'neither')", name=op.f("ck_limits_cutting_known")),
        sa.CheckConstraint("kind IN ('size', 'at most', 'at least', 'reference')", name=op.f("ck_limits_kind_known")),
        sa.ForeignKeyConstraint(["dimension_id"], ["dimension.id"], name=op.f("fk_limits_dimension_id_dimension")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_limits")),
    )
    op.create_index(op.f("ix_limits_dimension_id"), "limits", ["dimension_id"], unique=False)
    op.create_index(
        "uq_limits_dimension_id",
        "limits",
        ["dimension_id"],
        unique=True,
        sqlite_where=sa.text("until IS NULL"),
        postgresql_where=sa.text("until IS NULL"),
    )
    op.create_table(
        "piece_operation",
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("operation_id", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("runs", sa.Integer(), nullable=False),
        sa.Column("why", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"], name=op.f("fk_piece_operation_operation_id_operation")
        ),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_piece_operation_piece_id_piece")),
        sa.PrimaryKeyConstraint("piece_id", "operation_id", name=op.f("pk_piece_operation")),
    )
    op.create_table(
        "run",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("operation_id", sa.Integer(), nullable=False),
        sa.Column("machine", sa.String(), nullable=False),
        sa.Column("setup", sa.String(), nullable=False),
        sa.Column("cutters", sa.String(), nullable=False),
        sa.Column("rpm", sa.Float(), nullable=True),
        sa.Column("feed_typed", sa.String(), nullable=False),
        sa.Column("feed_unit", sa.String(), nullable=False),
        sa.Column("feed_nm", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(["id"], ["entry.id"], name=op.f("fk_run_id_entry")),
        sa.ForeignKeyConstraint(["operation_id"], ["operation.id"], name=op.f("fk_run_operation_id_operation")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_run")),
    )
    op.create_index(op.f("ix_run_operation_id"), "run", ["operation_id"], unique=False)
    op.create_table(
        "piece_state",
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("build_id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("mark", sa.String(), nullable=False),
        sa.Column("hand", sa.String(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("next_move", sa.String(), nullable=False),
        sa.Column("operation_id", sa.Integer(), nullable=True),
        sa.Column("run_id", sa.Integer(), nullable=True),
        sa.Column("fitted_to", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["build_id"], ["build.id"], name=op.f("fk_piece_state_build_id_build")),
        sa.ForeignKeyConstraint(["operation_id"], ["operation.id"], name=op.f("fk_piece_state_operation_id_operation")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_piece_state_part_id_part")),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_piece_state_piece_id_piece")),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_piece_state_run_id_run")),
        sa.PrimaryKeyConstraint("piece_id", name=op.f("pk_piece_state")),
    )
    op.create_index("ix_piece_state_build_id_part_id", "piece_state", ["build_id", "part_id"], unique=False)
    op.create_index(
        "uq_piece_state_build_id_mark",
        "piece_state",
        ["build_id", "mark"],
        unique=True,
        sqlite_where=sa.text("state <> 'entered by mistake'"),
        postgresql_where=sa.text("state <> 'entered by mistake'"),
    )
    op.create_table(
        "reading",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("first_id", sa.Integer(), nullable=False),
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("dimension_id", sa.Integer(), nullable=False),
        sa.Column("limits_id", sa.Integer(), nullable=False),
        sa.Column("run_id", sa.Integer(), nullable=True),
        sa.Column("value_nm", sa.BigInteger(), nullable=True),
        sa.Column("typed", sa.String(), nullable=False),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("entered_as", sa.String(), nullable=False),
        sa.Column("gauge", sa.String(), nullable=False),
        sa.Column("temperature_c", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(["dimension_id"], ["dimension.id"], name=op.f("fk_reading_dimension_id_dimension")),
        sa.ForeignKeyConstraint(["id"], ["entry.id"], name=op.f("fk_reading_id_entry")),
        sa.ForeignKeyConstraint(["limits_id"], ["limits.id"], name=op.f("fk_reading_limits_id_limits")),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_reading_piece_id_piece")),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_reading_run_id_run")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading")),
    )
    op.create_index(
        "ix_reading_piece_id_dimension_id_first_id", "reading", ["piece_id", "dimension_id", "first_id"], unique=False
    )
    op.create_table(
        "run_end",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("run_id", sa.Integer(), nullable=False),
        sa.Column("outcome", sa.String(), nullable=False),
        sa.CheckConstraint("outcome IN ('finished', 'broken off')", name=op.f("ck_run_end_outcome_known")),
        sa.ForeignKeyConstraint(["id"], ["entry.id"], name=op.f("fk_run_end_id_entry")),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_run_end_run_id_run")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_run_end")),
        sa.UniqueConstraint("run_id", name=op.f("uq_run_end_run_id")),
    )
    op.create_table(
        "run_piece",
        sa.Column("run_id", sa.Integer(), nullable=False),
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("work_offset", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_run_piece_piece_id_piece")),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_run_piece_run_id_run")),
        sa.PrimaryKeyConstraint("run_id", "piece_id", name=op.f("pk_run_piece")),
    )
    op.create_index("ix_run_piece_piece_id", "run_piece", ["piece_id"], unique=False)
    op.create_table(
        "event",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("piece_id", sa.Integer(), nullable=True),
        sa.Column("run_id", sa.Integer(), nullable=True),
        sa.Column("dimension_id", sa.Integer(), nullable=True),
        sa.Column("reading_id", sa.Integer(), nullable=True),
        sa.Column("text", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["dimension_id"], ["dimension.id"], name=op.f("fk_event_dimension_id_dimension")),
        sa.ForeignKeyConstraint(["id"], ["entry.id"], name=op.f("fk_event_id_entry")),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_event_piece_id_piece")),
        sa.ForeignKeyConstraint(["reading_id"], ["reading.id"], name=op.f("fk_event_reading_id_reading")),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_event_run_id_run")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_event")),
    )
    op.create_index("ix_event_piece_id_id", "event", ["piece_id", "id"], unique=False)
    op.create_index("ix_event_run_id", "event", ["run_id"], unique=False)
    op.create_table(
        "latest_reading",
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("dimension_id", sa.Integer(), nullable=False),
        sa.Column("reading_id", sa.Integer(), nullable=False),
        sa.Column("first_id", sa.Integer(), nullable=False),
        sa.Column("value_nm", sa.BigInteger(), nullable=False),
        sa.Column("verdict", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["dimension_id"], ["dimension.id"], name=op.f("fk_latest_reading_dimension_id_dimension")
        ),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_latest_reading_piece_id_piece")),
        sa.ForeignKeyConstraint(["reading_id"], ["reading.id"], name=op.f("fk_latest_reading_reading_id_reading")),
        sa.PrimaryKeyConstraint("piece_id", "dimension_id", name=op.f("pk_latest_reading")),
    )
    op.create_table(
        "photo",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(), nullable=False),
        sa.Column("media_type", sa.String(), nullable=False),
        sa.Column("width", sa.Integer(), nullable=False),
        sa.Column("height", sa.Integer(), nullable=False),
        sa.Column("size_bytes", sa.Integer(), nullable=False),
        sa.Column("caption", sa.String(), nullable=False),
        sa.Column("piece_id", sa.Integer(), nullable=True),
        sa.Column("run_id", sa.Integer(), nullable=True),
        sa.Column("operation_id", sa.Integer(), nullable=True),
        sa.Column("event_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["event_id"], ["event.id"], name=op.f("fk_photo_event_id_event")),
        sa.ForeignKeyConstraint(["id"], ["entry.id"], name=op.f("fk_photo_id_entry")),
        sa.ForeignKeyConstraint(["operation_id"], ["operation.id"], name=op.f("fk_photo_operation_id_operation")),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name=op.f("fk_photo_piece_id_piece")),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_photo_run_id_run")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photo")),
    )
    op.create_index("ix_photo_piece_id", "photo", ["piece_id"], unique=False)
    op.create_index("ix_photo_run_id", "photo", ["run_id"], unique=False)
    op.create_index("ix_photo_operation_id", "photo", ["operation_id"], unique=False)
    op.create_index("ix_photo_event_id", "photo", ["event_id"], unique=False)
    for table in GROWS_ONLY:
        for verb in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, 'the log only grows: {table} cannot be changed or deleted'); END"
            )
    for table, condition in IN_THE_WAY.items():
        op.execute(
            f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} "
            f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {condition}) "
            f"BEGIN SELECT RAISE(ABORT, 'the log only grows: {table} cannot be written over'); END"
        )
    # The sizes of limits stand for ever; only the moment from which they are no longer in force is filled in, once.
    op.execute(
        "CREATE TRIGGER limits_no_update BEFORE UPDATE ON limits "
        "WHEN OLD.until IS NOT NULL OR NEW.until IS NULL OR NEW.id <> OLD.id OR NEW.dimension_id <> OLD.dimension_id "
        "OR NEW.requirement <> OLD.requirement OR NEW.unit <> OLD.unit OR NEW.kind <> OLD.kind "
        "OR NEW.nominal_nm IS NOT OLD.nominal_nm OR NEW.low_nm IS NOT OLD.low_nm OR NEW.high_nm IS NOT OLD.high_nm "
        "OR NEW.standard <> OLD.standard OR NEW.cutting <> OLD.cutting OR NEW.since <> OLD.since "
        "BEGIN SELECT RAISE(ABORT, 'limits keep their past: new ones are a new row'); END"
    )
    op.execute(
        "CREATE TRIGGER limits_no_delete BEFORE DELETE ON limits "
        "BEGIN SELECT RAISE(ABORT, 'limits keep their past: they cannot be deleted'); END"
    )
