from pathlib import Path

import pytest

from pullproof.car import Boost, Car, ColumnRule, Engine, load_car
from pullproof.errors import CannotRead, WrongUse

CONTRACT_SHEET = """
name = "blue hatch"
mass_kg = 1510                     # as tested: car, fuel, people
tyre = "235/35R19"
gear_ratios = [3.36, 2.09, 1.47, 1.10, 0.87, 0.73]
final_drive = 3.94
drag_area_m2 = 0.70                # drag coefficient times frontal area
rolling_resistance = 0.012
driveline_efficiency = 0.90
rotating_mass_factor = [1.40, 1.18, 1.09, 1.06, 1.04, 1.03]

[engine]
displacement_l = 2.0
cylinders = 4
redline_rpm = 6800
fuel = "petrol"
aspiration = "turbo"

[boost]
wastegate_duty_closed = 100
"""


def write(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "car.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_contracts_own_sheet_loads(tmp_path: Path) -> None:
    """Every key that the contract shows is read with its value."""
    assert load_car(write(tmp_path, CONTRACT_SHEET)) == Car(
        name="blue hatch",
        mass_kg=1510.0,
        tyre="235/35R19",
        gear_ratios=(3.36, 2.09, 1.47, 1.10, 0.87, 0.73),
        final_drive=3.94,
        drag_area_m2=0.70,
        rolling_resistance=0.012,
        driveline_efficiency=0.90,
        rotating_mass_factor=(1.40, 1.18, 1.09, 1.06, 1.04, 1.03),
        engine=Engine(2.0, 4, 6800.0, "petrol", "turbo"),
        boost=Boost(100.0),
    )


def test_only_the_name_is_needed(tmp_path: Path) -> None:
    """Every key but the name may be left out."""
    assert load_car(write(tmp_path, 'name = "x"')) == Car(name="x")


def test_columns_overrule_in_each_spelling(tmp_path: Path) -> None:
    """A column rule may be "channel", "channel, unit" or a table; `ignore` keeps the column unrecognised."""
    car = load_car(
        write(
            tmp_path,
            'name = "x"\n[columns]\n"Boost (PSI)" = "charge_pressure, psi gauge"\n"n" = "engine_speed"\n'
            '"x1" = "ignore"\n"T" = { channel = "oil_temperature", unit = "degF" }\n',
        )
    )
    assert dict(car.columns) == {
        "Boost (PSI)": ColumnRule("charge_pressure", "psi gauge"),
        "n": ColumnRule("engine_speed"),
        "x1": ColumnRule(None),
        "T": ColumnRule("oil_temperature", "degF"),
    }


def test_the_owner_may_state_doubts(tmp_path: Path) -> None:
    """A [doubt] table holds half widths in the unit of the key; other keys are refused."""
    car = load_car(write(tmp_path, 'name = "x"\n[doubt]\nmass_kg = 10\ndrag_area_m2 = 0.02\n'))
    assert dict(car.doubts) == {"mass_kg": 10.0, "drag_area_m2": 0.02}
    with pytest.raises(WrongUse, match=r'"doubt\.tyre" is not known'):
        load_car(write(tmp_path, 'name = "x"\n[doubt]\ntyre = 1\n'))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("mass_kg = 1510", ["name", "is missing", 'name = "blue hatch"']),
        ('name = "x"\nmas_kg = 1510', ['"mas_kg" is not known', 'Did you mean "mass_kg"?']),
        ('name = "x"\nmass_kg = "1510"', ["mass_kg", "must be a number in kg", "without quotes"]),
        ('name = "x"\nmass_kg = true', ["mass_kg", "must be a number in kg"]),
        ('name = "x"\nmass_kg = 15', ["mass_kg", "15 kg", "outside 200 to 60000 kg"]),
        ('name = "x"\n[engine]\nredline_rmp = 1', ['"engine.redline_rmp" is not known', "redline_rpm"]),
        ('name = "x"\n[engine]\nfuel = "gas"', ["engine.fuel", "petrol", "diesel"]),
        ('name = "x"\nengine = 3', ["engine", "must be a table", "[engine]"]),
        ('name = "x"\nfinal_drive = 0', ["final_drive", "is 0, which is outside 0.5 to 20."]),
        ('name = "x"\ngear_ratios = ["a"]', ["gear_ratios", "must be a number (ratio), not 'a'"]),
        ('name = "x"\ngear_ratios = 3.4', ["gear_ratios", "list of numbers"]),
        ('name = "x"\ngear_ratios = [3, 2]\nrotating_mass_factor = [1.1]', ["1 entries", "one factor per gear"]),
        ('name = "x"\n[boost]\nwastegate_duty_closed = 50', ["wastegate_duty_closed is 50", "Write 100"]),
        ('name = "x"\n[columns]\nRPM = 3', ['columns."RPM"', "channel, then the unit"]),
        ("name = 5", ["name", "must be a text"]),
    ],
)
def test_a_slip_gets_one_sentence_with_key_and_advice(tmp_path: Path, text: str, words: list[str]) -> None:
    """A wrong sheet is refused as wrong use, and the sentence names the file, the key and what to write."""
    path = write(tmp_path, text)
    with pytest.raises(WrongUse) as caught:
        load_car(path)
    for word in [str(path), *words]:
        assert word in str(caught.value)


@pytest.mark.parametrize(
    ("data", "words"),
    [(b"name = 3 4\n", ["not valid TOML", "line 1"]), (b'# ok\nname = "\xff"', ["not UTF-8", "line 2"])],
)
def test_a_broken_sheet_cannot_be_read(tmp_path: Path, data: bytes, words: list[str]) -> None:
    """A file that is no TOML counts as unreadable and the place is named."""
    path = tmp_path / "car.toml"
    path.write_bytes(data)
    with pytest.raises(CannotRead) as caught:
        load_car(path)
    for word in words:
        assert word in str(caught.value)


def test_a_missing_sheet_cannot_be_read(tmp_path: Path) -> None:
    """A path that leads nowhere is named."""
    with pytest.raises(CannotRead, match="No such file"):
        load_car(tmp_path / "none.toml")


def test_limits_are_the_owners_to_set(tmp_path: Path) -> None:
    """A limit of the sheet is kept in its unit; what is not set is not there; a misspelt one is refused."""
    car = load_car(write(tmp_path, 'name = "a"\n[limits]\ncoolant_temperature_c = 104\nboost_kpa = 140\n'))
    assert dict(car.limits) == {"boost_kpa": 140.0, "coolant_temperature_c": 104.0}
    with pytest.raises(WrongUse, match=r'limits\.coolant_temp_c.*Did you mean "coolant_temperature_c"'):
        load_car(write(tmp_path, 'name = "a"\n[limits]\ncoolant_temp_c = 104\n'))
    with pytest.raises(WrongUse, match="outside 60 to 140 degC"):
        load_car(write(tmp_path, 'name = "a"\n[limits]\ncoolant_temperature_c = 220\n'))


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("[engine]\ncylinders = 4.5", 'key "engine.cylinders" is 4.5.*whole'),
        ('tyre = "big"', '"big" is not a tyre size.*235/35R19'),
        ('tyre = "999/35R19"', "no road tyre"),
    ],
)
def test_half_a_cylinder_and_a_tyre_of_no_size_are_refused(tmp_path: Path, line: str, says: str) -> None:
    """What is no number of cylinders and no size of a tyre must not pass in silence."""
    with pytest.raises(WrongUse, match=says):
        load_car(write(tmp_path, f'name = "x"\n{line}\n'))


def test_whole_cylinders_may_be_written_with_a_point(tmp_path: Path) -> None:
    """4.0 is four."""
    assert load_car(write(tmp_path, 'name = "x"\n[engine]\ncylinders = 4.0\n')).engine.cylinders == 4
