"""How many pulls, in which order, and what else the next run needs.

In reading order: `belief` says what is known of the scatter; `orders` lists ways to drive; `chances` draws what each
may give and lets the verdict's model judge it; `next_run` looks at an open question; `what_to_log`, `hold_equal` and
`wording` say how to drive it; `planning` strings these together.
"""

from pullproof.analysis.plan.planning import Logger, Request, plan, plan_records
from pullproof.analysis.plan.result import (
    Ceiling,
    Channel,
    Costs,
    Equal,
    Logging,
    NextRun,
    Option,
    Plan,
    Question,
    Run,
    Scatter,
)

__all__ = [
    "Ceiling",
    "Channel",
    "Costs",
    "Equal",
    "Logger",
    "Logging",
    "NextRun",
    "Option",
    "Plan",
    "Question",
    "Request",
    "Run",
    "Scatter",
    "plan",
    "plan_records",
]
