"""Two sets of pulls: what did the change do?

In reading order: `window` says between which engine speeds; `design` turns pulls into a model; `adjustments` and
`priors.toml` say what physics expects of the weather; `readings` and `reading_limits` say what could be read, and how
sharply; `differences` judges each measure and curve; `fairness` asks what else could explain it; `verdict` puts it into
a sentence; `next_steps` says which run to do next; `comparing` strings these together.
"""

from pullproof.analysis.comparison.comparing import compare, compare_records
from pullproof.analysis.comparison.result import (
    Comparison,
    CurveDifference,
    FairnessCheck,
    LeftOut,
    MeasureDifference,
    Verdict,
)

__all__ = [
    "Comparison",
    "CurveDifference",
    "FairnessCheck",
    "LeftOut",
    "MeasureDifference",
    "Verdict",
    "compare",
    "compare_records",
]
