"""Where the outside programs are that some tests need; the empty path when there is none.

Run as a program it prints the Debian packages that are missing here.
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path

_CHROMIUM = (
    "chromium",
    "chromium-browser",
    "google-chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
)
_POSTGRESQL = (
    "/usr/lib/postgresql/*/bin",
    "/opt/homebrew/opt/postgresql@*/bin",
    "/usr/pgsql-*/bin",
)

FLAGS = (
    "--no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync --disable-dev-shm-usage"
)
"""How Chromium starts: as root, without a graphics card, without asking anybody outside."""


def chromium() -> str:
    """The browser: CHROMIUM from the environment, else the first usual name that exists."""
    found = (shutil.which(name) for name in (os.environ.get("CHROMIUM", ""), *_CHROMIUM))
    return next(filter(None, found), "")


def postgresql() -> str:
    """The folder of initdb and pg_ctl: on the PATH, else the newest in the usual places."""
    if on_path := shutil.which("initdb"):
        return str(Path(on_path).resolve().parent)
    folders = [folder for pattern in _POSTGRESQL for folder in Path("/").glob(pattern[1:])]
    usable = [folder for folder in folders if (folder / "initdb").exists()]
    return str(max(usable, key=_version, default=""))


def _version(folder: Path) -> int:
    return int("".join(filter(str.isdigit, folder.parent.name)) or 0)


def missing_packages() -> list[str]:
    """Debian's names for what is not here; libatomic1 is what playwright's own program needs."""
    driver = [sys.executable, "-m", "playwright", "--version"]
    return [
        *([] if chromium() else ["chromium"]),
        *([] if subprocess.run(driver, capture_output=True).returncode == 0 else ["libatomic1"]),
        *([] if postgresql() else ["postgresql"]),
    ]


if __name__ == "__main__":
    print(*missing_packages())
