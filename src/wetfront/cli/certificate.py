"""Certificates of the site's own authority, so that phones on its network have the secure page that they ask for.

The authority's key signs nothing but this server: its certificate is limited to private addresses and to names that
end in .local, so that even a stolen key vouches for no page of the internet.
"""

import datetime as dt
import ipaddress
import os
import socket
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from wetfront.errors import InvalidInput

FOLDER = "wetfront-authority"
AUTHORITY_DAYS, SERVER_DAYS, RENEW_DAYS = 1825, 397, 60
"""Own rule: an authority lasts as long as a long site; a server's certificate is renewed at start when it grows old."""
PRIVATE = (
    *("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "127.0.0.0/8", "169.254.0.0/16", "fc00::/7", "fe80::/10"),
    *("100.64.0.0/10", "192.0.2.0/24"),  # a provider's or a tunnel's own network; what virtual machines are given
)
NAMES = ("local", "localhost")


@dataclass(frozen=True, slots=True)
class Certificate:
    """Files of the server's certificate, and the authority's own that people trust once."""

    chain: Path
    key: Path
    authority: Path
    fingerprint: str
    """SHA-256 of the authority's certificate, to be compared on the phone."""


def certificate_of(folder: Path, addresses: Sequence[str]) -> Certificate:
    """The server's certificate for these addresses, by the folder's authority; both are made on first use.

    InvalidInput where the files cannot be read or written, or an address is outside the site's network.
    """
    place = folder / FOLDER
    outside = [each for each in addresses if not is_private(each)]
    if outside:
        raise InvalidInput("host", f"--site vouches for private addresses only; {outside[0]} is none")
    try:
        place.mkdir(mode=0o700, exist_ok=True)
        place.chmod(0o700)
        authority, authority_key = _authority(place)
        chain, key = place / "server.pem", place / "server-key.pem"
        if not _still_good(chain, key, authority, addresses):
            _issue(chain, key, authority, authority_key, addresses)
    except (OSError, ValueError) as error:
        raise InvalidInput("site", f"the certificates in {place} cannot be used: {error}") from None
    fingerprint = authority.fingerprint(hashes.SHA256()).hex(":").upper()
    return Certificate(chain, key, place / "authority.pem", fingerprint)


def _authority(place: Path) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey]:
    found, key_file = place / "authority.pem", place / "authority-key.pem"
    if found.exists() and key_file.exists():
        certificate = x509.load_pem_x509_certificate(found.read_bytes())
        key = serialization.load_pem_private_key(key_file.read_bytes(), None)
        if not isinstance(key, ec.EllipticCurvePrivateKey):
            raise ValueError("authority-key.pem is no key of this program")
        if certificate.not_valid_after_utc < dt.datetime.now(dt.UTC) + dt.timedelta(days=SERVER_DAYS):
            raise ValueError("the authority has grown old: delete the folder, start again, and trust the new one")
        return certificate, key
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"wetfront site authority, {socket.gethostname()[:30]}")])
    permitted = [x509.IPAddress(ipaddress.ip_network(each)) for each in PRIVATE]
    now = dt.datetime.now(dt.UTC)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=AUTHORITY_DAYS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .add_extension(x509.NameConstraints([*permitted, *(x509.DNSName(each) for each in NAMES)], None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    _write(key_file, _key_bytes(key), 0o600)
    _write(found, certificate.public_bytes(serialization.Encoding.PEM), 0o644)
    return certificate, key


def _still_good(chain: Path, key: Path, authority: x509.Certificate, addresses: Sequence[str]) -> bool:
    with suppress(OSError, ValueError, x509.ExtensionNotFound):
        if not key.exists():
            return False
        found = x509.load_pem_x509_certificate(chain.read_bytes())
        names = found.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
        there = {str(each) for each in names.get_values_for_type(x509.IPAddress)}
        late = dt.datetime.now(dt.UTC) + dt.timedelta(days=RENEW_DAYS)
        found.verify_directly_issued_by(authority)
        return set(addresses) <= there and found.not_valid_after_utc > late
    return False


def _issue(
    chain: Path,
    key_file: Path,
    authority: x509.Certificate,
    authority_key: ec.EllipticCurvePrivateKey,
    addresses: Sequence[str],
) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    names: list[x509.GeneralName] = [
        x509.IPAddress(ipaddress.ip_address(each)) for each in dict.fromkeys([*addresses, "127.0.0.1"])
    ]
    names += [x509.DNSName(f"{_host()}.local"), x509.DNSName("localhost")]
    now = dt.datetime.now(dt.UTC)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "wetfront on site")]))
        .issuer_name(authority.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=SERVER_DAYS))
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(authority_key.public_key()), critical=False)
        .sign(authority_key, hashes.SHA256())
    )
    pem = serialization.Encoding.PEM
    _write(key_file, _key_bytes(key), 0o600)
    _write(chain, certificate.public_bytes(pem) + authority.public_bytes(pem), 0o644)


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=True,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        encipher_only=False,
        decipher_only=False,
    )


def is_private(address: str) -> bool:
    """Of a network that no page of the internet is in."""
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return False
    return any(found in ipaddress.ip_network(each) for each in PRIVATE)


def _host() -> str:
    kept = "".join(each if each.isascii() and each.isalnum() else "-" for each in socket.gethostname().split(".")[0])
    return kept.strip("-").lower()[:40] or "site"


def _key_bytes(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )


def _write(path: Path, content: bytes, mode: int) -> None:
    beside = path.with_name(f".{path.name}.part")
    beside.unlink(missing_ok=True)
    handle = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
    with os.fdopen(handle, "wb") as stream:
        stream.write(content)
    beside.replace(path)
