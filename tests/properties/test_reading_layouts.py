"""Any table of numbers, written down in any usual layout, is read back as it was."""

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pullproof.reading import read_log

NUMBERS = st.one_of(
    st.integers(-9999, 9999).map(float),
    st.floats(-9999, 9999).map(lambda value: round(value, 3)),
    st.just(0.0),
    st.none(),
)
LAYOUTS = st.sampled_from(
    [(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ","), ("|", "."), ("|", ",")],
)


@st.composite
def tables(draw):
    """Columns of numbers and blanks on a rising time, and how they are written."""
    rows, columns = draw(st.integers(8, 40)), draw(st.integers(2, 6))
    values = [[draw(NUMBERS) for _ in range(columns)] for _ in range(rows)]
    step = draw(st.sampled_from([0.01, 0.05, 0.1, 1.0]))
    return values, step, draw(LAYOUTS), draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "latin-1"]))


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    tables(),
    st.sampled_from(["none", "names", "all"]),
    st.sampled_from(["\n", "\r\n"]),
    st.booleans(),
    st.sampled_from(["", "Logger: x 1.2\n\n"]),
)
def test_there_and_back(tmp_path, table, quotes, end, trailing, preamble):
    """Every number comes back at its time, and no blank becomes a number."""
    values, step, (delimiter, decimal), encoding = table
    headers = ["Time (s)", *(f"Auxiliary {letter}" for letter in "uvwxyz"[: len(values[0])])]
    lines = [headers]
    for number, row in enumerate(values):
        cells = [f"{number * step:.2f}", *("" if value is None else f"{value:g}" for value in row)]
        lines.append([cell.replace(".", decimal) for cell in cells])
    text = preamble
    for number, cells in enumerate(lines):
        mark = '"' if quotes == "all" or (quotes == "names" and not number) else ""
        text += delimiter.join(f"{mark}{cell}{mark}" for cell in cells) + (delimiter if trailing else "") + end
    path = tmp_path / "log.csv"
    path.write_bytes(text.encode(encoding))
    log = read_log(path)
    assert log.rows == len(values)
    assert log.delimiter == delimiter
    truth = np.array([[np.nan if value is None else float(f"{value:g}") for value in row] for row in values])
    for header, expected in zip(headers[1:], truth.T, strict=True):
        if np.isnan(expected).all():
            assert header not in log.traces
            continue
        trace, known = log.traces[header], ~np.isnan(expected)
        # A column that is mostly blank holds its samples alone.
        asked = ~np.isnan(trace.values)
        np.testing.assert_array_equal(trace.values[asked], expected[known])
        np.testing.assert_allclose(trace.time[asked], (np.arange(len(values)) * step)[known], atol=1e-9)
        assert trace.values.size in (len(values), np.count_nonzero(known))
