"""The package's service under a real systemd, on a machine of its own made of namespaces."""

import os
import pathlib
import select
import shutil
import subprocess
import tempfile
import time
import unittest

import daemon
from test_package import PACKAGING, needs, ran

SCRIPTS = pathlib.Path(__file__).parent / "systemd"

FAULTY_KERNEL = pathlib.Path(__file__).parents[1] / "faults" / "faulty_kernel.c"

# Longer than all of it takes on a machine that is busy with other things.
PATIENCE_S = 240.0

# What enter.sh ends with where this user may make no such machine.
MAY_NOT = 77

# Of the unit: WatchdogSec and RestartSec, in milliseconds.
WATCHDOG_MS, RESTART_MS = 3_000, 100

SYSTEMD = pathlib.Path("/lib/systemd/systemd")


def played(package, directory):
    """Runs inside.sh there; gives what it told, or why there is no such machine."""
    for script in SCRIPTS.iterdir():
        shutil.copy(script, directory)
    shutil.copy(package, directory)
    ours, theirs = os.openpty()
    done = directory / "done"
    with open(directory / "console.log", "wb") as log:
        machine = subprocess.Popen(
            ["bash", directory / "enter.sh", package, directory, os.ttyname(theirs)],
            stdout=log,
            stderr=log,
            start_new_session=True,
        )
        deadline = time.monotonic() + PATIENCE_S
        # Who writes to a terminal that nobody reads waits for ever.
        while machine.poll() is None and time.monotonic() < deadline:
            if select.select([ours], [], [], 0.1)[0]:
                log.write(os.read(ours, 65_536))
    if machine.poll() is None:
        # Its child takes all others with it; enter.sh clears up after it.
        subprocess.run(["pkill", "-KILL", "--parent", str(machine.pid)], check=False)
    code = machine.wait(timeout=daemon.PATIENCE_S)
    os.close(ours)
    os.close(theirs)
    if code == MAY_NOT:
        return None
    assert done.exists(), (directory / "console.log").read_text(errors="replace")
    return [line.split(" ", 1) for line in (directory / "told").read_text().splitlines()]


@needs("cc", "dpkg-deb", "dpkg", "systemctl", "unshare", "nsenter", "ip", "pkill")
@unittest.skipUnless(SYSTEMD.exists() and os.geteuid() == 0, "no systemd, or not its user")
class Systemd(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        with tempfile.TemporaryDirectory() as home:
            home = pathlib.Path(home)
            home.chmod(0o755)
            built = ran(PACKAGING / "deb.sh", daemon.LITFLOOR, home / "deb", "gzip")
            there = home / "machine"
            there.mkdir()
            ran("cc", "-shared", "-fPIC", "-o", there / "faulty_kernel.so", FAULTY_KERNEL, "-ldl")
            told = played(pathlib.Path(built.stdout.strip()), there)
        if told is None:
            raise unittest.SkipTest("this user may make no machine of namespaces")
        cls.written = [value for name, value in told if name == "written"]
        cls.told = dict(told)
        print(f"under {cls.told['version']}: {cls.told}")

    def milliseconds(self, name):
        self.assertRegex(self.told[name], r"^\d+$")
        return int(self.told[name])

    def test_it_is_installed_and_says_that_it_wants_a_floor_file(self):
        self.assertEqual(self.told["installed"], "installed")
        # Told to whoever starts it, and tried once.
        self.assertEqual(self.told["unwritten"], "1 failed 1 0")
        self.assertEqual(self.told["checked"], "0")

    def test_a_key_reaches_it_from_a_file_that_only_root_reads(self):
        self.assertEqual(self.told["secret"], "of this test and nothing else")
        self.assertNotEqual(self.told["secret_read"], "0")

    def test_what_was_enabled_stays_so_until_it_is_purged(self):
        # Installed again after it was removed: it does not run, and says so.
        self.assertEqual(self.told["again"], "enabled 0 1")
        self.assertEqual(self.told["upgraded"], "enabled 1")
        self.assertEqual(self.told["stays_disabled"], "disabled")
        self.assertRegex(self.told["purged"], r"^(inactive|failed|unknown) 0$")

    def test_it_takes_the_floor_file_that_it_is_told(self):
        self.assertEqual(self.told["other"], "0 active")

    def test_it_starts_as_a_user_without_any_right(self):
        self.assertEqual(self.told["start"], "0 active running")
        self.assertEqual(self.told["user"], "litfloor")
        self.assertEqual(int(self.told["capabilities"], 16), 0)
        # proc(5): 1 is set; 2 is SECCOMP_MODE_FILTER.
        self.assertEqual((self.told["privileges"], self.told["filter"]), ("1", "2"))
        self.milliseconds("answers_ms")

    def test_it_keeps_what_it_keeps_for_itself_and_writes_nowhere_else(self):
        self.assertEqual(self.told["state"], "litfloor 700")
        self.assertEqual(self.told["book"], "litfloor 600")
        refused = {path.split(" ", 1)[0] for path in self.written if path.endswith(" Read-only file system")}
        self.assertEqual(refused, {"/etc/litfloor", "/usr/bin", "/var/log", "/home"}, self.written)

    def test_it_reads_the_floor_file_again_and_keeps_the_old_floor_where_that_is_broken(self):
        self.assertEqual(self.told["sound_reload"], "0")
        self.milliseconds("told_ms")
        self.assertEqual(self.told["broken_reload"], "active same")

    def test_what_hangs_and_what_is_killed_is_started_again(self):
        # It was fed when it was stopped, or up to a third of the time before.
        self.assertGreater(self.milliseconds("stopped_ms"), WATCHDOG_MS / 2)
        self.assertEqual(self.told["after_stopped"], "1")
        self.assertGreaterEqual(self.milliseconds("killed_ms"), RESTART_MS)
        self.assertEqual(self.told["after_killed"], "2")
        self.milliseconds("answers_again_ms")

    def test_a_panic_of_the_data_plane_has_it_started_again(self):
        self.assertGreaterEqual(self.milliseconds("panicked_ms"), RESTART_MS)
        self.assertEqual(self.told["after_panicked"], "1")

    def test_it_ends_when_told_and_a_broken_floor_file_is_no_reason_to_try_for_ever(self):
        self.assertEqual(self.told["stop"], "inactive success 0")
        self.milliseconds("failed_ms")
        self.assertEqual(self.told["broken_start"], "1 0")
        self.assertRegex(self.told["removed"], r"^(config-files|not-installed) (inactive|failed|unknown)$")
