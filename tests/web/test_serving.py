"""`pullproof open` as a command: its first line, its ports, its key."""

import re
import socket
import stat
import subprocess
import sys

import pytest

from pullproof.errors import WrongUse
from pullproof.web.security import is_loopback
from pullproof.web.serving import kept_key, listen


def test_key_is_kept_for_the_owner_alone(tmp_path):
    """A bookmark works after a restart, and nobody else on the machine can read the key."""
    file = tmp_path / "browser-key"
    key = kept_key(file)
    assert len(key) >= 32
    assert kept_key(file) == key
    assert stat.S_IMODE(file.stat().st_mode) == 0o600


def test_damaged_key_is_made_anew(tmp_path):
    """An empty or garbled file does not lock anybody out, nor let anybody in."""
    file = tmp_path / "browser-key"
    file.write_bytes(b"\xff\xfe")
    assert len(kept_key(file)) >= 32


def test_port_that_is_taken_is_named_with_what_to_do(tmp_path):
    """A port that was asked for and is in use is a sentence, not a traceback."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        with pytest.raises(WrongUse, match="--port"):
            listen("127.0.0.1", other.getsockname()[1])


@pytest.mark.parametrize(
    ("host", "loopback"), [("127.0.0.1", True), ("::1", True), ("localhost", True), ("0.0.0.0", False), ("shop", False)]
)
def test_only_addresses_of_this_machine_count_as_loopback(host, loopback):
    """Everything that others may reach demands accounts."""
    assert is_loopback(host) is loopback


def test_beyond_the_loopback_the_first_line_leads_to_the_first_account(tmp_path):
    """Open to others, the printed address makes the first account, and no key lets anybody in without one."""
    run = [sys.executable, "-m", "pullproof", "open", "--library", str(tmp_path / "shop"), "--host", "0.0.0.0"]
    process = subprocess.Popen([*run, "--no-browser"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    try:
        first = process.stdout.readline()
    finally:
        process.terminate()
        process.communicate(timeout=20)
    assert re.fullmatch(r"http://\S+:\d+/first-account\?key=\S{20,}\n", first)
    assert not (tmp_path / "shop" / "browser-key").exists()
