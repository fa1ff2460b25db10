"""A certificate authority of one's own for phones on the same network; the server's certificates from it.

A browser keeps a page for work without signal only where it trusts who served it, and nobody gives out
certificates for an address on a private network. So the server makes an authority once and each phone is told
to trust it once. By its name constraints (RFC 5280, 4.2.1.10) it cannot speak for anything but private
addresses and the names and addresses it was made for: whoever stole its key could not pose as a bank.
"""

from __future__ import annotations

import os
import secrets
import socket
import ssl
import stat
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from ipaddress import IPv4Address, IPv4Network, IPv6Address, IPv6Network, ip_address, ip_network
from pathlib import Path
from typing import Final, TypeAlias

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from plumbmark.web.settings import ServeError

Address: TypeAlias = IPv4Address | IPv6Address
Network: TypeAlias = IPv4Network | IPv6Network

AUTHORITY_LASTS: Final = timedelta(days=3 * 365)
#: An authority with less left than this is replaced, so that none ends in the middle of a week's work.
AUTHORITY_LEFT: Final = timedelta(days=30)
LEAF_LASTS: Final = timedelta(days=30)
#: Clocks of phones go wrong: a certificate counts from this long before it was made.
_BEFORE: Final = timedelta(days=1)
#: RFC 1918, 3927, 6598, 4193 and 4291: addresses that lead nowhere outside the network one is in.
PRIVATE: Final[tuple[Network, ...]] = tuple(
    ip_network(block)
    for block in (
        "10.0.0.0/8",
        "172.16.0.0/12",
        "192.168.0.0/16",
        "169.254.0.0/16",
        "100.64.0.0/10",
        "fc00::/7",
        "fe80::/10",
    )
)


@dataclass(frozen=True, slots=True)
class Authority:
    """Key and certificate of an authority; `is_new` where they were made just now."""

    key: ec.EllipticCurvePrivateKey
    certificate: x509.Certificate
    file: Path
    is_new: bool

    @property
    def der(self) -> bytes:
        """The certificate as phones take it in."""
        return self.certificate.public_bytes(serialization.Encoding.DER)

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the certificate, in pairs as phones show it."""
        return self.certificate.fingerprint(hashes.SHA256()).hex(" ").upper()


def authority_in(folder: Path, hosts: Sequence[str], now: datetime) -> Authority:
    """The authority kept in a folder, made where there is none or it ends soon.

    Parameters
    ----------
    folder : Path
        Made where it is not there; the key lies in it readable to its owner alone.
    hosts : sequence of str
        Names and addresses that it has to be able to speak for.
    now : datetime
        With its offset.

    Returns
    -------
    Authority

    Raises
    ------
    ServeError
        The file cannot be read or written, others can read it, or it was made for other names.
    """
    file = folder / "authority.pem"
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        kept = _kept(file) if file.exists() else None
        if kept is not None and kept.certificate.not_valid_after_utc - now < AUTHORITY_LEFT:
            file.unlink()
            kept = None
        made = kept or _made(file, hosts, now)
    except OSError as error:
        raise ServeError(
            f"the certificate authority cannot be kept in '{file}' ({error.strerror or error})"
        ) from error
    for host in hosts:
        if not may_speak_for(made.certificate, host):
            raise ServeError(
                f"the certificate authority in '{file}' was not made for '{host}' and cannot be widened: "
                "move that file away, start again, and let each phone take in the new one"
            )
    return made


def may_speak_for(certificate: x509.Certificate, host: str) -> bool:
    """Whether the name constraints of an authority let it speak for a name or an address."""
    allowed = certificate.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees
    address = address_of(host)
    if address is not None:
        blocks = [ip_network(a.value) for a in allowed or () if isinstance(a, x509.IPAddress)]
        return any(address in block for block in blocks)
    names = [a.value for a in allowed or () if isinstance(a, x509.DNSName)]
    return any(host == name or host.endswith(f".{name}") for name in names)


def address_of(host: str) -> Address | None:
    """The address that a text is, None where it is a name.

    Examples
    --------
    >>> address_of("192.168.1.20"), address_of("van.local")
    (IPv4Address('192.168.1.20'), None)
    """
    try:
        return ip_address(host)
    except ValueError:
        return None


def certify(authority: Authority, hosts: Sequence[str], now: datetime) -> bytes:
    """A new key with a certificate for names and addresses, as PEM; short, since it costs nothing to make."""
    key = ec.generate_private_key(ec.SECP256R1())
    ends = min(now + LEAF_LASTS, authority.certificate.not_valid_after_utc)
    made = (
        _begun(f"plumbmark server {hosts[0]}"[:64], authority.certificate.subject, key, now, ends)
        .add_extension(x509.SubjectAlternativeName([_general(host) for host in hosts]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(authority.key.public_key()), critical=False
        )
        .sign(authority.key, hashes.SHA256())
    )
    return _pem(key) + made.public_bytes(serialization.Encoding.PEM)


class Served:
    """What the server shows who it is with: a TLS context whose certificate can be renewed while it runs."""

    def __init__(self, authority: Authority, hosts: Sequence[str]) -> None:
        self._authority, self._hosts = authority, tuple(hosts)
        self.context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        self.context.minimum_version = ssl.TLSVersion.TLSv1_2
        self.renew(datetime.now(UTC))

    def renew(self, now: datetime) -> None:
        """Take a new certificate for whoever connects from now on."""
        # OpenSSL takes a certificate from a file alone; this one is gone again at once.
        with tempfile.TemporaryDirectory() as folder:
            file = Path(folder) / "server.pem"
            _write(file, certify(self._authority, self._hosts, now))
            self.context.load_cert_chain(file)


def _kept(file: Path) -> Authority:
    mode = file.stat().st_mode
    if os.name == "posix" and mode & (stat.S_IRWXG | stat.S_IRWXO):
        raise ServeError(
            f"others can read '{file}', the key that phones were told to trust: take their right to it "
            "(chmod 600); if somebody may have read it, move it away and let each phone take in a new one"
        )
    data = file.read_bytes()
    try:
        key = serialization.load_pem_private_key(data, None)
        certificate = x509.load_pem_x509_certificate(data)
        certificate.extensions.get_extension_for_class(x509.NameConstraints)
    except (ValueError, TypeError, x509.ExtensionNotFound) as error:
        raise ServeError(
            f"'{file}' is not an authority that was made here: move it away, start again, and let each phone "
            "take in the new one"
        ) from error
    if not isinstance(key, ec.EllipticCurvePrivateKey) or key.public_key() != certificate.public_key():
        raise ServeError(f"key and certificate in '{file}' do not go together: move it away and start again")
    return Authority(key, certificate, file, is_new=False)


def _made(file: Path, hosts: Sequence[str], now: datetime) -> Authority:
    key = ec.generate_private_key(ec.SECP256R1())
    name = f"plumbmark on {socket.gethostname()[:30] or 'a server'}, {secrets.token_hex(4)}"
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
    addresses = [address for host in hosts if (address := address_of(host)) is not None]
    names = [host for host in hosts if address_of(host) is None]
    allowed: list[x509.GeneralName] = [x509.IPAddress(block) for block in PRIVATE]
    allowed += [
        x509.IPAddress(ip_network(address))
        for address in addresses
        if not any(address in block for block in PRIVATE)
    ]
    # A kind of name that is not mentioned is not limited: so one name stands there always, one that never is.
    allowed += [x509.DNSName(host) for host in names or ["plumbmark.invalid"]]
    certificate = (
        _begun(name, subject, key, now, now + AUTHORITY_LASTS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs=True), critical=True)
        .add_extension(x509.NameConstraints(allowed, None), critical=True)
        .sign(key, hashes.SHA256())
    )
    try:
        _write(file, _pem(key) + certificate.public_bytes(serialization.Encoding.PEM))
    except FileExistsError:  # another server made one at this very moment
        return _kept(file)
    return Authority(key, certificate, file, is_new=True)


def _begun(
    name: str, issuer: x509.Name, key: ec.EllipticCurvePrivateKey, now: datetime, ends: datetime
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)]))
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - _BEFORE)
        .not_valid_after(ends)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )


def _usage(signs: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs,
        key_cert_sign=signs,
        crl_sign=signs,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _general(host: str) -> x509.GeneralName:
    address = address_of(host)
    return x509.DNSName(host) if address is None else x509.IPAddress(address)


def _pem(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )


def _write(file: Path, data: bytes) -> None:
    """Write a file whole or not at all, readable to its owner alone; one that is there stays."""
    draft = file.with_name(f".{secrets.token_hex(8)}")
    handle = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with os.fdopen(handle, "wb") as opened:
            opened.write(data)
            opened.flush()
            os.fsync(opened.fileno())
        os.link(draft, file)
    finally:
        draft.unlink()
