"""Journals, their records and photos."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Build the first tables."""
    op.create_table(
        "journals",
        sa.Column("pour", sa.Text, nullable=False),
        sa.Column("last_number", sa.Integer, nullable=False),
        sa.Column("last_seal", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("pour", name="pk_journals"),
        sqlite_strict=True,
    )
    op.create_table(
        "records",
        sa.Column("pour", sa.Text, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("event_id", sa.Text, nullable=False),
        sa.Column("body_hash", sa.Text, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("received", sa.Text, nullable=False),
        sa.Column("skew_s", sa.Integer, nullable=False),
        sa.Column("previous", sa.Text, nullable=False),
        sa.Column("seal", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("pour", "number", name="pk_records"),
        sa.ForeignKeyConstraint(["pour"], ["journals.pour"], name="fk_records_pour"),
        sqlite_strict=True,
    )
    op.create_index("ix_records_event_id", "records", ["event_id"])
    op.create_table(
        "attachments",
        sa.Column("sha256", sa.Text, nullable=False),
        sa.Column("media_type", sa.Text, nullable=False),
        sa.Column("size_bytes", sa.Integer, nullable=False),
        sa.Column("content", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("sha256", name="pk_attachments"),
        sqlite_strict=True,
    )


def downgrade() -> None:
    """A journal is never thrown away by a program."""
    raise RuntimeError("journals are not taken back; restore a backup instead")
