"""The book of repairs, read back with Python's own SQLite and csv, and on a disk that is really full.

examples/write_book.rs writes what it is told.
"""

import csv
import datetime
import io
import json
import pathlib
import sqlite3
import subprocess
import tempfile
import unittest

from daemon import LITFLOOR

WRITER = pathlib.Path(LITFLOOR).parent / "examples" / "write_book"
BEGIN = datetime.datetime(2026, 11, 27, 9, 30, tzinfo=datetime.timezone.utc)
TABLES = ("panels", "positions", "benches", "currents", "notes", "faults", "steps")


class Writer:
    """The process that writes a book."""

    def __init__(self, path):
        self.process = subprocess.Popen(
            [WRITER, path], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        self.count = 0

    def ask(self, what, who="Ida", **entry):
        """Its answer to one entry."""
        at = BEGIN + datetime.timedelta(milliseconds=self.count * 1_001)
        self.count += 1
        line = {"do": what, "at_ms": round(at.timestamp() * 1_000), "who": who, **entry}
        self.process.stdin.write(json.dumps(line) + "\n")
        self.process.stdin.flush()
        return self.process.stdout.readline().strip()

    def write(self, what, **entry):
        answer = self.ask(what, **entry)
        assert answer == "done", answer

    def close(self):
        self.process.stdin.close()
        self.process.wait()
        self.process.stdout.close()


def litfloor(*arguments):
    done = subprocess.run([LITFLOOR, "book", *arguments], capture_output=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout.decode()


def cell(value):
    """What CSV has for a value: no numbers, no nothing, and no formula (OWASP, "CSV Injection")."""
    if value is None:
        return ""
    text = str(value)
    return "'" + text if isinstance(value, str) and text[:1] in tuple("=+-@\t\r\n") else text


def rows(connection, table):
    """All of a table, as dictionaries."""
    cursor = connection.cursor()
    cursor.row_factory = sqlite3.Row
    return [dict(row) for row in cursor.execute(f"SELECT * FROM {table} ORDER BY id")]


class Book(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        directory = tempfile.TemporaryDirectory()
        cls.addClassCleanup(directory.cleanup)
        cls.path = str(pathlib.Path(directory.name) / "book.sqlite3")
        writer = Writer(cls.path)
        for number in range(12):
            writer.write("place", serial=f"M{number % 5}", position=f"A{number % 4}")
        writer.write("unplace", position="A1")
        wild = 'Says "dark", then; flickers,\nand = more: ü 雪 \t.'
        writer.write("note", serial="M0", text=wild)
        writer.write("note", serial="N9", text="é" * 4_000, who="Noor, the other")
        writer.write("note", serial="M0", text='=HYPERLINK("http://example.org", "look")')
        writer.write("note", serial="M0", text="- a dash, said by", who="@SUM(A1)")
        signature = {"dark_a": 0.041, "red_a": 0.1 + 0.2, "white_a": 2, "blue_a": -1e-9}
        writer.write("bench", serial="M1", passed=True, note="", signature=signature)
        writer.write("bench", serial="M2", passed=False, note=wild, signature=None)
        writer.write("found", key="A0/2-3/supply_open", position="A0", text="Segments 3 to 6 are dark.")
        writer.write("found", key="A0/2-3/supply_open", position="A0", text="It is open already.")
        writer.write("found", key="node/north", position=None, text=wild)
        writer.write("by_hand", serial="M3", text="=1+1 plates are cracked.")
        for state in ("being_repaired", "repaired"):
            writer.write("step", id=1, state=state, note=wild)
        writer.write("prove", id=1)
        writer.write("step", id=3, state="dismissed", note="")
        cls.refused = writer.ask("step", id=2, state="proved", note="")
        writer.close()
        cls.book = sqlite3.connect(f"file:{cls.path}?mode=ro", uri=True)
        cls.addClassCleanup(cls.book.close)
        cls.signature = signature
        cls.wild = wild

    def test_the_file_is_whole_for_pythons_sqlite(self):
        self.assertEqual(self.book.execute("PRAGMA integrity_check").fetchall(), [("ok",)])
        self.assertEqual(self.book.execute("PRAGMA foreign_key_check").fetchall(), [])
        self.assertEqual(self.book.execute("PRAGMA application_id").fetchone(), (int.from_bytes(b"litb"),))
        self.assertEqual(self.book.execute("PRAGMA user_version").fetchone(), (1,))
        self.assertEqual(self.book.execute("PRAGMA journal_mode").fetchone(), ("delete",))

    def test_what_was_written_is_in_the_file(self):
        faults = {row["id"]: row for row in rows(self.book, "faults")}
        self.assertEqual({at: row["state"] for at, row in faults.items()},
                         {1: "proved", 2: "found", 3: "dismissed"})
        self.assertTrue(self.refused.startswith("refused only_by_survey"), self.refused)
        # Who lay at A0 then: panels 0, 4, 8 of 12 were placed there, which are M0, M4 and M3.
        self.assertEqual(faults[1]["serial"], "M3")
        self.assertEqual(faults[3]["key"], "hand/3")
        steps = [(row["fault"], row["state"], row["who"]) for row in rows(self.book, "steps")]
        self.assertEqual([step for step in steps if step[0] == 1], [
            (1, "found", "litfloor"), (1, "being_repaired", "Ida"), (1, "repaired", "Ida"),
            (1, "proved", "litfloor")])
        currents = {row["name"]: row["current_a"] for row in rows(self.book, "currents")}
        self.assertEqual(currents, self.signature)
        note = rows(self.book, "notes")[0]
        self.assertEqual(note["text"], self.wild)
        # The note was the fourteenth entry.
        at = BEGIN + datetime.timedelta(milliseconds=13 * 1_001)
        self.assertEqual(datetime.datetime.fromisoformat(note["at"]), at)
        spans = rows(self.book, "positions")
        for place in ("serial", "position"):
            now = [span[place] for span in spans if span["to_at"] is None]
            self.assertEqual(len(now), len(set(now)), "nothing lies twice")

    def test_the_export_is_what_is_in_the_file(self):
        exported = json.loads(litfloor("export", "--book", self.path))
        self.assertEqual(list(exported), list(TABLES))
        for table in TABLES:
            expected = rows(self.book, table)
            self.assertEqual(exported[table], expected, table)
            text = litfloor("export", "--book", self.path, "--format", "csv", "--table", table)
            read = list(csv.DictReader(io.StringIO(text, newline="")))
            self.assertEqual(len(read), len(expected))
            for got, row in zip(read, expected):
                for name, value in row.items():
                    if isinstance(value, float):
                        self.assertEqual(float(got[name]), value, f"{table}.{name}")
                    else:
                        self.assertEqual(got[name], cell(value), f"{table}.{name}")
                self.assertEqual(set(got), set(row))

    def test_the_faults_as_csv_are_their_steps(self):
        text = litfloor("export", "--book", self.path, "--format", "csv")
        read = list(csv.DictReader(io.StringIO(text, newline="")))
        wanted = self.book.execute(
            "SELECT f.id, f.key, f.text, f.state, s.state, s.at, s.who, s.note, coalesce(s.evidence, '')"
            " FROM faults f JOIN steps s ON s.fault = f.id ORDER BY f.id, s.id")
        names = ("fault", "key", "text", "state", "step", "step_at", "step_who", "step_note", "step_evidence")
        self.assertEqual([tuple(row[name] for name in names) for row in read],
                         [tuple(map(cell, tuple(row))) for row in wanted])

    def test_a_recovered_book_is_the_same_for_pythons_sqlite(self):
        with tempfile.TemporaryDirectory() as directory:
            new = str(pathlib.Path(directory) / "new.sqlite3")
            litfloor("recover", "--book", self.path, "--to", new)
            connection = sqlite3.connect(new)
            self.addCleanup(connection.close)
            self.assertEqual(connection.execute("PRAGMA integrity_check").fetchall(), [("ok",)])
            for table in TABLES:
                self.assertEqual(rows(connection, table), rows(self.book, table))


class FullDisk(unittest.TestCase):
    """A small disk of its own, which is filled up."""

    def setUp(self):
        directory = tempfile.TemporaryDirectory()
        self.addCleanup(directory.cleanup)
        self.disk = pathlib.Path(directory.name)
        mount = ["mount", "-t", "tmpfs", "-o", "size=512k", "tmpfs", self.disk]
        mounted = subprocess.run(mount, capture_output=True, text=True, check=False)
        if mounted.returncode != 0:
            self.skipTest(f"no small disk can be mounted here: {mounted.stderr.strip()}")
        self.addCleanup(subprocess.run, ["umount", self.disk], check=True)

    def fill(self):
        """Takes all that is left."""
        with open(self.disk / "filler", "ab", buffering=0) as filler:
            try:
                while True:
                    filler.write(bytes(512))
            except OSError as error:
                self.assertEqual(error.errno, 28, "ENOSPC")

    def test_what_was_acknowledged_stays_and_later_entries_are_taken(self):
        path = str(self.disk / "book.sqlite3")
        writer = Writer(path)
        self.addCleanup(writer.close)
        done = []
        refused = 0
        for round_ in range(4):
            for number in range(20):
                text = f"{round_} {number} " + "x" * 300
                if number == 10 and round_ < 3:
                    self.fill()
                answer = writer.ask("note", serial="M1", text=text)
                if answer == "done":
                    done.append(text)
                else:
                    self.assertTrue(answer.startswith("refused disk_full: not written, the disk is full"), answer)
                    refused += 1
            if round_ < 3:
                (self.disk / "filler").unlink()
        self.assertGreaterEqual(refused, 3)
        self.assertGreaterEqual(len(done), 50)
        book = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
        self.addCleanup(book.close)
        self.assertEqual(book.execute("PRAGMA integrity_check").fetchall(), [("ok",)])
        self.assertEqual([text for (text,) in book.execute("SELECT text FROM notes ORDER BY id")], done)


if __name__ == "__main__":
    unittest.main()
