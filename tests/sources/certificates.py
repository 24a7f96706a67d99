"""An authority of our own, a broker's certificate and a client's, made by openssl for one test run."""

import subprocess
from pathlib import Path


def authority(folder: Path, name: str = "ca") -> Path:
    """A self-signed certificate `name`.crt with its key `name`.key."""
    _openssl(
        folder, "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes",
        "-keyout", f"{name}.key", "-out", f"{name}.crt", "-days", "2", "-subj", f"/CN=Test {name}",
        "-addext", "keyUsage=critical,keyCertSign,cRLSign",
    )  # fmt: skip
    return folder / f"{name}.crt"


def certificate(folder: Path, name: str, signed_by: str = "ca") -> tuple[Path, Path]:
    """A certificate for loopback and its key."""
    _openssl(
        folder, "req", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes",
        "-keyout", f"{name}.key", "-out", f"{name}.csr", "-subj", f"/CN={name}",
    )  # fmt: skip
    (folder / f"{name}.ext").write_text("subjectAltName=IP:127.0.0.1,DNS:localhost\n")
    _openssl(
        folder, "x509", "-req", "-in", f"{name}.csr", "-CA", f"{signed_by}.crt", "-CAkey", f"{signed_by}.key",
        "-CAcreateserial", "-out", f"{name}.crt", "-days", "2", "-extfile", f"{name}.ext",
    )  # fmt: skip
    return folder / f"{name}.crt", folder / f"{name}.key"


def _openssl(folder: Path, *arguments: str) -> None:
    subprocess.run(["openssl", *arguments], cwd=folder, check=True, capture_output=True)
