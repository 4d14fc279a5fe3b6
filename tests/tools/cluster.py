"""A PostgreSQL cluster for one test run: made in a moment, used, thrown away."""

import getpass
import os
import shutil
import socket
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_LOCALE = "en_US.UTF-8" if sys.platform == "darwin" else "C.UTF-8"
_FAST = (
    "-c fsync=off -c synchronous_commit=off -c full_page_writes=off -c max_connections=60 "
    "-c autovacuum=off -c jit=off"
)


@contextmanager
def cluster(*, programs: str) -> Iterator[str]:
    """Start a cluster with the programs in that folder and give the address of its database.

    PostgreSQL refuses to run as root, so root hands over to the user "postgres", in a folder below
    /tmp because that user must be able to reach it. Nothing survives: the data are not even synced.
    """
    folder = Path(tempfile.mkdtemp(prefix="kneeledger-", dir="/tmp"))
    user = getpass.getuser() if os.getuid() else "postgres"
    shutil.chown(folder, user)
    port = _free_port()
    options = f"-p {port} -k {folder} -c listen_addresses=127.0.0.1 {_FAST}"

    def call(program: str, *arguments: str) -> None:
        command = [f"{programs}/{program}", "-D", f"{folder}/data", *arguments]
        hand_over = [] if os.getuid() else ["runuser", "-u", "postgres", "--"]
        with (folder / "out").open("w+") as out:
            done = subprocess.run(
                hand_over + command, cwd=folder, stdout=out, stderr=out, check=False
            )
            if done.returncode:
                out.seek(0)
                raise RuntimeError(f"{program} failed: {out.read()}")

    try:
        call("initdb", "-U", "kneeledger", "--auth=trust", f"--locale={_LOCALE}", "--no-sync")
        call("pg_ctl", "-l", f"{folder}/log", "-o", options, "-w", "start")
        try:
            yield f"postgres://kneeledger@127.0.0.1:{port}/postgres"
        finally:
            call("pg_ctl", "-m", "immediate", "-w", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as server:
        return int(server.getsockname()[1])
