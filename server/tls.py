"""Certificates for https in the shop: an authority of the shop's own, and the server's certificate signed by it.

No public authority signs for an address such as 192.168.1.20, so the shop has its own, which each tablet must be told
to trust. So that a stolen key does little harm, it may sign for the shop's own names and private addresses only (name
constraints, RFC 5280, 4.2.1.10) and for no authority below it (pathlen 0, 4.2.1.9).

The server's certificate lasts 397 days (CA/Browser Forum baseline requirements 6.3.2: 398 at most; from memory), names
what it serves in its subject alternative names (RFC 9110, 4.3.4: an address as an address), and is made anew a month
before its end or when the names or addresses are others. Keys are files only their owner may read.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Collection
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from ipaddress import IPv4Address, IPv4Network, IPv6Address, IPv6Network, ip_address, ip_network
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

CA_LIFE = timedelta(days=3650)
LEAF_LIFE = timedelta(days=397)
RENEW_BEFORE = timedelta(days=30)
_CLOCKS_DIFFER = timedelta(hours=1)

# RFC 1918, RFC 4193, and loopback: addresses that mean something else in every other house.
_PRIVATE = tuple(
    ip_network(each) for each in ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "127.0.0.0/8", "fc00::/7", "::1/128")
)
_NAMES = ("localhost", "local")  # RFC 6761; RFC 6762: whatever.local

Address = IPv4Address | IPv6Address
Network = IPv4Network | IPv6Network


@dataclass(frozen=True, slots=True)
class Made:
    """What had to be made: with a new authority, every tablet must trust it anew."""

    authority: bool
    certificate: bool


def certificate_file(folder: Path) -> Path:
    return folder / "server.crt"


def key_file(folder: Path) -> Path:
    return folder / "server.key"


def ca_certificate(folder: Path) -> bytes:
    """The authority's certificate (PEM): the file a tablet is given."""
    return (folder / "ca.crt").read_bytes()


def fingerprint(folder: Path) -> str:
    """SHA-256 of the authority's certificate in pairs of figures, to be compared with what the tablet shows."""
    digest = x509.load_pem_x509_certificate(ca_certificate(folder)).fingerprint(hashes.SHA256())
    return digest.hex(":").upper()


def make_ready(folder: Path, names: Collection[str], moment: datetime | None = None) -> Made:
    """See that there are an authority and a certificate good for these names and addresses, and say what was made.

    `names` are host names, and addresses as text; the computer itself (localhost, 127.0.0.1, ::1) is always added.
    """
    moment = moment or datetime.now(UTC)
    hosts, addresses = _sorted_out([*names, "localhost", "127.0.0.1", "::1"])
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    authority = _read(folder, "ca")
    new_authority = authority is None or not _may_sign(authority[0], hosts, addresses, moment)
    if authority is None or new_authority:
        authority = _make_authority(hosts, addresses, moment)
        _write(folder, "ca", *authority)
    leaf = _read(folder, "server")
    if leaf is not None and _still_good(leaf[0], authority[0], hosts, addresses, moment):
        return Made(authority=new_authority, certificate=False)
    _write(folder, "server", *_make_leaf(authority, hosts, addresses, moment))
    return Made(authority=new_authority, certificate=True)


Pair = tuple[x509.Certificate, ec.EllipticCurvePrivateKey]


def _sorted_out(names: Collection[str]) -> tuple[list[str], list[Address]]:
    hosts: set[str] = set()
    addresses: set[Address] = set()
    for name in names:
        try:
            addresses.add(ip_address(name))
        except ValueError:
            hosts.add(name.lower())
    return sorted(hosts), sorted(addresses, key=lambda each: (each.version, int(each)))


def _make_authority(hosts: list[str], addresses: list[Address], moment: datetime) -> Pair:
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Matchmark, this shop only, {moment:%Y-%m-%d %H:%M}")])
    networks: list[Network] = [*_PRIVATE, *(ip_network(each) for each in addresses if not _is_private(each))]
    domains = [*_NAMES, *(each for each in hosts if each != "localhost" and not each.endswith(".local"))]
    permitted = [*map(x509.DNSName, domains), *map(x509.IPAddress, networks)]
    certificate = (
        _begun(name, name, key, moment, CA_LIFE)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .add_extension(x509.NameConstraints(permitted, None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    return certificate, key


def _make_leaf(authority: Pair, hosts: list[str], addresses: list[Address], moment: datetime) -> Pair:
    signer, signing_key = authority
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Matchmark")])
    end = min(LEAF_LIFE, signer.not_valid_after_utc - moment)
    certificate = (
        _begun(name, signer.subject, key, moment, end)
        .add_extension(x509.SubjectAlternativeName(_alternatives(hosts, addresses)), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(signing_key.public_key()), critical=False)
        .sign(signing_key, hashes.SHA256())
    )
    return certificate, key


def _begun(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePrivateKey, moment: datetime, life: timedelta
) -> x509.CertificateBuilder:
    begin = moment - _CLOCKS_DIFFER  # a tablet whose clock is a little slow is not turned away
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(begin)
        .not_valid_after(begin + life)
    )


def _usage(signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _alternatives(hosts: list[str], addresses: list[Address]) -> list[x509.GeneralName]:
    return [*map(x509.DNSName, hosts), *map(x509.IPAddress, addresses)]


def _is_private(address: Address) -> bool:
    return any(address in network for network in _PRIVATE if network.version == address.version)


def _may_sign(authority: x509.Certificate, hosts: list[str], addresses: list[Address], moment: datetime) -> bool:
    """Whether the authority will last, and every name and address lies within what it may sign for."""
    if authority.not_valid_after_utc - moment < LEAF_LIFE:
        return False
    permitted = authority.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or []
    networks = [each.value for each in permitted if isinstance(each, x509.IPAddress)]
    domains = [each.value for each in permitted if isinstance(each, x509.DNSName)]
    return all(
        any(address.version == network.version and address in network for network in networks) for address in addresses
    ) and all(any(host == domain or host.endswith(f".{domain}") for domain in domains) for host in hosts)


def _still_good(
    leaf: x509.Certificate,
    authority: x509.Certificate,
    hosts: list[str],
    addresses: list[Address],
    moment: datetime,
) -> bool:
    try:
        leaf.verify_directly_issued_by(authority)
    except Exception:  # not ours, or not readable as ours: another is made
        return False
    named = list(leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value)
    lasts = leaf.not_valid_before_utc <= moment and leaf.not_valid_after_utc - moment > RENEW_BEFORE
    return lasts and named == _alternatives(hosts, addresses)


def _read(folder: Path, name: str) -> Pair | None:
    """A certificate and its key; None where they are not there, cannot be read, or do not belong together."""
    try:
        certificate = x509.load_pem_x509_certificate((folder / f"{name}.crt").read_bytes())
        key = serialization.load_pem_private_key((folder / f"{name}.key").read_bytes(), None)
    except (FileNotFoundError, ValueError, TypeError):
        return None
    if not isinstance(key, ec.EllipticCurvePrivateKey) or key.public_key() != certificate.public_key():
        return None
    return certificate, key


def _write(folder: Path, name: str, certificate: x509.Certificate, key: ec.EllipticCurvePrivateKey) -> None:
    pem = serialization.Encoding.PEM
    form, unlocked = serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    _put(folder / f"{name}.key", key.private_bytes(pem, form, unlocked))
    _put(folder / f"{name}.crt", certificate.public_bytes(pem))


def _put(file: Path, content: bytes) -> None:
    """Whole or not at all, and readable by its owner only from the first byte on (mkstemp makes files so)."""
    handle, name = tempfile.mkstemp(dir=file.parent)
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(content)
        os.replace(name, file)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
