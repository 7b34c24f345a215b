"""What the paths should have done beside what was measured, for a report."""

from pullproof.analysis.prediction import Agreement, PathPrediction
from pullproof.report.evidence import as_sentence
from pullproof.report.model import Cell, Column, Paragraph, Points, Row, Section, Table
from pullproof.report.path_drawables import agreement_drawing, agreement_roundings
from pullproof.report.wording import capitalised, level_text, measure_name, typographic

__all__ = ["JUDGEMENTS", "prediction_section"]

JUDGEMENTS = {"agree": ("✓", "agree"), "differ": ("✗", "differ"), "unclear": ("?", "cannot tell")}
"""Sign and words of a judgement."""


def prediction_section(prediction: PathPrediction) -> Section:
    """Each measure that the paths predict, with the difference of measurement and prediction."""
    blocks: list[Paragraph | Table | Points] = [
        Paragraph(prediction.sentence),
        Paragraph(f"Predicted from the path files: {typographic(prediction.paths.sentence)}"),
    ]
    if prediction.agreements:
        level = level_text(prediction.agreements[0].level)
        columns = (
            Column("Measure", 22),
            Column("Predicted", 19),
            Column("Measured", 19),
            Column(f"Measured − predicted, {level} interval", 26, picture="below"),
            Column("Do they agree?", 14, picture="beside"),
        )
        blocks.append(Paragraph("Each difference is measured minus predicted; both are after minus before."))
        blocks.append(Table("Prediction and measurement", columns, tuple(_row(one) for one in prediction.agreements)))
    left = tuple(f"{capitalised(measure_name(one.measure))}: {as_sentence(one.reason)}" for one in prediction.left_out)
    if left:
        blocks += [Paragraph("Not set beside each other:", picture=False), Points(left, picture=False)]
    assumed = tuple(as_sentence(line) for line in (*prediction.paths.assumptions, *prediction.paths.doubts))
    blocks += [Paragraph("The prediction takes for granted:", picture=False), Points(assumed, picture=False)]
    return Section(
        "Prediction and measurement",
        "What the two path files predict from the flow before the change, beside what the pulls say. They agree where "
        "the interval of their difference holds zero and is narrow enough to show a disagreement.",
        tuple(blocks),
    )


def _row(agreement: Agreement) -> Row:
    predicted, measured, between = agreement_roundings(agreement)
    sign, word = JUDGEMENTS[agreement.judgement]
    gap = f"{between.signed(agreement.gap)} ({between.interval(agreement.gap_interval)})"
    return Row(
        (
            Cell(capitalised(measure_name(agreement.id)), as_sentence(agreement.basis)),
            Cell(predicted.signed(agreement.predicted), predicted.interval(agreement.predicted_interval)),
            Cell(measured.signed(agreement.measured), measured.interval(agreement.measured_interval)),
            Cell(gap, drawing=agreement_drawing(agreement)),
            Cell(f"{sign} {word}", tone="warn" if agreement.judgement == "differ" else "plain"),
        )
    )
