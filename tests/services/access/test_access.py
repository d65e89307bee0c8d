"""Keys of one use, browsers that are in, the passphrase, and the certificate for the home network.

Rules by OWASP ASVS 5.0.0, level 1, chapters 6 and 7 (owasp.org/www-project-application-security-
verification-standard), numbers beside each test.
"""

from __future__ import annotations

import json
import ssl
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509

from app.core.errors import DomainError
from app.services.access import devices, home_network, passphrase
from app.services.access.devices import Devices, new_entry, use_entry


def test_a_key_lets_one_browser_in_once(tmp_path: Path) -> None:
    key, other = new_entry(tmp_path), new_entry(tmp_path)
    # 7.2.3: at least 128 random bits.
    assert len(key) >= 43
    assert key != other
    assert not use_entry(tmp_path, "x" * 43)
    assert not use_entry(tmp_path, "../../form.key")
    assert use_entry(tmp_path, key)
    assert not use_entry(tmp_path, key)
    [left] = (tmp_path / "entries").iterdir()
    assert other not in left.name + left.read_text()
    assert left.stat().st_mode & 0o777 == 0o600
    assert (tmp_path / "entries").stat().st_mode & 0o777 == 0o700


def test_a_key_is_good_for_half_an_hour(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # 6.4.1: initial secrets expire.
    now = [1_800_000_000.0]
    monkeypatch.setattr(devices.time, "time", lambda: now[0])
    key = new_entry(tmp_path)
    now[0] += 30 * 60 + 1
    assert not use_entry(tmp_path, key)
    key = new_entry(tmp_path)
    # A clock that was far ahead when the key was made: it is not good for years.
    now[0] -= 365 * 24 * 3600
    assert not use_entry(tmp_path, key)
    stale = new_entry(tmp_path)
    now[0] += 3600
    new_entry(tmp_path)
    assert len(list((tmp_path / "entries").iterdir())) == 1
    assert not use_entry(tmp_path, stale)


def test_a_browser_is_known_by_its_cookie_alone(tmp_path: Path) -> None:
    known = Devices(tmp_path)
    secret, other = known.admit("Firefox", "test"), known.admit("Phone", "test")
    assert secret != other
    found = known.known(secret)
    assert found is not None
    assert (found.name, found.number) == ("Firefox", 1)
    for wrong in (None, "", secret[:-1], secret + "x", found.digest):
        assert known.known(wrong) is None
    # It is there after a restart, and only its digest was written down.
    again = Devices(tmp_path)
    assert again.known(secret) == found
    assert secret not in (tmp_path / "devices.json").read_text()
    assert (tmp_path / "devices.json").stat().st_mode & 0o777 == 0o600


def test_one_that_was_ended_is_out(tmp_path: Path) -> None:
    # 7.4.1: no further use once it was ended; 7.4.2.
    known = Devices(tmp_path)
    secret, other = known.admit("A", "test"), known.admit("B", "test")
    assert known.end({1, 99}) == 1
    assert known.known(secret) is None
    assert Devices(tmp_path).known(secret) is None
    assert known.known(other) is not None
    assert [one.number for one in known.all()] == [2]
    assert known.admit("C", "test")
    assert [one.number for one in known.all()] == [3, 2]


def aged(folder: Path, **age: float) -> None:
    """Let every browser have been seen so long ago."""
    file = folder / "devices.json"
    rows = json.loads(file.read_text())
    at = (datetime.now(UTC) - timedelta(**age)).isoformat()
    file.write_text(json.dumps([row | {"seen": at} for row in rows]))


def test_one_not_seen_for_long_comes_in_anew(tmp_path: Path) -> None:
    secret = Devices(tmp_path).admit("A", "test")
    aged(tmp_path, days=89)
    known = Devices(tmp_path)
    assert known.known(secret) is not None
    assert datetime.now(UTC) - known.all()[0].seen_at < timedelta(minutes=1)
    assert Devices(tmp_path).all() == known.all()
    aged(tmp_path, days=91)
    known = Devices(tmp_path)
    assert known.known(secret) is None
    known.admit("B", "test")
    assert [one.name for one in known.all()] == ["B"]


def test_a_damaged_list_lets_nobody_in(tmp_path: Path) -> None:
    secret = Devices(tmp_path).admit("A", "test")
    for text in ("{", "[1]", '[{"digest": "x"}]', "null"):
        (tmp_path / "devices.json").write_text(text)
        assert Devices(tmp_path).known(secret) is None


def test_there_are_never_too_many(tmp_path: Path) -> None:
    known = Devices(tmp_path)
    for number in range(devices.MOST_DEVICES + 5):
        known.admit(f"B{number}", "test")
    assert len(known.all()) == devices.MOST_DEVICES


@pytest.mark.parametrize(
    ("new", "says"),
    [
        ("short77", "At least 8"),  # 6.2.1
        ("x" * 201, "At most 200"),
        ("password1", "tried first"),  # 6.2.4
        ("PassWord1", "tried first"),
        ("12345678", "tried first"),
        (" " * 8, "At least 8"),
    ],
)
def test_a_passphrase_that_is_easily_guessed_is_refused(
    tmp_path: Path, new: str, says: str
) -> None:
    with pytest.raises(DomainError, match=says):
        passphrase.choose(tmp_path, new, new)
    assert not passphrase.has_passphrase(tmp_path)


@pytest.mark.parametrize(
    "new", ["aaaaaaab", "nur kleine worte", "Ünïcödé ☂ ok", " with spaces ", "x" * 200]
)
def test_any_composition_is_taken_and_compared_exactly(tmp_path: Path, new: str) -> None:
    # 6.2.5 no rules of composition; 6.2.8 exactly as typed.
    passphrase.choose(tmp_path, new, new)
    assert passphrase.fits(tmp_path, new)
    for other in (new.upper(), new.strip() + "x", new[:-1], new + " ", ""):
        assert other == new or not passphrase.fits(tmp_path, other)


def test_it_is_kept_as_argon2_and_can_be_changed(tmp_path: Path) -> None:
    # 11.4.1, 6.2.2.
    assert not passphrase.fits(tmp_path, "")
    with pytest.raises(DomainError, match="not what stands above"):
        passphrase.choose(tmp_path, "gulls over mud", "gulls over mudd")
    passphrase.choose(tmp_path, "gulls over mud", "gulls over mud")
    kept = (tmp_path / "passphrase").read_text()
    assert kept.startswith("$argon2id$")
    assert "gulls" not in kept
    assert (tmp_path / "passphrase").stat().st_mode & 0o777 == 0o600
    passphrase.choose(tmp_path, "reeds in wind", "reeds in wind")
    assert not passphrase.fits(tmp_path, "gulls over mud")
    (tmp_path / "passphrase").write_text("damaged")
    assert not passphrase.fits(tmp_path, "reeds in wind")


def test_tries_are_limited(monkeypatch: pytest.MonkeyPatch) -> None:
    # 6.3.1.
    now = [0.0]
    monkeypatch.setattr(passphrase.time, "monotonic", lambda: now[0])
    tries = passphrase.Tries()
    for _ in range(5):
        assert tries.begin("phone") == 0
        now[0] += 10
    assert tries.begin("phone") == 15 * 60 - 50 + 1
    assert tries.begin("other") == 0
    now[0] += 15 * 60 - 50 + 1
    assert tries.begin("phone") == 0
    for _ in range(3):
        tries.begin("phone")
    tries.was_right("phone")
    assert tries.begin("phone") == 0
    waits = [tries.begin(f"phone {number}") for number in range(31)]
    assert waits[0] == 0
    assert waits[-1] > 0


def test_many_tries_at_one_moment_are_no_way_round() -> None:
    tries = passphrase.Tries()
    with ThreadPoolExecutor(20) as pool:
        waits = list(pool.map(lambda _: tries.begin("phone"), range(40)))
    assert waits.count(0) == 5


def test_the_certificate_is_for_these_addresses(tmp_path: Path) -> None:
    made = home_network.certificate(tmp_path, ["192.168.7.3"])
    again = home_network.certificate(tmp_path, ["192.168.7.3"])
    assert made == again
    found = x509.load_pem_x509_certificate(made.chain.read_bytes())
    names = found.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert {str(one) for one in names.get_values_for_type(x509.IPAddress)} == {
        "192.168.7.3",
        "127.0.0.1",
    }
    assert len(made.fingerprint) == 32 * 3 - 1
    assert made.key.stat().st_mode & 0o777 == 0o600
    # Another address, a lost key or a damaged file make another.
    moved = home_network.certificate(tmp_path, ["10.0.0.9"])
    assert moved.fingerprint != made.fingerprint
    made.key.unlink()
    assert home_network.certificate(tmp_path, ["10.0.0.9"]).fingerprint != moved.fingerprint
    made.chain.write_text("damaged")
    last = home_network.certificate(tmp_path, ["10.0.0.9"])
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(last.chain, last.key)


def test_a_certificate_that_ends_soon_is_made_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(home_network, "DAYS_GOOD", 10)
    soon = home_network.certificate(tmp_path, ["10.0.0.9"])
    assert home_network.certificate(tmp_path, ["10.0.0.9"]).fingerprint != soon.fingerprint


def test_this_computer_has_an_address() -> None:
    for one in home_network.own_addresses():
        assert one.count(".") == 3
