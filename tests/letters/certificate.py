"""A certificate for servers of the tests: of 127.0.0.1, signed by nobody else."""

import subprocess
from pathlib import Path


def make_certificate(folder: Path) -> None:
    """Put certificate.pem and key.pem into a folder."""
    subprocess.run(
        [
            "openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes",
            "-days", "2", "-subj", "/CN=127.0.0.1", "-addext", "subjectAltName=IP:127.0.0.1",
            "-keyout", folder / "key.pem", "-out", folder / "certificate.pem",
        ],
        check=True, capture_output=True,
    )  # fmt: skip
