"""Pressure loss along an air path, what another path would change, and what is needed to make it.

`load_path` reads a path file; `flow_from_logs` or `flow_from_sheets` gives the car's flow; `analyse_path`,
`compare_paths` and `cut_list` answer.
"""

from pullproof.analysis.airpath.analysing import analyse_path
from pullproof.analysis.airpath.boost_control import ControlResponse, learn_control_response, prior_response
from pullproof.analysis.airpath.comparing import compare_paths
from pullproof.analysis.airpath.cut_list import CutList, CutPiece, Hose, Stock, cut_list
from pullproof.analysis.airpath.flow_curve import FlowCurve, flow_from_sheets
from pullproof.analysis.airpath.flow_from_logs import flow_from_logs
from pullproof.analysis.airpath.path import AirPath, FlowSheet
from pullproof.analysis.airpath.path_sheet import load_path, parse_path
from pullproof.analysis.airpath.result import Band, Effect, ElementResult, PathComparison, PathResult

__all__ = [
    "AirPath",
    "Band",
    "ControlResponse",
    "CutList",
    "CutPiece",
    "Effect",
    "ElementResult",
    "FlowCurve",
    "FlowSheet",
    "Hose",
    "PathComparison",
    "PathResult",
    "Stock",
    "analyse_path",
    "compare_paths",
    "cut_list",
    "flow_from_logs",
    "flow_from_sheets",
    "learn_control_response",
    "load_path",
    "parse_path",
    "prior_response",
]
