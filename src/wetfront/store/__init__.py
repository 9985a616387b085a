"""Where journals are kept: SQLite in a file by default, PostgreSQL for a company."""

from wetfront.store.database import StoreUnreachable, database_url, opened
from wetfront.store.journals import Journals, Kept

__all__ = ["Journals", "Kept", "StoreUnreachable", "database_url", "opened"]
