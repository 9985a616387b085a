"""`wetfront serve` that is up again a moment after each kill: its modules are loaded once, each life is a fork of them.

What a life runs is the command itself, with the arguments of this script: it reads the folder, opens the database as
the life before left it, and serves. Lines on standard input: `start` begins a life, `kill` ends it by SIGKILL, which
no program can see coming. Each is answered by one line. The end of the input ends a life that is left.
"""

import gc
import importlib
import os
import signal
import sys

from wetfront.cli.main import main

LOADED_ONCE = (
    "anyio._backends._asyncio",
    "psycopg",
    "sqlalchemy.dialects.postgresql.psycopg",
    "uvicorn.loops.auto",
    "uvicorn.protocols.http.auto",
    "wetfront.api.running",
    "wetfront.store",
)
for name in LOADED_ONCE:
    importlib.import_module(name)
gc.freeze()
life = 0
for line in sys.stdin:
    if line.strip() == "start":
        life = os.fork()
        if life == 0:
            quiet = os.open(os.devnull, os.O_RDWR)
            for stream in (0, 1):
                os.dup2(quiet, stream)
            os._exit(main(["serve", *sys.argv[1:]]))
    elif life:
        os.kill(life, signal.SIGKILL)
        os.waitpid(life, 0)
        life = 0
    print(life, flush=True)
if life:
    os.kill(life, signal.SIGKILL)
