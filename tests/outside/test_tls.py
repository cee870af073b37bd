"""The encrypted door, looked at with OpenSSL: by Python's ssl, and by its own program where it is there."""

import hashlib
import http.client
import json
import pathlib
import re
import shutil
import socket
import ssl
import subprocess
import tempfile
import unittest
import warnings

import daemon


class Encrypted(unittest.TestCase):
    def setUp(self):
        home = tempfile.TemporaryDirectory()
        self.addCleanup(home.cleanup)
        self.home = pathlib.Path(home.name)
        self.node = daemon.Node("six")
        self.addCleanup(self.node.close)
        floor = self.home / "floor.toml"
        floor.write_text(daemon.floor([self.node]))
        self.arguments = ("run", str(floor), "--state", str(self.home / "state"), "--tls-own")
        self.certificate = self.home / "state" / "tls-own.pem"

    def start(self):
        running = daemon.Daemon(*self.arguments)
        fingerprint = running._said("Certificate (SHA-256): ")
        host, port = running.url.removeprefix("https://").split(":")
        return running, (host, int(port)), fingerprint

    def shown(self, at, context):
        """What is shown by who connects: version, cipher, the certificate's bytes."""
        with socket.create_connection(at, daemon.PATIENCE_S) as plain:
            with context.wrap_socket(plain, server_hostname="localhost") as over:
                return over.version(), over.cipher()[0], over.getpeercert(binary_form=True)

    def test_a_page_is_read_by_who_trusts_the_certificate_and_the_fingerprint_is_the_one_told(self):
        running, at, fingerprint = self.start()
        with running:
            trusting = ssl.create_default_context(cafile=self.certificate)
            version, cipher, certificate = self.shown(at, trusting)
            digest = hashlib.sha256(certificate).hexdigest().upper()
            self.assertEqual(fingerprint, ":".join(re.findall("..", digest)))
            self.assertEqual(version, "TLSv1.3")
            print(version, cipher)
            asked = http.client.HTTPSConnection(*at, context=trusting, timeout=daemon.PATIENCE_S)
            asked.request("GET", "/api/v1/floor")
            self.assertEqual(asked.getresponse().status, 200)
            asked.close()
            # A stranger does not, nor does who was told another name.
            with self.assertRaises(ssl.SSLCertVerificationError):
                self.shown(at, ssl.create_default_context())
            other = ssl.create_default_context(cafile=self.certificate)
            with socket.create_connection(at, daemon.PATIENCE_S) as plain:
                with self.assertRaises(ssl.SSLCertVerificationError):
                    other.wrap_socket(plain, server_hostname="floor.example.org")
        before = fingerprint
        running, at, fingerprint = self.start()
        with running:
            self.assertEqual(self.shown(at, trusting)[2], certificate)
            self.assertEqual(fingerprint, before)
        self.assertEqual(self.certificate.stat().st_mode & 0o777, 0o600)

    def test_old_encryption_is_refused(self):
        running, at, _ = self.start()
        with running:
            new = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
            new.check_hostname = False
            new.verify_mode = ssl.CERT_NONE
            new.maximum_version = ssl.TLSVersion.TLSv1_2
            self.assertEqual(self.shown(at, new)[0], "TLSv1.2")
            # What is no longer to be used: RFC 8996. The client itself would take it.
            old = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
            old.check_hostname = False
            old.verify_mode = ssl.CERT_NONE
            old.set_ciphers("DEFAULT:@SECLEVEL=0")
            old.minimum_version = ssl.TLSVersion.MINIMUM_SUPPORTED
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", DeprecationWarning)
                old.maximum_version = ssl.TLSVersion.TLSv1_1
            # An alert of the other end, so it was litfloor that refused.
            with self.assertRaisesRegex(ssl.SSLError, "ALERT_(PROTOCOL_VERSION|HANDSHAKE_FAILURE)"):
                self.shown(at, old)

    @unittest.skipIf(shutil.which("openssl") is None, "not installed: openssl")
    def test_the_certificate_names_this_machine_and_is_of_a_kind_that_browsers_take(self):
        running, at, _ = self.start()
        with running:
            self.shown(at, ssl.create_default_context(cafile=self.certificate))
        text = subprocess.run(
            ["openssl", "x509", "-in", self.certificate, "-noout", "-text"],
            capture_output=True, text=True, check=True,
        ).stdout
        for wanted in ("DNS:localhost", "IP Address:127.0.0.1", "TLS Web Server Authentication", "prime256v1"):
            self.assertIn(wanted, text)
        self.assertRegex(text, r"Version: 3")
        subprocess.run(
            ["openssl", "verify", "-CAfile", self.certificate, self.certificate],
            capture_output=True, check=True,
        )

    @unittest.skipIf(shutil.which("openssl") is None, "not installed: openssl")
    def test_doctor_reads_what_openssl_made(self):
        """Dates, names and the pair as OpenSSL wrote them, for both kinds of key that are common."""
        (self.home / "empty.txt").write_text("")
        (self.home / "serial").write_text("01")
        (self.home / "ca.cnf").write_text(
            "[ca]\ndefault_ca=d\n[d]\ndatabase=empty.txt\nserial=serial\nnew_certs_dir=.\ndefault_md=sha256\n"
            "policy=p\nunique_subject=no\nx509_extensions=x\n[p]\ncommonName=supplied\n"
            "[x]\nsubjectAltName=DNS:floor.example.org,IP:127.0.0.1\n"
        )
        kinds = {"rsa": ["-newkey", "rsa:2048"], "ec": ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1"]}

        def openssl(*arguments):
            subprocess.run(["openssl", *arguments], cwd=self.home, capture_output=True, check=True)

        def made(kind, begins, ends):
            openssl("req", "-new", "-nodes", "-subj", "/CN=floor", "-out", "csr", "-keyout", f"{kind}.key", *kinds[kind])
            openssl("ca", "-batch", "-notext", "-config", "ca.cnf", "-selfsign", "-keyfile", f"{kind}.key", "-in", "csr",
                    "-out", f"{kind}.pem", "-startdate", begins, "-enddate", ends)

        def doctor(certificate, key):
            asked = subprocess.run(
                [daemon.LITFLOOR, "doctor", self.home / "floor.toml", "--artnet", "127.0.0.1:0", "--http",
                 "127.0.0.1:0", "--state", self.home / "state", "--format", "json", "--name", "floor.example.org",
                 "--tls-cert", self.home / certificate, "--tls-key", self.home / key],
                capture_output=True, timeout=daemon.PATIENCE_S,
            )
            return {point["point"]: point for point in json.loads(asked.stdout)["points"]}

        for kind in kinds:
            made(kind, "20200101000000Z", "20210203040506Z")
            point = doctor(f"{kind}.pem", f"{kind}.key")["certificate"]
            self.assertEqual(point["verdict"], "wrong", point)
            self.assertIn("was valid until 2021-02-03T04:05:06Z", point["told"])
            made(kind, "20200101000000Z", "20990203040506Z")
            points = doctor(f"{kind}.pem", f"{kind}.key")
            self.assertEqual(points["certificate"]["verdict"], "fine", points["certificate"])
            self.assertIn("valid until 2099-02-03T04:05:06Z", points["certificate"]["told"])
            self.assertEqual(points["certificate_names"]["verdict"], "fine", points["certificate_names"])
        point = doctor("rsa.pem", "ec.key")["certificate"]
        self.assertEqual(point["verdict"], "wrong", point)
        self.assertIn("the key is not the one of the certificate", point["told"])


if __name__ == "__main__":
    unittest.main()
