"""One battery over every formula: scalars and arrays alike, NaN stays NaN, shapes broadcast, nonsense stops."""

import importlib
import inspect
import pkgutil

import numpy as np
import pytest

import pullproof.physics
from pullproof.physics.compressor import Corrected, ReferenceState
from pullproof.physics.corrections import Correction
from pullproof.physics.loss_coefficient import LossCoefficient
from pullproof.physics.sections import Section

# A sound value for every symbol; each function takes what it names.
SOUND = {
    "acceleration": 3.2, "air_density": 1.2, "air_fuel_ratio": 12.0, "air_mass_flow": 0.2, "altimeter_setting": 101e3,
    "altitude": 400.0, "area": 3e-3, "bend_angle": 1.2, "bend_radius": 0.09, "boost_ratio": 2.0, "capacity_ratio": 0.4,
    "coefficient": 0.9, "constant_force": 150.0, "coolant_temperature": 295.0, "density": 2.5, "dew_point": 280.0,
    "diameter": 0.06, "discharge_coefficient": 0.8, "displacement": 2e-3, "downstream_pressure": 100e3,
    "drag_area": 0.7, "dry_pressure": 98e3, "edge_radius": 0.005, "effective_mass": 1550.0, "effectiveness": 0.7,
    "engine_speed": 550.0, "force": 5000.0, "friction_factor": 0.015, "fuel_mass_flow": 0.015,
    "fuel_per_swept_volume": 0.05, "gradient": 0.01, "headwind": 2.0, "heat_ratio": 1.4, "height": 0.045,
    "hose_diameter": 0.064, "hydraulic_diameter": 0.06, "initial_speed": 40.0, "inlet_pressure": 99e3,
    "inlet_temperature": 400.0, "isentropic_efficiency": 0.72, "kinematic_viscosity": 8e-6, "known_density": 2.4,
    "known_loss": 4e3, "known_mass_flow": 0.22, "lambda_ratio": 0.85, "length": 0.5, "linear_coefficient": 2.0,
    "manifold_pressure": 220e3, "manifold_temperature": 318.0, "mass": 1500.0, "mass_flow": 0.2, "open_fraction": 0.7,
    "opening": 1e-3, "opening_time": 0.01, "outlet_diameter": 0.055, "outlet_length": 0.6, "outlet_pressure": 235e3,
    "outlet_temperature": 440.0, "overall_ratio": 5.8, "power": 150e3, "pressure": 101e3, "pressure_ratio": 0.8,
    "pressure_rise": 140e3, "quadratic_coefficient": 0.42, "radius": 0.31, "relative_humidity": 0.5,
    "relative_roughness": 3e-5, "reynolds_number": 2.5e5, "rolling_resistance": 0.012, "rotating_mass_factor": 1.08,
    "roughness": 1.5e-6, "sea_level_pressure": 101e3, "shaft_speed": 12e3, "speed": 30.0, "stoichiometric_ratio": 14.6,
    "surplus_mass_flow": 0.02, "temperature": 300.0, "torque": 400.0, "total_pressure": 240e3,
    "total_temperature": 325.0, "transfer_units": 1.8, "upstream_pressure": 240e3, "upstream_temperature": 320.0,
    "velocity": 30.0, "viscosity": 1.9e-5, "volume": 1e-3, "volumetric_efficiency": 0.95, "width": 0.08,
}  # fmt: skip
# Where a function needs another value than the shared one.
SPECIAL = {
    "compressor": {"pressure_ratio": 2.2, "inlet_temperature": 298.0},
    "charge_cooler.effectiveness": {"outlet_temperature": 320.0},
    "charge_cooler.density_gain": {"outlet_temperature": 320.0, "inlet_pressure": 240e3},
    "standard_atmosphere.density_altitude": {"density": 1.15},
    "fittings.rounded_contraction_rennels": {"edge_radius": 0.005},
    "sections.flattened_round": {"diameter": 0.0635},
}
TEXT = {"induction": "turbocharged", "edition": "iso-1585", "reference": ReferenceState(298.15, 100e3)}
# Signed, or free within the range of numbers: no single value is nonsense.
FREE = {
    "acceleration", "torque", "power", "gradient", "headwind", "volume", "pressure_rise", "force", "fuel_mass_flow",
    "outlet_length", "roughness", "velocity",
}  # fmt: skip
NONSENSE = {"altitude": 20e3, "transfer_units": -1.0, "bend_angle": -0.1, "bend_radius": 0.001, "height": -0.1}


def formulas():
    for entry in pkgutil.iter_modules(pullproof.physics.__path__):
        module = importlib.import_module(f"pullproof.physics.{entry.name}")
        for name in module.__all__:
            function = getattr(module, name)
            own = inspect.isfunction(function) and function.__module__ == module.__name__
            if own and set(inspect.signature(function).parameters) <= {*SOUND, *TEXT}:
                yield pytest.param(function, id=f"{entry.name}.{name}")


FORMULAS = list(formulas())


def arguments(case):
    special = {**SPECIAL.get(case.partition(".")[0], {}), **SPECIAL.get(case, {})}
    return {**SOUND, **TEXT, **special}


@pytest.fixture
def call(request):
    """The function under test and sound arguments for it."""
    function = request.node.callspec.params["function"]
    sound = arguments(f"{function.__module__.rpartition('.')[2]}.{function.__name__}")
    return {name: sound[name] for name in inspect.signature(function).parameters}


def number(result):
    if isinstance(result, Correction):
        return result.factor
    if isinstance(result, LossCoefficient | Corrected):
        return result.value
    if isinstance(result, Section):
        return result.area
    return result


def numeric(call):
    return [name for name in call if name not in TEXT]


def test_nothing_is_left_out():
    """The battery reaches every formula but those on text, on states and on coefficients."""
    names = {case.id for case in FORMULAS}
    assert len(names) > 75
    every = set()
    for entry in pkgutil.iter_modules(pullproof.physics.__path__):
        module = importlib.import_module(f"pullproof.physics.{entry.name}")
        every |= {f"{entry.name}.{name}" for name in module.__all__ if inspect.isfunction(getattr(module, name))}
    left_out = {name for name in every - names if not name.startswith(("domain.", "elementwise."))}
    assert left_out == {
        "loss_coefficient.fitting",
        "loss_coefficient.in_series",
        "turbine.largest_compressor_power",
        "turbine.power_balance",
        "turbine.wastegate_sensitivities",
        "tyre.nominal_diameter",
        "tyre.rolling_radius",
    }


@pytest.mark.parametrize("function", FORMULAS)
def test_scalar_and_array_alike(function, call):
    """A scalar, a list of one and an array of many give the same number, and a finite one."""
    one = number(function(**call))
    assert np.isfinite(one)
    many = {name: np.full((2, 3), value) if name in numeric(call) else value for name, value in call.items()}
    assert number(function(**many)).shape == (2, 3)
    assert number(function(**many)) == pytest.approx(np.full((2, 3), one), rel=1e-12)


@pytest.mark.parametrize("function", FORMULAS)
def test_shapes_broadcast(function, call):
    """A column for one argument and a row for another give a table of every pair."""
    names = numeric(call)
    if len(names) < 2:
        pytest.skip("one argument only")
    column, row = np.full((3, 1), call[names[0]]), np.full((1, 2), call[names[1]])
    table = number(function(**{**call, names[0]: column, names[1]: row}))
    assert np.shape(table) == (3, 2)


@pytest.mark.parametrize("function", FORMULAS)
def test_not_known_stays_not_known(function, call):
    """NaN in any argument gives NaN there and only there, without a warning."""
    for name in numeric(call):
        if function.__name__ == "bend_rounded" and name in ("roughness", "reynolds_number"):
            continue  # Only Miller's method, for the doubt, reads them; the value is Rennels and Hudson's.
        values = np.array([call[name], np.nan, call[name]])
        found = number(function(**{**call, name: values}))
        assert np.isnan(found).tolist() == [False, True, False], name


@pytest.mark.parametrize("function", FORMULAS)
def test_nonsense_is_refused(function, call):
    """A value that no unit of ours allows raises ValueError, alone or among sound ones."""
    for name in numeric(call):
        if name in FREE or (name == "speed" and "coast" not in function.__name__):
            continue
        if name == "engine_speed" and function.__name__ in ("power_from_torque", "road_speed"):
            continue
        wrong = NONSENSE.get(name, -1.0)
        with pytest.raises(ValueError, match=r"\w{4}"):
            function(**{**call, name: np.array([call[name], wrong])})


@pytest.mark.parametrize("function", FORMULAS)
def test_degrees_celsius_are_refused_where_they_can_be_told(function, call):
    """A winter temperature in degrees Celsius is below 0 K and stops at the door."""
    for name in numeric(call):
        if name.endswith("temperature") or name == "dew_point":
            with pytest.raises(ValueError, match=r"K|kelvin"):
                function(**{**call, name: -5.0})
