"""Two samples: Student's sleep data as R documents them, and NIST/SEMATECH e-Handbook 1.3.5.3 (AUTO83B)."""

import numpy as np
import pytest

from pullproof.stats.mixed_model import Design, fit
from pullproof.stats.scatter import EvenLogScatter, EvenScatter, KnownScatter

FIRST = np.array([0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0])
SECOND = np.array([1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4])
BOTH = np.concatenate([FIRST, SECOND])
DRUG = np.repeat([-0.5, 0.5], 10)
PERSON = np.tile(np.arange(10), 2)
UNKNOWN = EvenLogScatter(1e-4, 1e4)


def flat(columns, group):
    p = columns.shape[1]
    return Design(columns, group, np.zeros(p), np.full(p, np.inf))


def test_unpaired(as_printed):
    """Sleep, unpaired: t 1.8608 and a 95 % interval of -0.2055 to 3.3655 (Welch; equal groups, so nearly pooled).

    The model holds one scatter for both groups, 18 degrees of freedom in place of Welch's 17.776.
    """
    design = flat(np.column_stack([np.ones(20), DRUG]), np.zeros(20, dtype=np.intp))
    pooled = np.sqrt((FIRST.var(ddof=1) + SECOND.var(ddof=1)) / 2)
    known = fit(BOTH, design, KnownScatter(0.0), KnownScatter(pooled)).contrast(np.array([0.0, 1.0]))
    as_printed(known.mean()[0] / known.deviation()[0], "1.8608")
    lower, upper = fit(BOTH, design, KnownScatter(0.0), UNKNOWN).contrast(np.array([0.0, 1.0])).interval(0.95)
    assert lower[0] == pytest.approx(-0.2055, abs=0.003)
    assert upper[0] == pytest.approx(3.3655, abs=0.003)


def test_paired_with_a_column_for_each_person(as_printed):
    """Sleep, paired: 95 % interval 0.7001 to 2.4599."""
    persons = (PERSON[:, None] == np.arange(10)).astype(float)
    design = flat(np.column_stack([DRUG, persons]), np.zeros(20, dtype=np.intp))
    lower, upper = fit(BOTH, design, KnownScatter(0.0), UNKNOWN).contrast(np.eye(11)[0]).interval(0.95)
    as_printed(lower[0], "0.7001")
    as_printed(upper[0], "2.4599")


def test_paired_with_persons_as_groups():
    """The same pairs as random groups give nearly the same interval: within groups the effect cancels, as days do."""
    design = flat(np.column_stack([np.ones(20), DRUG]), PERSON)
    posterior = fit(BOTH, design, EvenScatter(1e-3, 1e2), UNKNOWN)
    lower, upper = posterior.contrast(np.array([0.0, 1.0])).interval(0.95)
    assert lower[0] == pytest.approx(0.7001, abs=0.06)
    assert upper[0] == pytest.approx(2.4599, abs=0.06)


def test_pooled_t_of_the_handbook(as_printed):
    """AUTO83B: n 249, mean 20.14458, sd 6.41470 against 79, 30.48101, 6.10771 give a pooled t of -12.62059."""

    def sample(n, mean, deviation):
        shape = np.linspace(-1.0, 1.0, n)
        return mean + deviation * shape / shape.std(ddof=1)

    values = np.concatenate([sample(249, 20.14458, 6.41470), sample(79, 30.48101, 6.10771)])
    columns = np.column_stack([np.ones(328), np.repeat([0.5, -0.5], [249, 79])])
    pooled = np.sqrt((248 * 6.41470**2 + 78 * 6.10771**2) / 326)
    posterior = fit(values, flat(columns, np.zeros(328, dtype=np.intp)), KnownScatter(0.0), KnownScatter(pooled))
    difference = posterior.contrast(np.array([0.0, 1.0]))
    as_printed(difference.mean()[0] / difference.deviation()[0], "-12.62059", units=2)
