"""No cell that litfloor writes for a spreadsheet is a formula: read with Python's csv.

OWASP, "CSV Injection": a cell that begins with one of = + - @, a tab or a line's end.
"""

import csv
import io
import pathlib
import subprocess
import tempfile
import unittest

from daemon import LITFLOOR

DEMO = pathlib.Path(__file__).parents[2] / "config" / "demo.toml"
STARTS = tuple("=+-@\t\r\n")
NAMES = {"north": "=1+1", "upper 1": "+HYPERLINK(x)", "yard socket": "@SUM(A1)", "upper": "-2+3"}


def is_number(text):
    try:
        float(text)
    except ValueError:
        return False
    return True


class Cells(unittest.TestCase):
    def setUp(self):
        directory = tempfile.TemporaryDirectory()
        self.addCleanup(directory.cleanup)
        self.floor = pathlib.Path(directory.name, "floor.toml")
        text = DEMO.read_text()
        for name, formula in NAMES.items():
            self.assertIn(f'"{name}"', text)
            text = text.replace(f'"{name}"', f'"{formula}"')
        self.floor.write_text(text)

    def table(self, command):
        done = subprocess.run(
            [LITFLOOR, command, str(self.floor), "--format", "csv"], capture_output=True, check=False)
        self.assertEqual(done.returncode, 0, done.stderr.decode())
        self.sheet = done.stdout
        return list(csv.reader(io.StringIO(done.stdout.decode(), newline="")))

    def test_no_cell_is_a_formula_and_numbers_are_numbers(self):
        for command, named in (("patch", ("north", "upper 1")), ("plan", ("yard socket", "upper"))):
            cells = [cell for row in self.table(command) for cell in row]
            for cell in cells:
                self.assertTrue(is_number(cell) or not cell.startswith(STARTS), f"{command}: {cell!r}")
            for name in named:
                self.assertIn("'" + NAMES[name], cells, f"{command} has it as text")
            self.assertTrue(any(is_number(cell) for cell in cells))

    def test_a_patch_sheet_comes_back_with_its_names(self):
        self.table("patch")
        sheet = self.floor.with_suffix(".csv")
        sheet.write_bytes(self.sheet)
        done = subprocess.run(
            [LITFLOOR, "patch", "--floor", str(self.floor), "--import", str(sheet)], capture_output=True, text=True, check=False)
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertIn('node = "=1+1"', done.stdout)


if __name__ == "__main__":
    unittest.main()
