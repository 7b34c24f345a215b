import copy
import json

import jsonschema
import numpy as np
import pytest
from jsonschema import Draft202012Validator

from pullproof.errors import WrongUse
from pullproof.pulls import Pull
from pullproof.reading.log import Column, Log
from pullproof.report.documents import SCHEMAS, comparison_document, pulls_document, read_document, schema

# The keys as the contract prints them.
PULL = {"log", "start_s", "end_s", "gear", "rpm_start", "rpm_end", "used", "reason"}
COMPARISON = {
    "schema", "window_rpm", "main", "sentence", "before", "after", "measures", "curves", "checks", "left_out",
    "cautions",
}  # fmt: skip
MEASURE = {
    "id", "unit", "before", "after", "raw_difference", "adjustment", "difference", "interval", "level",
    "smallest_worth_having", "verdict", "pulls_before", "pulls_after", "days_before", "days_after", "censored",
}  # fmt: skip
CURVE = {"channel", "unit", "rpm", "before", "after", "difference", "lower", "upper"}
COLUMN = {"header", "channel", "unit", "confidence", "rate_hz", "doubt"}
LOG = {"file", "rows", "duration_s", "encoding", "delimiter", "decimal", "columns", "notes"}

LOGS = (
    Log(
        "before-1.csv", 812, 40.6, "utf-8", ",", ".",
        (
            Column("RPM", "engine_speed", "rpm", 0.99, 20.0),
            Column("spare", None, None, 0.0, None, doubt="not recognised"),
        ),
        {},
        notes=("the header is repeated in line 402",),
    ),
)  # fmt: skip

PULLS = (
    Pull("a.csv", 1.0, 9.0, 3, 2500.0, 6500.0, used=True),
    Pull("a.csv", 21.0, 22.0, None, 2500.0, 3500.0, used=False, reason="too short"),
)


def valid(document, name) -> None:
    text = json.dumps(document, allow_nan=False)
    Draft202012Validator(schema(name)).validate(json.loads(text))


@pytest.mark.parametrize("name", SCHEMAS)
def test_schemas_are_schemas(name) -> None:
    """What is shipped is a JSON schema of the 2020-12 draft, and names the version it describes."""
    Draft202012Validator.check_schema(schema(name))
    assert schema(name)["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema(name)["properties"]["schema"] == {"const": f"pullproof.{name}/1"}


def test_an_unknown_schema_is_named() -> None:
    """A slip in the name says which schemas there are."""
    with pytest.raises(WrongUse, match="comparison, power, pulls, read"):
        schema("comparision")


def test_a_comparison_validates(comparison) -> None:
    """Every kind of comparison, without answer or pinned ones included, gives JSON that its schema accepts."""
    valid(comparison_document(comparison), "comparison")


def test_pulls_and_files_validate() -> None:
    """Pulls used and refused, columns recognised and not, give JSON that its schema accepts."""
    valid(pulls_document([("a.csv", PULLS), ("b.csv", ())]), "pulls")
    valid(read_document(LOGS), "read")
    valid(pulls_document([]), "pulls")


def test_power_of_the_contract_validates() -> None:
    """The example of the contract, filled in, is what the schema of `power` describes."""
    pull = {
        "log": "a.csv", "start_s": 1.0, "gear": 3, "rpm": [3000, 3100], "wheel_power_kw": [80.0, None],
        "lower_kw": [75.0, None], "upper_kw": [85.0, None], "corrected_kw": None, "correction": None,
    }  # fmt: skip
    valid({"schema": "pullproof.power/1", "standard": "none", "pulls": [pull]}, "power")
    valid(
        {
            "schema": "pullproof.power/1",
            "standard": "sae-j1349",
            "pulls": [pull | {"corrected_kw": [81.6, None], "correction": 1.02}],
        },
        "power",
    )


def test_keys_are_the_contracts_to_the_letter(realistic_comparison) -> None:
    """Scripts of others rely on exactly these names."""
    document = comparison_document(realistic_comparison)
    assert set(document) == COMPARISON
    assert set(document["before"]) == set(document["after"]) == {"pulls"}
    assert all(set(pull) == PULL for side in ("before", "after") for pull in document[side]["pulls"])
    assert all(set(measure) == MEASURE for measure in document["measures"])
    assert all(set(curve) == CURVE for curve in document["curves"])
    assert all(set(check) == {"id", "status", "detail", "could_explain"} for check in document["checks"])
    assert all(set(left) == {"measure", "reason"} for left in document["left_out"])
    read = read_document(LOGS)["logs"][0]
    assert set(read) == LOG
    assert all(set(column) == COLUMN for column in read["columns"])


def test_nothing_is_rounded(realistic_comparison) -> None:
    """A script gets the numbers as they were computed, and the sum that the contract states holds."""
    for measure, written in zip(
        realistic_comparison.measures, comparison_document(realistic_comparison)["measures"], strict=True
    ):
        assert written["interval"] == list(measure.interval)
        assert written["difference"] == pytest.approx(written["raw_difference"] + written["adjustment"], rel=1e-15)


def test_what_is_not_known_is_null(realistic_comparison) -> None:
    """NaN and infinity, which are not JSON, become null; numpy's numbers become plain ones."""
    curve = realistic_comparison.curves[0]
    curve.before[3] = np.nan
    curve.upper[4] = np.inf
    document = comparison_document(realistic_comparison)
    assert document["curves"][0]["before"][3] is None
    assert document["curves"][0]["upper"][4] is None
    assert json.loads(json.dumps(document, allow_nan=False)) == document


def paths(part, here=()):
    """The place of every value below `part`."""
    items = part.items() if isinstance(part, dict) else enumerate(part) if isinstance(part, list) else ()
    for key, value in items:
        yield (*here, key)
        yield from paths(value, (*here, key))


def holder(document, path):
    for key in path[:-1]:
        document = document[key]
    return document


def refused(document, name) -> bool:
    try:
        Draft202012Validator(schema(name)).validate(document)
    except jsonschema.ValidationError:
        return True
    return False


def small(comparison):
    """The comparison's document with one entry of each list: mutations of the others would show nothing new."""
    document = comparison_document(comparison)
    for key in ("measures", "curves", "checks", "left_out"):
        document[key] = document[key][:1]
    for key in CURVE - {"channel", "unit"}:
        document["curves"][0][key] = document["curves"][0][key][:2]
    return document


def documents(comparison):
    yield "comparison", small(comparison)
    yield "pulls", pulls_document([("a.csv", PULLS)])
    yield "read", read_document(LOGS)


def test_a_document_that_lacks_a_key_is_refused(realistic_comparison) -> None:
    """The schema misses every key that is taken away, anywhere in the document."""
    for name, document in documents(realistic_comparison):
        for path in paths(document):
            if isinstance(path[-1], int) or "could_explain" in path[:-1]:
                continue
            broken = copy.deepcopy(document)
            del holder(broken, path)[path[-1]]
            assert refused(broken, name), path


def test_a_document_with_a_value_of_the_wrong_kind_is_refused(realistic_comparison) -> None:
    """A list of lists in place of any value is noticed, anywhere in the document."""
    for name, document in documents(realistic_comparison):
        for path in paths(document):
            broken = copy.deepcopy(document)
            holder(broken, path)[path[-1]] = [[]]
            assert refused(broken, name), path


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("schema", "pullproof.comparison/2"),
        ("sentence", ""),
        ("window_rpm", [4000.0]),
        ("extra", 1),
    ],
)
def test_other_slips_in_a_comparison_are_refused(realistic_comparison, key, value) -> None:
    """Another version, an empty sentence, half a window and a key that nobody promised do not pass."""
    assert refused(comparison_document(realistic_comparison) | {key: value}, "comparison")


@pytest.mark.parametrize(
    ("key", "value"), [("verdict", "better"), ("level", 95), ("id", "boost"), ("pulls_after", 2.5)]
)
def test_other_slips_in_a_measure_are_refused(realistic_comparison, key, value) -> None:
    """Words, levels, names and counts that the contract does not know do not pass."""
    document = comparison_document(realistic_comparison)
    document["measures"][0][key] = value
    assert refused(document, "comparison")


def test_a_refused_pull_gives_its_reason() -> None:
    """`used: false` without a reason is not a document of ours."""
    document = pulls_document([("a.csv", PULLS)])
    document["logs"][0]["pulls"][1]["reason"] = None
    assert refused(document, "pulls")
