"""NIST/ITL Statistical Reference Datasets, certified values, read from the files that scipy's own tests ship."""

from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
import scipy
import statsmodels.datasets
from scipy.optimize import minimize_scalar
from scipy.stats import t as student

from pullproof.stats.mixed_model import Design, fit, log_marginal_likelihood
from pullproof.stats.scatter import EvenLogScatter, KnownScatter

FILES = Path(scipy.__file__).parent / "stats" / "tests" / "data"
pytestmark = pytest.mark.skipif(not FILES.exists(), reason="this build of scipy ships without its test data")


def flat(columns, group=None):
    n, p = columns.shape
    return Design(columns, np.zeros(n, dtype=np.intp) if group is None else group, np.zeros(p), np.full(p, np.inf))


def residual_deviation(values, design):
    """Where the marginal likelihood of the scatter within groups peaks, no scatter between them."""
    start = np.log(np.std(values))
    found = minimize_scalar(
        lambda log_s: -log_marginal_likelihood(values, design, 0.0, np.exp(log_s))[0],
        bounds=(start - 8, start + 1),
        method="bounded",
        options={"xatol": 1e-10},
    )
    return np.exp(found.x)


def anova(name, level="0"):
    """Responses less `level`, treatment of each, certified F and residual standard deviation."""
    lines = (FILES / "nist_anova" / f"{name}.dat").read_text().splitlines()
    between = next(line for line in lines if line.startswith("Between"))
    deviation = next(line for line in lines if "Standard Deviation" in line)
    pairs = [line.split() for line in lines[60:] if line.strip()]
    # The leading digits are taken off in decimal arithmetic: they do not fit into double precision in the harder sets.
    values = np.array([float(Decimal(value) - Decimal(level)) for _, value in pairs])
    treatment = np.array([int(number) for number, _ in pairs])
    return values, treatment, float(between.split()[-1]), float(deviation.split()[-1])


@pytest.mark.parametrize(
    ("name", "level", "digits"),
    [
        ("SiRstv", "0", 1e-9),
        ("AtmWtAg", "0", 1e-6),  # seven constant leading digits: general-purpose libraries keep nine of F
        ("SmLs01", "0", 1e-9),
        ("SmLs02", "0", 1e-9),
        ("SmLs04", "0", 1e-6),
        ("SmLs09", "1000000000000", 1e-9),
    ],
)
def test_one_way_analysis_of_variance(name, level, digits):
    """Treatment means and residual scatter give the certified F and the certified residual standard deviation."""
    values, treatment, certified_f, certified_deviation = anova(name, level)
    numbers, counts = np.unique(treatment, return_counts=True)
    design = flat((treatment[:, None] == numbers).astype(float))
    deviation = residual_deviation(values, design)
    means = fit(values, design, KnownScatter(0.0), KnownScatter(deviation)).coefficient_means()[:, 0]
    between = np.sum(counts * (means - np.average(means, weights=counts)) ** 2) / (len(numbers) - 1)
    # A peak is found to about the square root of machine precision.
    assert deviation == pytest.approx(certified_deviation, rel=max(digits, 1e-7))
    assert between / certified_deviation**2 == pytest.approx(certified_f, rel=digits)


def norris():
    lines = (FILES / "nist_linregress" / "Norris.dat").read_text().splitlines()
    y, x = np.array([[float(cell) for cell in line.split()] for line in lines[60:] if line.strip()]).T
    return y, flat(np.column_stack([np.ones_like(x), x]))


def test_norris_regression():
    """Coefficients, their standard deviations and the residual standard deviation are the certified ones."""
    y, design = norris()
    assert residual_deviation(y, design) == pytest.approx(0.884796396144373, rel=1e-7)
    posterior = fit(y, design, KnownScatter(0.0), KnownScatter(0.884796396144373))
    certified = [(-0.262323073774029, 0.232818234301152), (1.00211681802045, 0.429796848199937e-03)]
    for contrast, (estimate, deviation) in zip(np.eye(2), certified, strict=True):
        mixture = posterior.contrast(contrast)
        assert mixture.mean()[0] == pytest.approx(estimate, rel=1e-11)
        assert mixture.deviation()[0] == pytest.approx(deviation, rel=1e-11)


def test_norris_interval_with_unknown_scatter_is_students():
    """Scatter unknown and even in its logarithm: the interval is the certified estimate +- t(34) deviations."""
    y, design = norris()
    slope = fit(y, design, KnownScatter(0.0), EvenLogScatter(1e-3, 1e3)).contrast(np.array([0.0, 1.0]))
    for level in (0.5, 0.95, 0.99):
        lower, upper = slope.interval(level)
        reach = student.ppf(0.5 + level / 2, 34) * 0.429796848199937e-03
        assert lower[0] == pytest.approx(1.00211681802045 - reach, abs=1e-4 * reach)
        assert upper[0] == pytest.approx(1.00211681802045 + reach, abs=1e-4 * reach)


def test_longley_regression():
    """Longley's nearly dependent columns keep their certified values (from memory; statsmodels gives the same)."""
    data = statsmodels.datasets.longley.load_pandas()
    design = flat(np.column_stack([np.ones(16), data.exog.to_numpy(float)]))
    y = data.endog.to_numpy(float)
    assert residual_deviation(y, design) == pytest.approx(304.854073561965, rel=1e-7)
    means = fit(y, design, KnownScatter(0.0), KnownScatter(304.854)).coefficient_means()[:, 0]
    assert means[0] == pytest.approx(-3482258.63459582, rel=1e-8)
    assert means[-1] == pytest.approx(1829.15146461355, rel=1e-8)
