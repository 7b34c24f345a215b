import subprocess
import sys

import pytest

import pullproof

PROMISED = {
    "CHANNELS",
    "MEASURES",
    "CannotAnswer",
    "CannotRead",
    "Car",
    "Comparison",
    "ConditionsSheet",
    "Log",
    "Pull",
    "PullRecord",
    "PullproofError",
    "Trace",
    "WrongUse",
    "compare",
    "compare_records",
    "find_pulls",
    "load_car",
    "load_conditions",
    "plot",
    "read_log",
    "read_measure",
    "record_pull",
}


def test_exactly_these_names_are_public() -> None:
    """A name is added to or taken from the public face on purpose, never by accident."""
    assert set(pullproof.__all__) == set(dir(pullproof)) == PROMISED


@pytest.mark.parametrize("name", sorted(PROMISED))
def test_every_public_name_is_there_and_documented(name: str) -> None:
    """Each promised name resolves, and what can be called or made says what it is."""
    value = getattr(pullproof, name)
    if callable(value):
        assert value.__doc__


def test_an_unknown_name_is_an_attribute_error() -> None:
    """Late loading must not change what Python says of a slip."""
    with pytest.raises(AttributeError, match="has no attribute 'compair'"):
        pullproof.compair  # noqa: B018


def test_help_loads_no_numerical_library() -> None:
    """`pullproof --help` has to answer at once, so the face must not load what is not used."""
    code = (
        "import sys\nfrom pullproof.cli.main import main\n"
        "main.main(['--help'], standalone_mode=False)\n"
        "print([m for m in ('numpy', 'scipy', 'polars', 'matplotlib', 'rich') if m in sys.modules])"
    )
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert result.stdout.splitlines()[-1] == "[]"
