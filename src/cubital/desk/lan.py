"""
A small certificate authority of the laboratory's own, so that tablets on its network get HTTPS.

A browser keeps a page for when the network is cut only where it trusts the certificate.  The
authority lies in ``var/ca``, its key readable by the owner alone.  It may sign for this machine's
names and for private addresses only, so that a stolen key opens nothing else on the tablets that
trust it.  The server's certificate holds at most 397 days and is made anew a month before its end.
"""

from __future__ import annotations

import ipaddress
import os
import socket
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from cubital.errors import InputError

SERVER_DAYS = 397
"""The longest that browsers take from a server (CA/Browser Forum, ballot SC31, 2020)."""
RENEW_DAYS = 30
AUTHORITY_DAYS = 3650
AN_HOUR = timedelta(hours=1)
"""A certificate holds from an hour before it was made: clocks of tablets differ."""
PRIVATE = (
    "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8",
    "100.64.0.0/10", "fc00::/7", "fe80::/10", "::1/128",
)  # fmt: skip
"""Networks that nobody reaches from outside (RFC 1918, 3927, 4193, 4291, 6598)."""
CA_CERTIFICATE, CA_KEY = "authority.crt", "authority.key"
CERTIFICATE, KEY = "server.crt", "server.key"

Address = ipaddress.IPv4Address | ipaddress.IPv6Address


@dataclass(frozen=True, slots=True)
class Served:
    """
    What the desk is served with.

    Args:
        certificate: file of the server's certificate.
        key: file of its key.
        authority: file of the certificate that devices must trust.
        fingerprint: SHA-256 of the authority's certificate, in pairs, to compare by eye.
        names: names and addresses under which the desk answers.
        until: when the server's certificate ends.
    """

    certificate: Path
    key: Path
    authority: Path
    fingerprint: str
    names: tuple[str, ...]
    until: datetime


def serve_with(folder: Path, names: Sequence[str], now: datetime) -> Served:
    """
    Give the certificate to serve with; make the authority and the certificate where needed.

    Args:
        folder: where they lie, only for the owner.
        names: names and addresses under which devices reach the desk.
        now: with its zone.

    Raises:
        InputError: the authority may not sign for one of these names, or has ended.
    """
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    authority, authority_key = _authority(folder, names, now)
    _must_cover(authority, names, folder)
    certificate = _kept(folder / CERTIFICATE)
    if certificate is None or not _still_good(certificate, authority, names, now):
        certificate = _server(folder, authority, authority_key, names, now)
    return Served(
        folder / CERTIFICATE,
        folder / KEY,
        folder / CA_CERTIFICATE,
        fingerprint(authority),
        tuple(names),
        certificate.not_valid_after_utc,
    )


def fingerprint(certificate: x509.Certificate) -> str:
    """SHA-256 in pairs, as browsers and tablets show it."""
    return certificate.fingerprint(hashes.SHA256()).hex(":").upper()


def names_here() -> tuple[str, ...]:
    """Names and addresses of this machine on its networks, as far as they can be found out."""
    host = socket.gethostname().lower()
    short = host.partition(".")[0]
    found: dict[str, None] = dict.fromkeys(("localhost", "127.0.0.1"))
    found.update(dict.fromkeys(name for name in (host, f"{short}.local") if name))
    for address in _addresses(host):
        if not (address.is_loopback or address.is_link_local):
            found[str(address)] = None
    return tuple(found)


def _addresses(host: str) -> Iterable[Address]:
    """Addresses by the machine's own name, and the one it would send from."""
    try:
        for *_, where in socket.getaddrinfo(host, None):
            yield ipaddress.ip_address(str(where[0]).partition("%")[0])
    except OSError:
        pass  # a machine whose name nobody knows
    for family, somewhere in ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1")):
        try:
            with socket.socket(family, socket.SOCK_DGRAM) as probe:
                probe.connect((somewhere, 9))  # nothing is sent: documentation addresses
                yield ipaddress.ip_address(probe.getsockname()[0])
        except OSError:
            continue


# ------------------------------------------------------------------ the authority


def _authority(
    folder: Path, names: Sequence[str], now: datetime
) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey]:
    certificate, key_file = _kept(folder / CA_CERTIFICATE), folder / CA_KEY
    if certificate is None or not key_file.exists():
        return _new_authority(folder, names, now)
    if certificate.not_valid_after_utc <= now:
        raise InputError(
            f"The authority ended on {certificate.not_valid_after_utc:%Y-%m-%d}",
            str(folder),
            "Move the folder away and start again; then every device must trust the new one.",
        )
    key = serialization.load_pem_private_key(key_file.read_bytes(), password=None)
    if not isinstance(key, ec.EllipticCurvePrivateKey):
        raise InputError("The key is no key of this authority", str(key_file))
    return certificate, key


def _new_authority(
    folder: Path, names: Sequence[str], now: datetime
) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey]:
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name(
        [
            x509.NameAttribute(NameOID.ORGANIZATION_NAME, "cubital"),
            x509.NameAttribute(NameOID.COMMON_NAME, f"cubital desk {socket.gethostname()}"[:64]),
        ]
    )
    certificate = (
        _builder(name, name, key.public_key(), now, AUTHORITY_DAYS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .add_extension(
            x509.NameConstraints(permitted_subtrees=_permitted(names), excluded_subtrees=None),
            critical=True,
        )
        .add_extension(_subject_key(key), critical=False)
        .sign(key, hashes.SHA256())
    )
    _write(folder / CA_KEY, _private(key))
    _write(folder / CA_CERTIFICATE, certificate.public_bytes(serialization.Encoding.PEM))
    return certificate, key


def _permitted(names: Sequence[str]) -> list[x509.GeneralName]:
    """The names as they are now, ``localhost``, and every private network."""
    hosts = [name for name in names if _address(name) is None]
    networks = [ipaddress.ip_network(each) for each in PRIVATE]
    addresses = [address for name in names if (address := _address(name)) is not None]
    public = [each for each in addresses if not any(each in network for network in networks)]
    return [
        *(x509.DNSName(host) for host in dict.fromkeys(("localhost", *hosts))),
        *(x509.IPAddress(network) for network in networks),
        *(x509.IPAddress(ipaddress.ip_network(each)) for each in public),
    ]


def _must_cover(authority: x509.Certificate, names: Sequence[str], folder: Path) -> None:
    """Refuse a name that the authority may not sign for: devices would not take it."""
    permitted = authority.extensions.get_extension_for_class(x509.NameConstraints).value
    hosts, networks = [], []
    for each in permitted.permitted_subtrees or ():
        if isinstance(each, x509.DNSName):
            hosts.append(each.value)
        else:
            networks.append(each.value)
    for name in names:
        address = _address(name)
        if address is None:
            covered = any(name == host or name.endswith(f".{host}") for host in hosts)
        else:
            covered = any(address in network for network in networks)
        if not covered:
            raise InputError(
                f"The authority may not sign for {name}: it was made before that name was known",
                str(folder),
                "Move the folder away and start again; then every device must trust the new one.",
            )


# ------------------------------------------------------------------ the server's certificate


def _server(
    folder: Path,
    authority: x509.Certificate,
    authority_key: ec.EllipticCurvePrivateKey,
    names: Sequence[str],
    now: datetime,
) -> x509.Certificate:
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, names[0][:64])])
    days = min(SERVER_DAYS, (authority.not_valid_after_utc - now).days)
    certificate = (
        _builder(subject, authority.subject, key.public_key(), now, days)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(_alternatives(names)), critical=False)
        .add_extension(_subject_key(key), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(authority_key.public_key()),
            critical=False,
        )
        .sign(authority_key, hashes.SHA256())
    )
    _write(folder / KEY, _private(key))
    _write(folder / CERTIFICATE, certificate.public_bytes(serialization.Encoding.PEM))
    return certificate


def _alternatives(names: Sequence[str]) -> list[x509.GeneralName]:
    return [
        x509.DNSName(name) if (address := _address(name)) is None else x509.IPAddress(address)
        for name in names
    ]


def _still_good(
    certificate: x509.Certificate,
    authority: x509.Certificate,
    names: Sequence[str],
    now: datetime,
) -> bool:
    """Whether it is of this authority, for these names, and ends in more than a month."""
    if certificate.issuer != authority.subject:
        return False
    if certificate.not_valid_after_utc - now < timedelta(days=RENEW_DAYS):
        return False
    try:
        certificate.verify_directly_issued_by(authority)
    except (ValueError, TypeError, InvalidSignature):
        return False
    held = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return set(held) == set(_alternatives(names))


# ------------------------------------------------------------------ small pieces


def _builder(
    subject: x509.Name,
    issuer: x509.Name,
    public_key: ec.EllipticCurvePublicKey,
    now: datetime,
    days: int,
) -> x509.CertificateBuilder:
    begin = now - AN_HOUR
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(public_key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(begin)
        .not_valid_after(begin + timedelta(days=days))
    )


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        encipher_only=False,
        decipher_only=False,
    )


def _subject_key(key: ec.EllipticCurvePrivateKey) -> x509.SubjectKeyIdentifier:
    return x509.SubjectKeyIdentifier.from_public_key(key.public_key())


def _private(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )


def _address(name: str) -> Address | None:
    try:
        return ipaddress.ip_address(name)
    except ValueError:
        return None


def _kept(path: Path) -> x509.Certificate | None:
    """A certificate that lies there, None when there is none that can be read."""
    try:
        return x509.load_pem_x509_certificate(path.read_bytes())
    except (OSError, ValueError):
        return None


def _write(path: Path, data: bytes) -> None:
    """Write a file that only its owner reads, whole or not at all."""
    whole = path.with_suffix(f"{path.suffix}.new")
    whole.unlink(missing_ok=True)
    handle = os.open(whole, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "wb") as file:
        file.write(data)
    whole.replace(path)
