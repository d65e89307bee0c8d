"""This computer on the home network: its addresses, and a certificate of its own for them."""

from __future__ import annotations

import ipaddress
import socket
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from app.folder import write_private

DAYS_GOOD, DAYS_LEFT = 397, 14
"""How long a certificate is good for, and what must be left of it."""
NOWHERE = ("192.0.2.1", 9)
"""An address of no computer (RFC 5737): asked for the way there, nothing is sent."""


def own_addresses() -> list[str]:
    """The addresses by which others of the network reach this computer."""
    found: list[str] = []
    with suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as way:
        way.connect(NOWHERE)
        found.append(way.getsockname()[0])
    with suppress(OSError):
        found += socket.gethostbyname_ex(socket.gethostname())[2]
    here = [one for one in dict.fromkeys(found) if not ipaddress.ip_address(one).is_loopback]
    return here or ["127.0.0.1"]


@dataclass(frozen=True)
class Certificate:
    """Its files, and the fingerprint to compare with what the phone shows."""

    chain: Path
    key: Path
    fingerprint: str


def certificate(folder: Path, addresses: list[str]) -> Certificate:
    """The certificate for these addresses, made anew where there is none that is good for them."""
    chain, key = folder / "phone.crt", folder / "phone.key"
    found = _read(chain) if key.exists() else None
    if found is None or not _good_for(found, addresses):
        found = _make(chain, key, addresses)
    digest = found.fingerprint(hashes.SHA256()).hex(":").upper()
    return Certificate(chain, key, digest)


def _read(chain: Path) -> x509.Certificate | None:
    with suppress(OSError, ValueError):
        return x509.load_pem_x509_certificate(chain.read_bytes())
    return None


def _good_for(found: x509.Certificate, addresses: list[str]) -> bool:
    names = found.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    known = {str(one) for one in names.get_values_for_type(x509.IPAddress)}
    now = datetime.now(UTC)
    left = found.not_valid_after_utc - now
    begun = found.not_valid_before_utc <= now
    return begun and left > timedelta(days=DAYS_LEFT) and known >= set(addresses)


def _make(chain: Path, key: Path, addresses: list[str]) -> x509.Certificate:
    secret = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Tallyfold on this computer")])
    now = datetime.now(UTC)
    names: list[x509.GeneralName] = [
        x509.IPAddress(ipaddress.ip_address(one)) for one in [*addresses, "127.0.0.1"]
    ]
    made = (
        x509.CertificateBuilder()
        .subject_name(name).issuer_name(name).public_key(secret.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(hours=1))
        .not_valid_after(now + timedelta(days=DAYS_GOOD))
        .add_extension(
            x509.SubjectAlternativeName([*names, x509.DNSName("localhost")]), critical=False
        )
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(secret, hashes.SHA256())
    )  # fmt: skip
    write_private(
        key,
        secret.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        ),
    )
    write_private(chain, made.public_bytes(serialization.Encoding.PEM))
    return made
