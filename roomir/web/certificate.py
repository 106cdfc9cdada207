"""A certificate made on the spot, because browsers give the microphone to secure pages only."""

from __future__ import annotations

import ipaddress
import os
import socket
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

_LASTS = timedelta(days=397)
"""The longest that browsers believe (CA/Browser Forum, Baseline Requirements, 6.3.2; from memory)."""
_RENEW_BEFORE = timedelta(days=14)


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """Where certificate and key lie, and how to recognise it.

    Attributes
    ----------
    certificate, key : Path
        PEM files; the key is readable by its owner alone.
    fingerprint : str
        SHA-256 of the certificate in pairs of hexadecimal digits.
    """

    certificate: Path
    key: Path
    fingerprint: str


def certificate_for(names: Sequence[str], *, folder: Path) -> Certificate:
    """Return the certificate kept in ``folder`` if it is good for all ``names``, else a new one.

    Parameters
    ----------
    names : sequence of str
        Names and addresses of this computer.
    folder : Path
        Where it is kept; made where it is missing.
    """
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    kept = _kept(names, folder=folder)
    return kept or _made(names, folder=folder)


def own_addresses() -> list[str]:
    """Addresses of this computer on the local network, and its name; what cannot be found out is left out."""
    found: dict[str, None] = {}
    with suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        # Nothing is sent: connecting a datagram socket only asks which interface would be used.
        probe.connect(("192.0.2.1", 9))
        found[probe.getsockname()[0]] = None
    name = socket.gethostname()
    with suppress(OSError):
        for *_, address in socket.getaddrinfo(name, None, socket.AF_INET):
            found[str(address[0])] = None
    addresses = [a for a in found if not ipaddress.ip_address(a).is_loopback]
    plain = name.isascii() and name.replace("-", "").replace(".", "").isalnum()
    return [*addresses, *([name.lower(), f"{name.lower()}.local"] if plain and "." not in name else [])]


def _kept(names: Sequence[str], *, folder: Path) -> Certificate | None:
    paths = folder / "page.crt", folder / "page.key"
    try:
        certificate = x509.load_pem_x509_certificate(paths[0].read_bytes())
        key = serialization.load_pem_private_key(paths[1].read_bytes(), password=None)
        alternatives = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (OSError, ValueError, TypeError, x509.ExtensionNotFound):
        return None
    good_for = {str(name.value) for name in alternatives}
    still_good = certificate.not_valid_after_utc > datetime.now(UTC) + _RENEW_BEFORE
    own_key = key.public_key() == certificate.public_key()
    if not (still_good and own_key and set(names) <= good_for and paths[1].stat().st_mode & 0o077 == 0):
        return None
    return Certificate(certificate=paths[0], key=paths[1], fingerprint=_fingerprint(certificate))


def _made(names: Sequence[str], *, folder: Path) -> Certificate:
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "roomir on this computer")])
    now = datetime.now(UTC)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(hours=1))
        .not_valid_after(now + _LASTS)
        .add_extension(x509.SubjectAlternativeName([_general(name) for name in names]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )
    pem = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    _write_private(folder / "page.key", pem)
    (folder / "page.crt").write_bytes(certificate.public_bytes(serialization.Encoding.PEM))
    return Certificate(
        certificate=folder / "page.crt", key=folder / "page.key", fingerprint=_fingerprint(certificate)
    )


def _write_private(path: Path, data: bytes) -> None:
    path.unlink(missing_ok=True)
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "wb") as file:
        file.write(data)


def _general(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)


def _fingerprint(certificate: x509.Certificate) -> str:
    return certificate.fingerprint(hashes.SHA256()).hex(":").upper()
