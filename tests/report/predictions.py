"""A prediction beside a measurement, made up by hand."""

from tests.report.other_reports import changed

from pullproof.analysis.prediction import Agreement, NotPredicted, PathPrediction


def agreement(identifier, unit, predicted, measured, judgement, half=1.0):
    gap = measured - predicted
    return Agreement(
        identifier, unit, predicted, (predicted - half, predicted + half), measured, (measured - half, measured + half),
        gap, (gap - 1.4 * half, gap + 1.4 * half), 0.95, judgement, "made up",
    )  # fmt: skip


def predicted(folder=None):
    """One measure of each judgement, and one that was not measured."""
    return PathPrediction(
        changed(folder) if folder else None,
        (
            agreement("wastegate_duty.mean", "%", -1.7, -2.2, "agree"),
            agreement("boost.mean", "kPa", 0.0, 4.2, "differ"),
            agreement("boost.reaches", "rpm", 24.0, -7.0, "unclear", 30.0),
        ),
        (NotPredicted("charge_pressure_drop.mean", "no log has a pressure at the compressor outlet"),),
        "Measurement and prediction differ in 1 of 3 measures.",
    )
