"""The laboratory's own certificate authority: narrow, private, renewed in time."""

from __future__ import annotations

import ipaddress
import ssl
import stat
import urllib.error
import urllib.request
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID

from cubital.desk.lan import (
    AUTHORITY_DAYS,
    CA_CERTIFICATE,
    SERVER_DAYS,
    Served,
    names_here,
    serve_with,
)
from cubital.desk.lan_page import CERTIFICATE_PATH, open_trust_page
from cubital.errors import InputError

NOW = datetime(2026, 11, 25, 7, 0, tzinfo=UTC)
NAMES = ("localhost", "127.0.0.1", "valley-desk", "valley-desk.local", "192.168.7.4", "fd00::4")


def made(folder: Path, now: datetime = NOW, names: tuple[str, ...] = NAMES) -> Served:
    """What the desk is served with."""
    return serve_with(folder / "ca", names, now)


def read(path: Path) -> x509.Certificate:
    """A certificate."""
    return x509.load_pem_x509_certificate(path.read_bytes())


def test_keys_are_readable_by_the_owner_alone(tmp_path: Path) -> None:
    """The folder 0700, each file in it 0600."""
    made(tmp_path)
    assert stat.S_IMODE((tmp_path / "ca").stat().st_mode) == 0o700
    modes = {path.name: stat.S_IMODE(path.stat().st_mode) for path in (tmp_path / "ca").iterdir()}
    assert set(modes.values()) == {0o600}
    assert len(modes) == 4


def test_the_server_is_vouched_for_under_its_names_and_not_too_long(tmp_path: Path) -> None:
    """Names and addresses in the SAN, P-256, for servers only, at most 397 days."""
    served = made(tmp_path)
    certificate, authority = read(served.certificate), read(served.authority)
    certificate.verify_directly_issued_by(authority)
    san = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert san.get_values_for_type(x509.DNSName) == [
        "localhost",
        "valley-desk",
        "valley-desk.local",
    ]
    assert [str(a) for a in san.get_values_for_type(x509.IPAddress)] == [
        "127.0.0.1", "192.168.7.4", "fd00::4",
    ]  # fmt: skip
    life = certificate.not_valid_after_utc - certificate.not_valid_before_utc
    assert life == timedelta(days=SERVER_DAYS) <= timedelta(days=397)
    assert certificate.not_valid_before_utc < NOW < served.until
    key = certificate.public_key()
    assert isinstance(key, ec.EllipticCurvePublicKey)
    assert isinstance(key.curve, ec.SECP256R1)
    usage = certificate.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    assert list(usage) == [ExtendedKeyUsageOID.SERVER_AUTH]


def test_the_authority_signs_for_nobody_else(tmp_path: Path) -> None:
    """No authority under it, no public name, no public address."""
    authority = read(made(tmp_path).authority)
    basic = authority.extensions.get_extension_for_class(x509.BasicConstraints)
    assert basic.critical
    assert (basic.value.ca, basic.value.path_length) == (True, 0)
    limits = authority.extensions.get_extension_for_class(x509.NameConstraints)
    assert limits.critical
    permitted = limits.value.permitted_subtrees or []
    hosts = {each.value for each in permitted if isinstance(each, x509.DNSName)}
    assert hosts == {"localhost", "valley-desk", "valley-desk.local"}
    networks = [each.value for each in permitted if isinstance(each, x509.IPAddress)]
    assert all(not network.is_global for network in networks)
    assert not any(ipaddress.ip_address("9.9.9.9") in network for network in networks)
    life = authority.not_valid_after_utc - authority.not_valid_before_utc
    assert life == timedelta(days=AUTHORITY_DAYS)


def test_a_second_start_changes_nothing_and_a_late_one_renews_the_server_only(
    tmp_path: Path,
) -> None:
    """Tablets go on trusting the same authority; a month before its end the certificate is new."""
    first = made(tmp_path)
    serial = read(first.certificate).serial_number
    assert made(tmp_path, NOW + timedelta(days=300)) == first
    late = made(tmp_path, NOW + timedelta(days=370))
    assert late.fingerprint == first.fingerprint
    assert read(late.certificate).serial_number != serial
    assert late.until > first.until
    moved = made(tmp_path, names=(*NAMES, "192.168.7.5"))
    assert moved.fingerprint == first.fingerprint
    san = read(moved.certificate).extensions.get_extension_for_class(x509.SubjectAlternativeName)
    assert ipaddress.ip_address("192.168.7.5") in san.value.get_values_for_type(x509.IPAddress)


def test_another_authority_s_certificate_is_replaced(tmp_path: Path) -> None:
    """A certificate that does not follow from the authority in the folder is made anew."""
    served = made(tmp_path)
    other = serve_with(tmp_path / "other", NAMES, NOW)
    served.certificate.write_bytes(other.certificate.read_bytes())
    read(made(tmp_path).certificate).verify_directly_issued_by(read(served.authority))


def test_a_name_that_came_later_and_an_authority_that_ended_are_told(tmp_path: Path) -> None:
    """Both say what to do, and nothing is signed that no device would take."""
    served = made(tmp_path)
    with pytest.raises(InputError, match="may not sign for pass-desk"):
        made(tmp_path, names=(*NAMES, "pass-desk"))
    with pytest.raises(InputError, match="ended on 2036"):
        made(tmp_path, NOW + timedelta(days=AUTHORITY_DAYS + 1))
    assert made(tmp_path) == served


def test_names_of_this_machine_are_found() -> None:
    """At least the way to itself; each once."""
    names = names_here()
    assert names[:2] == ("localhost", "127.0.0.1")
    assert len(set(names)) == len(names)
    assert all(name == name.lower() and "%" not in name for name in names)


def test_the_trust_page_gives_the_certificate_its_fingerprint_and_nothing_else(
    tmp_path: Path,
) -> None:
    """Plain HTTP, two addresses; never the key."""
    served = made(tmp_path)
    server = open_trust_page("127.0.0.1", 0, served, ("https://valley-desk:8000/",))
    try:
        base = f"http://127.0.0.1:{server.server_address[1]}"
        with urllib.request.urlopen(f"{base}/") as answer:
            page = answer.read().decode()
        assert served.fingerprint in page
        assert "https://valley-desk:8000/" in page
        with urllib.request.urlopen(f"{base}{CERTIFICATE_PATH}") as answer:
            assert answer.headers["Content-Type"] == "application/x-x509-ca-cert"
            assert answer.read() == served.authority.read_bytes()
        for path in ("/authority.key", "/../authority.key", "/var/ca/authority.key"):
            with pytest.raises(urllib.error.HTTPError) as refused:
                urllib.request.urlopen(f"{base}{path}")
            assert refused.value.code == 404
    finally:
        server.shutdown()
        server.server_close()


def test_openssl_takes_the_chain(tmp_path: Path) -> None:
    """A TLS context of Python's own loads certificate, key and authority."""
    served = made(tmp_path)
    ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(served.certificate, served.key)
    context = ssl.create_default_context(cafile=str(served.authority))
    assert len(context.get_ca_certs()) == 1
    assert served.authority.name == CA_CERTIFICATE
