"""Run the application on an open door until somebody stops it."""

import socket
from collections.abc import Callable

import uvicorn

from wetfront.api.access import Access
from wetfront.api.app import build_app
from wetfront.api.site import Site
from wetfront.api.wire import Protocol

LONGEST_GOODBYE_S = 5
"""Requests under way are answered for so long after a stop was asked for."""


class Server(uvicorn.Server):
    """Tells the streams to end as soon as a stop is asked for: they would hold it up until its time is over."""

    def __init__(self, config: uvicorn.Config, leaving: Callable[[], None]):
        super().__init__(config)
        self._leaving = leaving

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End the streams, then what uvicorn ends."""
        self._leaving()
        await super().shutdown(sockets)


def server_of(site: Site, access: Access | None, chain: str | None = None, key: str | None = None) -> Server:
    """A server that is not running yet. With `chain` and `key`, files of a certificate, it speaks HTTPS."""
    config = uvicorn.Config(
        build_app(site, access),
        http=Protocol,
        log_level="warning",
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=LONGEST_GOODBYE_S,
        ssl_certfile=chain,
        ssl_keyfile=key,
        proxy_headers=False,
    )
    return Server(config, site.pulse.stop)


def serve(
    site: Site, access: Access | None, door: socket.socket, chain: str | None = None, key: str | None = None
) -> None:
    """Serve until Ctrl-C or a stop signal; streams are ended, requests under way are answered."""
    server_of(site, access, chain, key).run(sockets=[door])
