"""The tables as they are now. The migrations lead there from the first one on; a test keeps the two in step."""

from sqlalchemy import Column, ForeignKey, Integer, LargeBinary, MetaData, Table, Text

NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}
METADATA = MetaData(naming_convention=NAMES)

JOURNALS = Table(
    "journals",
    METADATA,
    Column("pour", Text, primary_key=True),
    Column("last_number", Integer, nullable=False),
    Column("last_seal", Text, nullable=False),
    sqlite_strict=True,
)
"""One row a pour: the end of its chain. Whoever appends locks it."""

RECORDS = Table(
    "records",
    METADATA,
    Column("pour", Text, ForeignKey("journals.pour"), primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("event_id", Text, nullable=False, index=True),
    Column("body_hash", Text, nullable=False),
    Column("body", Text, nullable=False),
    Column("received", Text, nullable=False),
    Column("skew_s", Integer, nullable=False),
    Column("previous", Text, nullable=False),
    Column("seal", Text, nullable=False),
    sqlite_strict=True,
)
"""Append-only. An id that came with two bodies has two rows."""

ATTACHMENTS = Table(
    "attachments",
    METADATA,
    Column("sha256", Text, primary_key=True),
    Column("media_type", Text, nullable=False),
    Column("size_bytes", Integer, nullable=False),
    Column("content", LargeBinary, nullable=False),
    sqlite_strict=True,
)
"""Photos, under the hash of their bytes."""
