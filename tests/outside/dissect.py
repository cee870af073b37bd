"""Datagrams through tshark: written to a pcap with text2pcap, so no rights to capture are needed."""

import pathlib
import subprocess
import tempfile


def dissect(datagrams, fields, port=6454):
    """One row a datagram: a dict of those fields that tshark found in it, as text.

    A field that occurs more than once has its values joined by commas.
    """
    with tempfile.TemporaryDirectory() as directory:
        text = pathlib.Path(directory, "in.txt")
        pcap = pathlib.Path(directory, "a.pcap")
        text.write_text("".join(hexdump(data) for data in datagrams))
        subprocess.run(
            ["text2pcap", "-q", "-4", "127.0.0.1,127.0.0.1", "-u", f"{port},{port}", text, pcap],
            check=True, capture_output=True,
        )
        wanted = [part for field in ["_ws.malformed", *fields] for part in ("-e", field)]
        command = ["tshark", "-r", pcap, "-T", "fields", "-E", "separator=/t", *wanted]
        out = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    rows = [
        {field: value for field, value in zip(["_ws.malformed", *fields], line.split("\t")) if value}
        for line in out.split("\n")[:-1]
    ]
    assert len(rows) == len(datagrams), f"{len(rows)} rows of {len(datagrams)} datagrams"
    return rows


def hexdump(data):
    lines = [
        f"{at:06x} " + " ".join(f"{byte:02x}" for byte in data[at : at + 16])
        for at in range(0, len(data), 16)
    ]
    return "\n".join(lines) + "\n\n"
