"""The Debian package: made of the program that is tested, and held against Debian's and systemd's tools."""

import gzip
import os
import pathlib
import re
import shutil
import subprocess
import tempfile
import tomllib
import unittest

import daemon

PACKAGING = daemon.ROOT / "packaging"
UNIT = PACKAGING / "litfloor.service"

# Of 100; what the tool calls "OK" ends at 20 (systemd-analyze(1), `--threshold`).
MOST_EXPOSED = 20

# prctl(2): PR_SET_MDWE, PR_MDWE_REFUSE_EXEC_GAIN; what `MemoryDenyWriteExecute=` is made of on new kernels.
SET_MDWE, REFUSE_EXEC_GAIN = 65, 1


def ran(*command, **more):
    """What a command printed; it must succeed and complain of nothing."""
    done = subprocess.run(command, capture_output=True, text=True, **more)
    assert done.returncode == 0, f"{command}: {done.returncode}\n{done.stdout}{done.stderr}"
    return done


def needs(*tools):
    missing = [tool for tool in tools if shutil.which(tool) is None]
    return unittest.skipIf(missing, f"not installed: {', '.join(missing)}")


@needs("dpkg-deb", "gzip")
class Package(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.home = tempfile.TemporaryDirectory()
        home = pathlib.Path(cls.home.name)
        # The debug build is large: speed counts more than size here.
        built = ran(PACKAGING / "deb.sh", daemon.LITFLOOR, home / "deb", "gzip")
        cls.package = built.stdout.strip()
        cls.root = home / "root"
        ran("dpkg-deb", "--extract", cls.package, cls.root)
        # Anybody may look into a package that is installed.
        home.chmod(0o755)

    @classmethod
    def tearDownClass(cls):
        cls.home.cleanup()

    def test_what_it_says_of_itself(self):
        def field(name):
            return ran("dpkg-deb", "--field", self.package, name).stdout.strip()

        cargo = tomllib.loads((daemon.ROOT / "Cargo.toml").read_text())
        self.assertEqual(field("Package"), "litfloor")
        self.assertEqual(field("Version"), cargo["package"]["version"])
        self.assertRegex(field("Depends"), r"\blibc6\b.*\blibgcc-s1\b.*\bsystemd\b")
        conffiles = (self._control() / "conffiles").read_text()
        self.assertEqual(conffiles, "/etc/default/litfloor\n")
        if shutil.which("dpkg-shlibdeps"):
            # Every library that the program is linked to is of a package that it depends on.
            self.assertRegex(field("Depends"), r"libc6 \(>= 2\.\d+\)")
        ran("md5sum", "--check", "--quiet", "md5sums", cwd=self._control())

    def _control(self):
        """The package's own files, with the sums beside what they are of."""
        control = pathlib.Path(self.home.name) / "control"
        if not control.exists():
            ran("dpkg-deb", "--control", self.package, control)
            shutil.copytree(self.root, control, dirs_exist_ok=True)
        return control

    def test_what_lies_where(self):
        lines = ran("dpkg-deb", "--contents", self.package).stdout.splitlines()
        owners = {line.split()[1] for line in lines}
        self.assertEqual(owners, {"root/root"})
        files = {line.split()[5]: line.split()[0] for line in lines}
        writable = [name for name, mode in files.items() if mode[5] == "w" or mode[8] == "w"]
        self.assertEqual(writable, [])
        for name in (
            "usr/bin/litfloor",
            "lib/systemd/system/litfloor.service",
            "usr/lib/sysusers.d/litfloor.conf",
            "usr/lib/sysctl.d/60-litfloor.conf",
            "etc/default/litfloor",
            "usr/share/man/man1/litfloor.1.gz",
            "usr/share/man/man1/litfloor-run.1.gz",
            "usr/share/bash-completion/completions/litfloor",
            "usr/share/doc/litfloor/README.md",
            "usr/share/doc/litfloor/SECURITY.md",
            "usr/share/doc/litfloor/docs/floor-file.md",
            "usr/share/doc/litfloor/copyright",
            "usr/share/doc/litfloor/examples/first-floor.toml",
        ):
            self.assertIn(f"./{name}", files)
        # Nothing is sent before somebody has written where to.
        self.assertNotIn("./etc/litfloor/floor.toml", files)

    def test_the_same_sources_make_the_same_package(self):
        again = pathlib.Path(self.home.name) / "again"
        ran(PACKAGING / "deb.sh", daemon.LITFLOOR, again, "gzip")
        one, other = pathlib.Path(self.package), again / pathlib.Path(self.package).name
        self.assertEqual(one.read_bytes(), other.read_bytes())

    def test_the_program_in_it_runs_and_its_example_is_sound(self):
        program = self.root / "usr/bin/litfloor"
        version = ran("dpkg-deb", "--field", self.package, "Version").stdout.strip()
        self.assertEqual(ran(program, "--version").stdout, f"litfloor {version}\n")
        example = self.root / "usr/share/doc/litfloor/examples/first-floor.toml"
        self.assertIn("Limit", ran(program, "check", example).stdout.title())

    @needs("man")
    def test_manual_pages_are_drawn_without_a_warning(self):
        pages = sorted((self.root / "usr/share/man/man1").glob("*.1.gz"))
        self.assertGreater(len(pages), 8)
        for page in pages:
            drawn = ran(
                "man", "--warnings=w", "--local-file", page,
                env={**os.environ, "MANWIDTH": "80", "MANPAGER": "cat", "LC_ALL": "C.UTF-8"},
            )
            self.assertEqual(drawn.stderr, "", page.name)
            for heading in ("NAME", "SYNOPSIS"):
                self.assertIn(heading, drawn.stdout, page.name)
            self.assertIn(b".TH", gzip.decompress(page.read_bytes()))

    @needs("bash")
    def test_completions_are_sound_and_complete(self):
        script = self.root / "usr/share/bash-completion/completions/litfloor"
        ran("bash", "-n", script)
        asked = "\n".join(
            (
                f". {script}",
                "COMP_WORDS=(litfloor ru); COMP_CWORD=1",
                "_litfloor litfloor ru litfloor",
                'echo "${COMPREPLY[@]}"',
            )
        )
        self.assertEqual(ran("bash", "-c", asked).stdout.strip(), "run")
        share = self.root / "usr/share"
        for shell, file in (
            ("zsh", share / "zsh/vendor-completions/_litfloor"),
            ("fish", share / "fish/vendor_completions.d/litfloor.fish"),
        ):
            with self.subTest(shell):
                if shutil.which(shell) is None:
                    self.skipTest(f"not installed: {shell}")
                ran(shell, "-n", file)

    @needs("sh")
    def test_scripts_are_sound(self):
        scripts = sorted((PACKAGING / "debian").iterdir())
        self.assertEqual([script.name for script in scripts], ["postinst", "postrm", "prerm"])
        for script in scripts:
            ran("sh", "-n", script)
            self.assertTrue((self._control() / script.name).stat().st_mode & 0o111)

    @needs("systemd-analyze")
    def test_systemd_takes_the_unit_and_calls_it_well_guarded(self):
        root = pathlib.Path(self.home.name) / "verify"
        if not root.exists():
            shutil.copytree(self.root, root)
        unit = root / "lib/systemd/system/litfloor.service"
        # The program is where the unit will look for it only once it is installed.
        text = UNIT.read_text().replace("/usr/bin/litfloor", str(root / "usr/bin/litfloor"))
        unit.write_text(text)
        verified = ran("systemd-analyze", "verify", "--man=no", unit)
        ours = [line for line in verified.stderr.splitlines() if "litfloor" in line]
        self.assertEqual(ours, [])
        looked = ran(
            "systemd-analyze", "security", "--offline=true", "--no-pager",
            f"--threshold={MOST_EXPOSED}", unit,
        )
        figure = re.search(r"Overall exposure level.*?: ([\d.]+)", looked.stdout)
        print(f"systemd-analyze security: {figure[1]} of 10 (0 is best)")
        # The check is one: a unit without the guards is refused.
        bare = unit.with_name("bare.service")
        bare.write_text(f"[Service]\nExecStart={root}/usr/bin/litfloor demo\n")
        refused = subprocess.run(
            ["systemd-analyze", "security", "--offline=true", f"--threshold={MOST_EXPOSED}", bare],
            capture_output=True,
        )
        self.assertNotEqual(refused.returncode, 0)

    @needs("systemd-sysusers")
    def test_the_user_is_made_and_can_not_sign_in(self):
        root = pathlib.Path(self.home.name) / "users"
        (root / "etc").mkdir(parents=True)
        ran("systemd-sysusers", f"--root={root}", PACKAGING / "litfloor.sysusers")
        passwd = (root / "etc/passwd").read_text()
        self.assertRegex(passwd, r"(?m)^litfloor:.*:/var/lib/litfloor:/usr/sbin/nologin$")

    @unittest.skipUnless(os.geteuid() == 0, "only root may unpack with owners")
    @needs("dpkg")
    def test_dpkg_unpacks_it(self):
        root = pathlib.Path(self.home.name) / "installed"
        for name in ("info", "updates", "triggers"):
            (root / "var/lib/dpkg" / name).mkdir(parents=True)
        (root / "var/lib/dpkg/status").touch()
        # Not configured: its scripts would act on the machine that tests.
        ran("dpkg", f"--root={root}", "--force-depends", "--unpack", self.package)
        listed = ran("dpkg", f"--root={root}", "--listfiles", "litfloor").stdout
        self.assertIn("/usr/bin/litfloor\n", listed)
        ran(root / "usr/bin/litfloor", "--version")

    @needs("strace", "systemd-analyze", "setpriv")
    @unittest.skipUnless(os.geteuid() == 0, "only root may become somebody else")
    def test_it_runs_within_what_the_unit_leaves_it(self):
        """As another user, without capabilities, with no new rights and no memory both written
        and run; and every system call that it makes is one that the unit's filter lets through."""
        home = pathlib.Path(self.home.name)
        log = home / "calls"
        log.mkdir(mode=0o777)
        log.chmod(0o777)
        state = log / "state"
        node = daemon.Node("six")
        floor = home / "floor.toml"
        floor.write_text(daemon.floor([node]))
        floor.chmod(0o644)
        guard = home / "guard"
        guard.write_text(
            "#!/usr/bin/env python3\nimport ctypes, os, sys\n"
            f"ctypes.CDLL(None).prctl({SET_MDWE}, {REFUSE_EXEC_GAIN}, 0, 0, 0)\n"
            "os.execvp('setpriv', ['setpriv', '--reuid=65534', '--regid=65534', '--clear-groups', "
            "'--bounding-set=-all', '--no-new-privs', '--', *sys.argv[1:]])\n"
        )
        guard.chmod(0o755)
        # The guard is one: what asks for memory to write and run is refused, where the kernel can.
        both = "import mmap; mmap.mmap(-1, 4096, prot=mmap.PROT_READ | mmap.PROT_WRITE | mmap.PROT_EXEC)"
        refused = subprocess.run([guard, "python3", "-c", both], capture_output=True)
        if refused.returncode == 0:
            print("this kernel can't refuse memory that is written and run (PR_SET_MDWE)")
        wrapper = home / "guarded"
        wrapper.write_text(
            f"#!/bin/sh\nexec {guard} strace -D -f -qq -e signal=none -o {log}/log "
            f'{self.root}/usr/bin/litfloor "$@"\n'
        )
        wrapper.chmod(0o755)
        before = daemon.LITFLOOR
        daemon.LITFLOOR = str(wrapper)
        self.addCleanup(setattr, daemon, "LITFLOOR", before)
        with daemon.Daemon("run", str(floor), "--state", str(state)) as running:
            running.until(lambda state: state["uptime_s"] > 2)
            status, answer = running.post(
                "/api/v1/book/panels/Q1/notes", {"text": "A new plug.", "who": "Ida"}
            )
            self.assertEqual(status, 200, answer)
            with open(f"/proc/{running.process.pid}/status") as told:
                about = told.read()
            self.assertRegex(about, r"NoNewPrivs:\s1")
            self.assertRegex(about, r"CapBnd:\s0+\n")
        node.close()
        calls = set(re.findall(r"(?m)^\d+\s+(?:<\.\.\. )?([a-z]\w+)(?:\(| resumed)", (log / "log").read_text()))
        self.assertTrue({"execve", "clone3", "recvmmsg", "setpriority", "fsync"} <= calls, sorted(calls))
        self.assertGreater(len(calls), 30)
        allowed = allowed_calls()
        self.assertIn("recvmmsg", allowed)
        self.assertNotIn("mount", allowed)
        # setpriv and strace's own start come before the program's execve.
        self.assertEqual(sorted(calls - allowed), [])
        print(f"{len(calls)} system calls, all within the unit's filter of {len(allowed)}")


def allowed_calls():
    """What the unit's SystemCallFilter lets through, by systemd's own groups."""
    allowed = set()
    for line in UNIT.read_text().splitlines():
        if line.startswith("SystemCallFilter="):
            words = line.partition("=")[2]
            for word in words.removeprefix("~").split():
                if words.startswith("~"):
                    allowed -= group(word)
                else:
                    allowed |= group(word)
    return allowed


def group(name):
    if not name.startswith("@"):
        return {name}
    told = ran("systemd-analyze", "syscall-filter", "--no-pager", name).stdout
    words = [line.strip() for line in told.splitlines()[1:]]
    return set().union(*(group(word) for word in words if word and not word.startswith("#")))
