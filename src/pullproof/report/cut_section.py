"""What is needed to make a path, for a report and for the console."""

from pullproof.analysis.airpath import CutList
from pullproof.report.model import Cell, Column, Paragraph, Points, Row, Section, Table
from pullproof.report.rounding import NBSP
from pullproof.report.wording import count, typographic

__all__ = ["bend_text", "cut_section", "hose_lines", "whole_text"]


def cut_section(cuts: CutList) -> Section:
    """Pieces, hoses, stock and notes of the path that is to be made."""
    pieces = Table(
        "Metal pieces, in order",
        (
            Column("Piece", 38),
            Column("Tube, outside × wall", 18),
            Column("Developed length", 14),
            Column("Bend", 18),
            Column("Mass", 12),
        ),
        tuple(
            Row(
                (
                    Cell(f"{piece.number} {typographic(piece.what)}", piece.material),
                    Cell(f"{piece.outside_mm:.4g}{NBSP}×{NBSP}{piece.wall_mm:.3g}{NBSP}mm"),
                    Cell(f"{piece.developed_mm:.0f}{NBSP}mm"),
                    Cell(bend_text(piece.angle_deg, piece.radius_mm)),
                    Cell(f"{piece.mass_kg:.2f}{NBSP}kg"),
                )
            )
            for piece in cuts.pieces
        ),
        picture=False,
    )
    blocks: list[Table | Paragraph | Points] = [pieces] if cuts.pieces else []
    hoses = hose_lines(cuts)
    stock = tuple(f"{item.what}: {item.quantity}" for item in cuts.stock)
    blocks += [Paragraph(whole_text(cuts)), Points((*hoses, *stock)), Points(cuts.notes)]
    return Section(
        "Cut list",
        f"To make: {cuts.name}. Try the first piece on the car before the rest is cut.",
        tuple(blocks),
        picture=False,
    )


def whole_text(cuts: CutList) -> str:
    """Welds, length and mass of the whole path."""
    return (
        f"{count(cuts.welds, 'weld')}; {cuts.developed_mm:.0f}{NBSP}mm along the centre line; "
        f"{cuts.tube_mass_kg:.2f}{NBSP}kg of tube."
    )


def bend_text(angle_deg: float | None, radius_mm: float | None) -> str:
    """`90° on 90 mm`; a dash where the piece is straight."""
    if angle_deg is None:
        return "–"
    return f"{angle_deg:.4g}°" + ("" if radius_mm is None else f" on {radius_mm:.4g}{NBSP}mm")


def hose_lines(cuts: CutList) -> tuple[str, ...]:
    """Each hose with its clamps in a sentence."""
    lines = []
    for hose in cuts.hoses:
        bore = " to ".join(f"{end:.4g}" for end in dict.fromkeys(hose.inside_mm))
        clamp = " and ".join(f"{end:.4g}" for end in dict.fromkeys(hose.clamp_mm))
        lines.append(f"Hose, {bore} mm inside, {hose.length_mm:.0f} mm long, {hose.clamps} clamps for {clamp} mm.")
    return tuple(lines)
