"""A server that starts again in a moment after each kill: everything is loaded once, each life of it is a fork.

Lines on standard input: `start` begins a life, `kill` ends it as a power cut would. Each is answered by one line.
"""

import datetime as dt
import os
import signal
import socket
import sys
from pathlib import Path

from sqlalchemy import make_url

from wetfront.api.running import server_of
from wetfront.api.site import Site
from wetfront.store import Journals, opened

address, folder, clock = sys.argv[1], Path(sys.argv[2]), dt.datetime.fromisoformat(sys.argv[3])
door = socket.create_server(("127.0.0.1", 0))
engine = opened(make_url(address))
site = Site(folder, Journals(engine), lambda: clock)
site.pours()
server = server_of(site, None)
engine.dispose()
print(door.getsockname()[1], flush=True)
life = 0
for line in sys.stdin:
    if line.strip() == "start":
        life = os.fork()
        if life == 0:
            os.close(sys.stdin.fileno())
            engine.dispose(close=False)
            server.run(sockets=[door])
            os._exit(0)
    else:
        os.kill(life, signal.SIGKILL)
        os.waitpid(life, 0)
    print(life, flush=True)
