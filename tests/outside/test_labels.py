"""Labels lead where they should: Chromium draws them as on paper, zxing-cpp reads them.

zxing-cpp shares no code with what makes the codes. The serial of a label is taken out of its address as a
browser does, by urllib's own unquoting.
"""

import os
import pathlib
import subprocess
import tempfile
import unittest
import urllib.error
import urllib.parse
import urllib.request

import zxingcpp
from PIL import Image, ImageDraw

from daemon import PATIENCE_S, Daemon

CHROMIUM = os.environ.get("CHROMIUM", "/usr/bin/chromium")

# Usual ones, the shortest, a long one, letters beyond ASCII, and addresses short and long.
LABELS = [
    ("P17", "http://192.168.1.20:8080"),
    ("7", "http://a"),
    ("M001", "https://floor.example"),
    ("rack-3_shelf.2", "http://[fe80::1]:8080"),
    ("ÄØ-12", "http://192.168.1.20:8080"),
    ("床板07", "http://10.0.0.2"),
    ("x" * 32, "http://" + "a" * 60 + ".example:65535"),
]

# Width of a label on the page of labels, at its smallest: CSS has 96 pixels in an inch of 25.4 mm.
SMALL_MM = 25
# Printers for labels have 203 dots in an inch, give or take.
DOTS = 203 / 96


def label(url, serial, at, more=""):
    return f"{url}/api/v1/labels/{urllib.parse.quote(serial, safe='')}.svg?at={urllib.parse.quote(at, safe='')}{more}"


def drawn(addresses, mm, row_px):
    """Pictures as a browser draws them on a sheet, one below the other, in a picture for each."""
    with tempfile.TemporaryDirectory() as scratch:
        page, shot = pathlib.Path(scratch, "sheet.html"), pathlib.Path(scratch, "sheet.png")
        rows = "".join(f'<div style="height:{row_px}px"><img style="width:{mm}mm" src="{address.replace("&", "&amp;")}"></div>' for address in addresses)
        page.write_text(f'<!doctype html><meta charset="utf-8"><body style="margin:0;background:#fff">{rows}</body>')
        subprocess.run(
            [CHROMIUM, "--headless", *(["--no-sandbox"] if os.getuid() == 0 else []), "--hide-scrollbars", f"--user-data-dir={scratch}/profile",
             f"--force-device-scale-factor={DOTS}", f"--window-size=400,{row_px * len(addresses)}", f"--screenshot={shot}", page.as_uri()],
            check=True, timeout=4 * PATIENCE_S, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )
        with Image.open(shot) as picture:
            sheet = picture.convert("L")
    height = sheet.height / len(addresses)
    return [sheet.crop((0, round(at * height), sheet.width, round((at + 1) * height))) for at in range(len(addresses))]


class Labels(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        with Daemon("demo") as demo:
            square = [label(demo.url, serial, at) for serial, at in LABELS]
            written = [label(demo.url, serial, at, "&text=true") for serial, at in LABELS]
            cls.small = drawn(square, SMALL_MM, 120)
            cls.named = drawn(written, 35, 170)
            cls.refused = cls._refused(label(demo.url, "P17", "javascript:alert(1)"))

    @staticmethod
    def _refused(address):
        try:
            with urllib.request.urlopen(address, timeout=PATIENCE_S) as answer:
                return answer.status
        except urllib.error.HTTPError as refusal:
            refusal.close()
            return refusal.code

    def read(self, picture):
        """The one code in a picture."""
        found = zxingcpp.read_barcodes(picture)
        self.assertEqual(len(found), 1)
        self.assertEqual(found[0].format, zxingcpp.BarcodeFormat.QRCode)
        return found[0].text

    def test_small_labels_lead_to_the_page_of_their_panel(self):
        for (serial, at), picture in zip(LABELS, self.small):
            text = self.read(picture)
            address, hash = text.split("#")
            self.assertEqual(address, f"{at}/", serial)
            self.assertEqual(urllib.parse.unquote(hash), f"/panel/{serial}")
            # A phone must not take a letter for the end of the address.
            self.assertTrue(text.isascii(), text)
        print(f"{len(LABELS)} labels of {SMALL_MM} mm at {DOTS * 96:.0f} dots an inch read")

    def test_labels_with_their_serial_below_are_read_as_well(self):
        for (serial, at), picture in zip(LABELS, self.named):
            self.assertEqual(urllib.parse.unquote(self.read(picture)), f"{at}/#/panel/{serial}")
            # There is ink below the code, within the width of the code.
            bottom = picture.crop((0, round(35 / 25.4 * 96 * DOTS), picture.width, picture.height))
            ink = bottom.point(lambda level: 255 if level < 128 else 0).getbbox()
            self.assertIsNotNone(ink, serial)
            self.assertLess(ink[2], 35 / 25.4 * 96 * DOTS, serial)

    def test_a_dirty_label_is_still_read(self):
        for (serial, at), picture in zip(LABELS, self.small):
            side = SMALL_MM / 25.4 * 96 * DOTS
            for light in (255, 0):
                dirty = picture.copy()
                # A spot of a fifth of the side in the middle, worn off or black.
                ImageDraw.Draw(dirty).ellipse([share * side for share in (0.42, 0.42, 0.62, 0.62)], fill=light)
                self.assertNotEqual(dirty.tobytes(), picture.tobytes())
                self.assertEqual(urllib.parse.unquote(self.read(dirty)), f"{at}/#/panel/{serial}")

    def test_what_no_phone_can_open_is_refused(self):
        self.assertEqual(self.refused, 400)


if __name__ == "__main__":
    unittest.main()
