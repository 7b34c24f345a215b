"""The JSON of an air path, and of a prediction beside a measurement."""

import dataclasses
from collections.abc import Sequence

from pullproof.analysis.airpath import Band, CutList, Effect, FlowCurve, PathComparison, PathResult
from pullproof.analysis.prediction import Agreement, PathPrediction
from pullproof.report.json_values import Document, number, numbers

__all__ = ["airpath_document", "prediction_part"]


def airpath_document(paths: Sequence[PathResult], comparison: PathComparison | None, cuts: CutList) -> Document:
    """`pullproof.airpath/1`: one path or two over one flow, what changes, and the cut list."""
    first = paths[0]
    assumptions = comparison.assumptions if comparison else first.flow.assumptions
    doubts = comparison.doubts if comparison else first.doubts
    return {
        "schema": "pullproof.airpath/1",
        "level": number(first.total.level),
        "flow": _flow(first.flow),
        "paths": [_path(path) for path in paths],
        "change": None if comparison is None else _change(comparison),
        "cut_list": _cuts(cuts),
        "assumptions": list(assumptions),
        "doubts": list(doubts),
        "cautions": list(first.cautions),
    }


def prediction_part(prediction: PathPrediction) -> Document:
    """The key `prediction` of `pullproof.comparison/1`."""
    paths = prediction.paths
    return {
        "sentence": prediction.sentence,
        "path_before": paths.before.name,
        "path_after": paths.after.name,
        "flow": paths.before.flow.origin,
        "change": _change(paths),
        "measures": [_agreement(one) for one in prediction.agreements],
        "left_out": [{"measure": one.measure, "reason": one.reason} for one in prediction.left_out],
        "assumptions": list(paths.assumptions),
        "doubts": list(paths.doubts),
    }


def _agreement(one: Agreement) -> Document:
    return {
        "id": one.id,
        "unit": one.unit,
        "predicted": number(one.predicted),
        "predicted_interval": numbers(one.predicted_interval),
        "measured": number(one.measured),
        "measured_interval": numbers(one.measured_interval),
        "difference": number(one.gap),
        "interval": numbers(one.gap_interval),
        "level": number(one.level),
        "judgement": one.judgement,
        "basis": one.basis,
    }


def _flow(flow: FlowCurve) -> Document:
    return {
        "origin": flow.origin,
        "window_rpm": numbers(flow.window_rpm),
        "rpm": numbers(flow.rpm),
        "air_mass_flow_gs": numbers(flow.air_mass_flow_gs),
        "charge_pressure_kpa": numbers(flow.charge_pressure_kpa),
        "charge_temperature_c": numbers(flow.charge_temperature_c),
        "ambient_pressure_kpa": number(flow.ambient_pressure_kpa),
        "inlet_temperature_c": number(flow.inlet_temperature_c),
    }


def _path(path: PathResult) -> Document:
    return {
        "name": path.name,
        "loss_kpa": _band(path.total),
        "largest_mach": number(path.largest_mach),
        "volume_l": number(path.volume_l),
        "length_mm": number(path.length_mm),
        "elements": [
            {
                "number": element.number,
                "label": element.label,
                "loss_kpa": _band(element.loss),
                "mach": numbers(element.mach),
                "velocity_ms": numbers(element.velocity_ms),
                "share": number(element.share),
                "volume_l": number(element.volume_l),
                "length_mm": number(element.length_mm),
            }
            for element in path.elements
        ],
    }


def _band(band: Band) -> Document:
    return {"estimate": numbers(band.estimate), "lower": numbers(band.lower), "upper": numbers(band.upper)}


def _change(comparison: PathComparison) -> Document:
    """What the new path does: effects over the window as one number each, and the curve of loss saved."""
    return {
        "sentence": comparison.sentence,
        "saved_kpa": _band(comparison.saved),
        "charge_pressure_gain_kpa": _band(comparison.charge_pressure_gain),
        "compressor_power_change_pct": _band(comparison.compressor_power_change),
        "mean_saved": _effect(comparison.mean_saved),
        "mean_charge_pressure_gain": _effect(comparison.mean_charge_pressure_gain),
        "mean_outlet_temperature_change": _effect(comparison.mean_outlet_temperature_change),
        "wastegate_duty_change": _effect(comparison.wastegate_duty_change),
        "spool_delay_s": _effect(comparison.spool_delay_seconds),
        "spool_delay_rpm": _effect(comparison.spool_delay_rpm),
        "volume_change_l": number(comparison.volume_change_l),
    }


def _effect(effect: Effect) -> Document:
    return {
        "unit": effect.unit,
        "estimate": number(effect.estimate),
        "interval": numbers(effect.interval),
        "level": number(effect.level),
        "basis": effect.basis,
    }


def _cuts(cuts: CutList) -> Document:
    return {
        "name": cuts.name,
        "pieces": [dataclasses.asdict(piece) for piece in cuts.pieces],
        "hoses": [
            {
                "inside_mm": numbers(hose.inside_mm),
                "length_mm": number(hose.length_mm),
                "clamps": hose.clamps,
                "clamp_mm": numbers(hose.clamp_mm),
            }
            for hose in cuts.hoses
        ],
        "stock": [dataclasses.asdict(item) for item in cuts.stock],
        "welds": cuts.welds,
        "developed_mm": number(cuts.developed_mm),
        "tube_mass_kg": number(cuts.tube_mass_kg),
        "notes": list(cuts.notes),
    }
