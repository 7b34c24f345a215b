import pytest

from pullproof.channels import CHANNELS
from pullproof.measures import MEASURES
from pullproof.report import wording


@pytest.mark.parametrize("measure", MEASURES)
def test_every_measure_has_words(measure) -> None:
    """A reader meets no identifier, and is told what a measure is unless its name says it all."""
    assert "_" not in wording.measure_name(measure)
    assert wording.measure_meaning(measure) or measure == "pull.time"


def test_names_of_unknown_measures_and_channels_are_spelt_out() -> None:
    """What a later version measures is still readable."""
    assert wording.measure_name("oil_pressure.lowest") == "lowest oil pressure"
    assert wording.channel_name("some_new_channel") == "some new channel"
    assert wording.check_name("boost_matched") == "Boost matched"


@pytest.mark.parametrize("channel", CHANNELS)
def test_every_channel_has_words(channel) -> None:
    """No channel is shown by its identifier."""
    assert "_" not in wording.channel_name(channel)


@pytest.mark.parametrize(
    "text",
    ["before-1.csv", "2026-10-03", "4000-6500 rpm".replace(" ", "\N{NO-BREAK SPACE}"), "run-2-a.csv", "a - b", "x-5"],
)
def test_hyphens_that_are_no_minus_stay(text) -> None:
    """Names of files, dates and ranges are shown as they are."""
    assert wording.typographic(text) == text


def test_negative_numbers_get_a_true_minus() -> None:
    """A sentence made elsewhere reads like the rest of the report, and a number keeps its unit beside it."""
    shown = wording.typographic("changed by -1.9 % (-2.8 to -1.0 %) at -3 degC and 2 m/s2")
    assert shown.replace("\N{NO-BREAK SPACE}", "_") == "changed by −1.9_% (−2.8 to −1.0_%) at −3_°C and 2 m/s²"


@pytest.mark.parametrize(
    ("parts", "text"), [([], ""), (["a"], "a"), (["a", "b"], "a and b"), (["a", "b", "c"], "a, b and c")]
)
def test_lists_in_a_sentence(parts, text) -> None:
    """Parts are joined as one says them."""
    assert wording.listed(parts) == text


def test_every_verdict_and_status_has_a_sign_and_a_word_of_its_own() -> None:
    """Nothing is told by colour alone, and no two verdicts look alike."""
    for table in (wording.VERDICT_WORDS, wording.CHECK_STATUS):
        for column in zip(*table.values(), strict=True):
            assert len(set(column)) == len(column)


def test_a_real_but_small_difference_is_called_that() -> None:
    """`lower` within the smallest difference worth having must not sound like a success."""
    small = wording.verdict_meaning("lower", (-0.4, -0.1), 0.5, "0.5 kPa")
    assert "smaller than is worth having" in small
    assert "worth having" not in wording.verdict_meaning("lower", (-0.9, -0.1), 0.5, "0.5 kPa")


def test_unclear_says_why() -> None:
    """Unclear by its interval and unclear by a failed check are different things to mend."""
    assert "holds zero" in wording.verdict_meaning("unclear", (-3.0, 1.0), 0.5, "0.5 kPa")
    assert "leaves out zero" in wording.verdict_meaning("unclear", (-3.0, -1.0), 0.5, "0.5 kPa")
