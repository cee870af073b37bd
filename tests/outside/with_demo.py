"""Runs a command while a `litfloor demo` runs, whose address it finds in LITFLOOR_URL.

The demo must end with 0 on SIGINT afterwards.
"""

import os
import subprocess
import sys

from daemon import Daemon


def main(command):
    with Daemon("demo") as demo:
        status = subprocess.run(command, env={**os.environ, "LITFLOOR_URL": demo.url}).returncode
    print(f"the demo at {demo.url} ended with {demo.process.returncode}")
    return status


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
