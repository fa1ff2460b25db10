"""A certificate authority that speaks for this server and nobody else."""

from __future__ import annotations

import socket
import ssl
import threading
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import serialization
from cryptography.x509.verification import PolicyBuilder, Store, VerificationError

from plumbmark.web.certificates import Authority, Served, authority_in, certify, may_speak_for
from plumbmark.web.settings import ServeError

NOW = datetime.now(UTC)
HOSTS = ("192.168.1.20", "van.test")


@pytest.fixture
def authority(tmp_path: Path) -> Authority:
    return authority_in(tmp_path / "lan", HOSTS, NOW)


def trusting(authority: Authority) -> ssl.SSLContext:
    """A client that was told to trust the authority and nothing else."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.load_verify_locations(
        cadata=authority.certificate.public_bytes(serialization.Encoding.PEM).decode()
    )
    return context


def shaken(served: Served, client: ssl.SSLContext, name: str) -> bytes:
    """The certificate that a client of a name was shown and took, over a pair of sockets."""
    ours, theirs = socket.socketpair()
    wrong: list[Exception] = []

    def serve() -> None:
        try:
            with served.context.wrap_socket(ours, server_side=True):
                pass
        except OSError as error:
            wrong.append(error)

    thread = threading.Thread(target=serve)
    thread.start()
    try:
        with client.wrap_socket(theirs, server_hostname=name) as connection:
            shown = connection.getpeercert(binary_form=True)
            assert shown is not None
            return shown
    finally:
        theirs.close()
        thread.join()
        ours.close()


def test_who_trusts_the_authority_trusts_the_server_by_each_of_its_names(authority: Authority) -> None:
    served = Served(authority, HOSTS)
    for name in HOSTS:
        assert shaken(served, trusting(authority), name)
    with pytest.raises(ssl.SSLCertVerificationError, match=r"192\.168\.1\.21"):
        shaken(served, trusting(authority), "192.168.1.21")


def test_who_does_not_trust_it_does_not(authority: Authority, tmp_path: Path) -> None:
    other = authority_in(tmp_path / "other", HOSTS, NOW)
    with pytest.raises(ssl.SSLCertVerificationError):
        shaken(Served(authority, HOSTS), trusting(other), HOSTS[0])


@pytest.mark.parametrize("host", ["bank.example", "8.8.8.8", "notvan.test", "2606:4700::1111"])
def test_whoever_stole_its_key_cannot_pose_as_another(authority: Authority, host: str) -> None:
    """By OpenSSL, and by another verifier of RFC 5280 (of cryptography, for a name or an address)."""
    stolen = certify(authority, [host], NOW)
    made = Served.__new__(Served)
    made.context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    file = authority.file.parent / "stolen.pem"
    file.write_bytes(stolen)
    made.context.load_cert_chain(file)
    with pytest.raises(ssl.SSLCertVerificationError, match="permitted subtree violation"):
        shaken(made, trusting(authority), host)
    assert not may_speak_for(authority.certificate, host)


def test_another_verifier_agrees(authority: Authority) -> None:
    leaf = x509.load_pem_x509_certificate(certify(authority, HOSTS, NOW))
    builder = PolicyBuilder().store(Store([authority.certificate])).time(NOW.replace(tzinfo=None))
    builder.build_server_verifier(x509.DNSName("van.test")).verify(leaf, [])
    builder.build_server_verifier(x509.IPAddress(ip_address("192.168.1.20"))).verify(leaf, [])
    foreign = x509.load_pem_x509_certificate(certify(authority, ["bank.example"], NOW))
    with pytest.raises(VerificationError):
        builder.build_server_verifier(x509.DNSName("bank.example")).verify(foreign, [])


def test_it_is_kept_and_goes_with_the_machine_into_another_private_network(
    authority: Authority, tmp_path: Path
) -> None:
    again = authority_in(tmp_path / "lan", ("10.7.0.3", "van.test"), NOW)
    assert (authority.is_new, again.is_new) == (True, False)
    assert again.fingerprint == authority.fingerprint
    assert shaken(Served(again, ("10.7.0.3",)), trusting(authority), "10.7.0.3")


@pytest.mark.parametrize("hosts", [("192.168.1.20", "other.test"), ("203.0.113.5",)])
def test_it_cannot_be_widened(authority: Authority, hosts: tuple[str, ...]) -> None:
    with pytest.raises(ServeError, match="was not made for"):
        authority_in(authority.file.parent, hosts, NOW)


def test_its_key_is_its_owners_alone(authority: Authority) -> None:
    assert authority.file.stat().st_mode & 0o777 == 0o600
    assert authority.file.parent.stat().st_mode & 0o777 == 0o700
    assert [file.name for file in authority.file.parent.iterdir()] == ["authority.pem"]
    authority.file.chmod(0o640)
    with pytest.raises(ServeError, match="others can read"):
        authority_in(authority.file.parent, HOSTS, NOW)


@pytest.mark.parametrize("data", [b"", b"\x00\xff", b"-----BEGIN CERTIFICATE-----\n"])
def test_a_file_that_is_none_is_told_of_and_left(tmp_path: Path, data: bytes) -> None:
    file = tmp_path / "authority.pem"
    file.write_bytes(data)
    file.chmod(0o600)
    with pytest.raises(ServeError, match="not an authority"):
        authority_in(tmp_path, HOSTS, NOW)
    assert file.read_bytes() == data


def test_one_that_ends_soon_is_replaced(authority: Authority) -> None:
    later = NOW + timedelta(days=3 * 365 - 29)
    made = authority_in(authority.file.parent, HOSTS, later)
    assert made.is_new
    assert made.fingerprint != authority.fingerprint


def test_a_certificate_of_the_server_is_short_and_renewed_while_it_runs(authority: Authority) -> None:
    served = Served(authority, HOSTS)
    first = x509.load_der_x509_certificate(shaken(served, trusting(authority), HOSTS[0]))
    assert first.not_valid_after_utc - datetime.now(UTC) <= timedelta(days=30)
    assert first.not_valid_before_utc < datetime.now(UTC) - timedelta(hours=23), "a phone's clock goes wrong"
    served.renew(datetime.now(UTC) + timedelta(hours=1))
    second = x509.load_der_x509_certificate(shaken(served, trusting(authority), HOSTS[0]))
    assert second.serial_number != first.serial_number
    assert second.not_valid_after_utc > first.not_valid_after_utc
