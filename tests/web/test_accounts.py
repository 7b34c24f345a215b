"""Beyond the loopback: accounts, sessions, and what is held against guessing."""

import sqlite3

import pytest
from argon2 import PasswordHasher
from tests.web.conftest import ORIGIN, PORT

from pullproof.errors import WrongUse
from pullproof.web.accounts import ATTEMPTS_S, IDLE_S, LONGEST_S, PER_PAIR, PER_PLACE, Accounts, TooManyAttempts
from pullproof.web.security import csrf_token

PASSWORD = "a few plain words"


class Clock:
    def __init__(self):
        self.now = 1_000_000.0

    def __call__(self):
        return self.now


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def accounts(tmp_path, clock):
    quick = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1)
    return Accounts(tmp_path / "accounts.sqlite", clock, quick)


@pytest.fixture
def guest(stranger, accounts):
    client = stranger(accounts=accounts, names=frozenset({"shop", "127.0.0.1"}))
    client.headers["origin"] = ORIGIN
    return client


def test_only_the_argon2_hash_of_a_password_is_kept(accounts, tmp_path):
    """Whoever reads the file finds neither passwords nor secrets of sessions."""
    accounts.add("kim", PASSWORD)
    secret = accounts.sign_in("kim", PASSWORD, "here")
    with sqlite3.connect(tmp_path / "accounts.sqlite") as database:
        kept = database.execute("SELECT password FROM people").fetchone()[0]
    database.close()
    assert kept.startswith("$argon2id$")
    everything = (tmp_path / "accounts.sqlite").read_bytes()
    assert PASSWORD.encode() not in everything
    assert secret.encode() not in everything


def test_session_belongs_to_who_signed_in(accounts):
    """The secret of a session names its person until they sign out."""
    accounts.add("kim", PASSWORD)
    secret = accounts.sign_in("Kim ", PASSWORD, "here")
    assert accounts.who(secret).name == "kim"
    assert accounts.who("guessed") is None
    accounts.sign_out(secret)
    assert accounts.who(secret) is None


@pytest.mark.parametrize(("name", "password"), [("kim", "wrong"), ("nobody", PASSWORD), ("", ""), ("kim", "")])
def test_wrong_name_or_password_gives_no_session(accounts, name, password):
    """Both must be right."""
    accounts.add("kim", PASSWORD)
    assert accounts.sign_in(name, password, "here") is None


@pytest.mark.parametrize("password", ["", "short", "x" * 201])
def test_weak_password_is_refused_with_advice(accounts, password):
    """A password that is guessed in no time, or that makes hashing dear, makes no account."""
    with pytest.raises(WrongUse, match="10 to 200"):
        accounts.add("kim", password)


def test_name_is_taken_once(accounts):
    """Two people cannot have one name, in whatever case it is written."""
    accounts.add("kim", PASSWORD)
    with pytest.raises(WrongUse, match="already"):
        accounts.add("KIM", PASSWORD)


def test_session_ends_by_itself(accounts, clock):
    """A session ends after two weeks without a request, and after three months in any case."""
    accounts.add("kim", PASSWORD)
    secret = accounts.sign_in("kim", PASSWORD, "here")
    clock.now += IDLE_S + 1
    assert accounts.who(secret) is None
    secret = accounts.sign_in("kim", PASSWORD, "here")
    begun = clock.now
    while clock.now < begun + LONGEST_S - IDLE_S / 2:
        clock.now += IDLE_S / 2
        assert accounts.who(secret) is not None
    clock.now = begun + LONGEST_S + 1
    assert accounts.who(secret) is None


def test_guessing_is_held_off_and_forgiven_in_time(accounts, clock):
    """After some failures from one place even the right password waits."""
    accounts.add("kim", PASSWORD)
    for _ in range(PER_PAIR):
        assert accounts.sign_in("kim", "wrong password", "there") is None
    with pytest.raises(TooManyAttempts):
        accounts.sign_in("kim", PASSWORD, "there")
    assert accounts.sign_in("kim", PASSWORD, "elsewhere")
    clock.now += ATTEMPTS_S + 1
    assert accounts.sign_in("kim", PASSWORD, "there")


def test_one_place_cannot_try_many_names(accounts):
    """Failures of one place count together, whatever names it tries."""
    for number in range(PER_PLACE):
        assert accounts.sign_in(f"name {number}", "wrong password", "there") is None
    with pytest.raises(TooManyAttempts):
        accounts.sign_in("another", "wrong password", "there")


def test_account_that_is_taken_away_ends_its_sessions(accounts):
    """Who lost the account is signed out everywhere."""
    person = accounts.add("kim", PASSWORD)
    secret = accounts.sign_in("kim", PASSWORD, "here")
    accounts.remove(person.id)
    assert accounts.who(secret) is None


def test_stranger_is_led_to_sign_in(guest):
    """Without a session every page leads to the sign-in page, and nothing is changed."""
    assert guest.get("/").headers["location"] == "/sign-in"
    assert guest.post("/demo", data={}).headers["location"] == "/sign-in"
    assert guest.get("/sign-in").status_code == 200


def test_first_account_takes_the_key_of_the_terminal(guest, accounts):
    """Only who holds the printed key makes the first account, and only while there is none."""
    fields = {"name": "kim", "password": PASSWORD}
    assert guest.post("/first-account", data={**fields, "key": "guessed"}).status_code == 400
    made = guest.post("/first-account", data={**fields, "key": accounts.first_key})
    assert made.headers["location"] == "/"
    cookie = made.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert guest.get("/").status_code == 200
    again = guest.post("/first-account", data={**fields, "name": "lee", "key": accounts.first_key})
    assert again.status_code == 400


def test_person_signs_in_makes_an_account_and_signs_out(guest, accounts):
    """The whole way of somebody who has an account."""
    accounts.add("kim", PASSWORD)
    assert guest.post("/sign-in", data={"name": "kim", "password": "not this one"}).status_code == 401
    assert guest.post("/sign-in", data={"name": "kim", "password": PASSWORD}).status_code == 303
    secret = guest.cookies[f"pullproof-{PORT}"]
    assert guest.post("/accounts", data={"name": "lee", "password": PASSWORD}).status_code == 403
    fields = {"name": "lee", "password": PASSWORD, "csrf": csrf_token(secret)}
    assert guest.post("/accounts", data=fields).status_code == 303
    assert [person.name for person in accounts.people()] == ["kim", "lee"]
    assert "lee" in guest.get("/accounts").text
    assert guest.post("/sign-out", data={"csrf": csrf_token(secret)}).status_code == 303
    assert guest.get("/").headers["location"] == "/sign-in"


@pytest.mark.parametrize(("host", "status"), [("shop", 200), ("192.168.1.4:8517", 200), ("elsewhere.example", 421)])
def test_names_that_are_ours_are_answered(guest, host, status):
    """The machine's own names and bare numbers are answered; another name could be pointed here by anybody."""
    assert guest.get("/sign-in", headers={"host": host}).status_code == status


def test_on_the_loopback_there_are_no_accounts(client):
    """Where only this machine can reach us, nobody signs in."""
    assert client.get("/sign-in").status_code == 404
