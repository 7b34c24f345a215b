import pytest

from pullproof.errors import CannotAnswer, CannotRead, PullproofError, WrongUse


@pytest.mark.parametrize(("kind", "status"), [(CannotAnswer, 1), (WrongUse, 2), (CannotRead, 3)])
def test_exit_status_is_the_contracts(kind: type[PullproofError], status: int) -> None:
    """Each branch of the tree carries the exit status that the contract promises."""
    assert kind("x").exit_status == status


def test_sentence_names_place_and_advice() -> None:
    """The sentence gives the place first, then what is wrong, then what to do."""
    error = CannotRead("the file is empty", where="a.csv", advice="Log again.")
    assert str(error) == "a.csv: the file is empty. Log again."


def test_sentence_without_place_or_advice_is_still_a_sentence() -> None:
    """No stray colon or blank where fields are missing."""
    assert str(WrongUse("the window is empty")) == "the window is empty."


@pytest.mark.parametrize("name", ["two\nlines.csv", "carriage\rreturn.csv", "separator\u2028.csv", "tab\there.csv"])
def test_a_file_name_does_not_break_the_sentence(name: str) -> None:
    """Whatever a file is called, its error is one line, and other letters stay as they are."""
    sentence = str(CannotRead("the log cannot be opened", where=f"blå-{name}", advice="Check the path."))
    assert len(sentence.splitlines()) == 1
    assert "\t" not in sentence
    assert sentence.startswith("blå-")
