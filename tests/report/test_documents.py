import copy
import json

import jsonschema
import numpy as np
import pytest
from jsonschema import Draft202012Validator
from tests.report.other_reports import CAR, NEW, OLD, changed, flow, operating, path_of, power_curves
from tests.report.predictions import predicted

from pullproof.analysis.airpath import analyse_path, cut_list
from pullproof.analysis.coastdown import coast_down
from pullproof.analysis.mean_power import mean_power
from pullproof.channels import Trace
from pullproof.errors import WrongUse
from pullproof.pulls import Pull
from pullproof.reading.log import Column, Log
from pullproof.report.coastdown_document import coastdown_document
from pullproof.report.documents import (
    SCHEMAS,
    comparison_document,
    power_document,
    pulls_document,
    read_document,
    schema,
)
from pullproof.report.path_documents import airpath_document

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
    with pytest.raises(WrongUse, match="Schemas: airpath, coastdown, comparison, "):
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


@pytest.mark.parametrize("standard", ["none", "sae-j1349"])
def test_power_of_real_curves_validates(standard) -> None:
    """Curves with and without a standard's factor give JSON that its schema accepts, every list of one length."""
    document = power_document(power_curves(standard), standard)
    valid(document, "power")
    for pull in document["pulls"]:
        lengths = {len(pull[key]) for key in ("rpm", "wheel_power_kw", "lower_kw", "upper_kw")}
        assert len(lengths) == 1
        if standard == "none":
            assert pull["corrected_kw"] is None
            assert pull["correction"] is None
        else:
            factor = np.array(pull["corrected_kw"]) / np.array(pull["wheel_power_kw"])
            np.testing.assert_allclose(factor, pull["correction"])


def path_document(folder, *, two=True):
    """Old path in place of new, or the old one alone."""
    if two:
        found = changed(folder)
        return airpath_document((found.before, found.after), found, cut_list(path_of(folder, NEW)))
    path = path_of(folder, OLD)
    return airpath_document((analyse_path(path, flow()),), None, cut_list(path))


@pytest.mark.parametrize("two", [True, False])
def test_a_path_validates(tmp_path, two) -> None:
    """One path, and a change of path, give JSON that its schema accepts; the cut list and the cautions are in it."""
    document = path_document(tmp_path, two=two)
    valid(document, "airpath")
    assert len(document["paths"]) == 1 + two
    assert (document["change"] is not None) == two
    assert document["cut_list"]["pieces"]
    assert document["cautions"]


def coast_document():
    """A car that slows down by 0.12 + 0.0004 v2 m/s2 on its way out, and one run that is refused: 20 s in gear."""
    time = np.arange(0.0, 70.0, 0.1)
    root = np.sqrt(0.12 / 0.0004)
    speed = root * np.tan(np.arctan(33.0 / root) - np.sqrt(0.12 * 0.0004) * time)
    trace = Trace("vehicle_speed", "km/h", time, np.maximum(3.6 * speed, 0.0))
    log = Log("out.csv", time.size, 70.0, "utf-8", ",", ".", (), {"vehicle_speed": trace})
    return coastdown_document(coast_down([log], CAR))


def test_a_coast_down_validates() -> None:
    """A coast-down in one direction, where wind and slope are not known, gives JSON that its schema accepts."""
    document = coast_document()
    valid(document, "coastdown")
    assert document["wind_m_s"] is None
    assert document["cautions"]


def test_a_comparison_with_a_prediction_keeps_every_key_of_the_contract(realistic_comparison, tmp_path) -> None:
    """The prediction is one more key; all the others stay as they are without it."""
    plain = comparison_document(realistic_comparison)
    document = comparison_document(realistic_comparison, predicted(tmp_path))
    valid(document, "comparison")
    assert {key: document[key] for key in plain} == plain
    assert set(document) - set(plain) == {"prediction"}
    one = document["prediction"]["measures"][0]
    assert one["difference"] == pytest.approx(one["measured"] - one["predicted"])


def test_an_operating_line_is_in_the_json(realistic_comparison) -> None:
    """Both sides' lines with their intervals, in the map's own reference; what the map does not tell has its reason."""
    document = comparison_document(realistic_comparison, operating=(("before", operating()), ("after", operating())))
    valid(document, "comparison")
    line = document["operating_lines"]["after"]
    assert len(line["rpm"]) == len(line["pressure_ratio"]["value"]) == len(line["places"])
    assert line["reference_pressure_kpa"] == pytest.approx(100.0)
    for name in ("corrected_flow_gs", "pressure_ratio", "efficiency", "surge_margin"):
        part = line[name]
        assert (part["value"] is None) is (part["reason"] is not None), name


def test_power_has_its_mean_and_peaks(tmp_path) -> None:
    """Mean, peak power and peak torque with intervals; torque is power over engine speed."""
    curves = power_curves("none")
    mean = mean_power(curves)
    document = power_document(curves, "none", mean, operating())
    valid(document, "power")
    peak = document["mean"]["peak_torque_nm"]
    at = document["mean"]["rpm"].index(peak["rpm"])
    assert peak["value"] == pytest.approx(document["mean"]["wheel_power_kw"][at] * 1e3 / (peak["rpm"] * np.pi / 30.0))
    assert peak["interval"][0] < peak["value"] < peak["interval"][1]
    plain = power_document(curves, "none")
    assert {key: document[key] for key in plain} == plain


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


def shortened(part):
    """The same with two entries of every list at most, the keys of the document with them."""
    if isinstance(part, dict):
        return {key: shortened(value) for key, value in part.items()}
    return [shortened(value) for value in part[:2]] if isinstance(part, list) else part


def documents(comparison, folder):
    yield "comparison", small(comparison)
    with_prediction = small(comparison)
    part = comparison_document(comparison, predicted(folder))["prediction"]
    yield "comparison", {**{key: with_prediction[key] for key in COMPARISON}, "prediction": shortened(part)}
    yield "airpath", shortened(path_document(folder))
    yield "coastdown", shortened(coast_document())
    yield "pulls", pulls_document([("a.csv", PULLS)])
    yield "read", read_document(LOGS)


def test_a_document_that_lacks_a_key_is_refused(realistic_comparison, tmp_path) -> None:
    """The schema misses every key that is taken away, anywhere in the document."""
    for name, document in documents(realistic_comparison, tmp_path):
        for path in paths(document):
            if isinstance(path[-1], int) or "could_explain" in path[:-1] or path == ("prediction",):
                continue
            broken = copy.deepcopy(document)
            del holder(broken, path)[path[-1]]
            assert refused(broken, name), path


def test_a_document_with_a_value_of_the_wrong_kind_is_refused(realistic_comparison, tmp_path) -> None:
    """A list of lists in place of any value is noticed, anywhere in the document."""
    for name, document in documents(realistic_comparison, tmp_path):
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
