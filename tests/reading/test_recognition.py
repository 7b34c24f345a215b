"""Words, units, values and the agreement of channels decide what a column is; decoys are never taken."""

import itertools
from typing import ClassVar

import numpy as np
import pytest
from tests.reading.drive import AMBIENT, drive, log_of, table

from pullproof.channels import CHANNELS

DRIVE = drive(120, 10)
STANDING = drive(120, 10, standing=12)
PSI = 6.894757293168361

WORDS = {
    "engine_speed": "Engine RPM|RPM|Motordrehzahl|Drehzahl|Régime moteur|Velocidad del motor|Revoluciones del motor"
    "|Giri motore|Rotação do motor|Obroty silnika|Prędkość obrotowa silnika|Motortoerental|Varvtal",
    "vehicle_speed": "Vehicle speed|Ground Speed|Fahrgeschwindigkeit|Vitesse véhicule|Velocidad del vehículo"
    "|Velocità veicolo|Velocidade do veículo|Prędkość pojazdu|Voertuigsnelheid|Fordonshastighet",
    "pedal_position": "Accelerator Pedal Position|APP|Fahrpedalstellung|Gaspedal|Position pédale d'accélérateur"
    "|Posición del pedal del acelerador|Posizione pedale acceleratore|Posição do pedal|Położenie pedału przyspieszenia",
    "throttle_position": "Throttle Position|TPS|Drosselklappenstellung|Position papillon|Posición de la mariposa"
    "|Posizione farfalla|Posição da borboleta|Położenie przepustnicy",
    "manifold_pressure": "Manifold Absolute Pressure|MAP|Saugrohrdruck|Pression collecteur d'admission"
    "|Presión del colector de admisión|Pressione collettore aspirazione|Pressão do coletor de admissão"
    "|Ciśnienie w kolektorze dolotowym",
    "charge_pressure": "Charge Pressure|Compressor Outlet Pressure|Ladedruck Ist|Pression de suralimentation"
    "|Presión de sobrealimentación|Pressione di sovralimentazione|Pressão do turbo|Ciśnienie doładowania",
    "charge_pressure_target": "Boost Target|Desired Boost|Ladedruck Soll|Consigne pression de suralimentation"
    "|Presión de sobrealimentación objetivo|Pressione turbo obiettivo|Pressão do turbo desejada"
    "|Ciśnienie doładowania zadane",
    "ambient_pressure": "Barometric Pressure|Umgebungsdruck|Pression atmosphérique|Presión barométrica"
    "|Pressione atmosferica|Pressão atmosférica|Ciśnienie atmosferyczne",
    "wastegate_duty": "Wastegate Duty Cycle|WGDC|Boost Solenoid Duty|Tastverhältnis Ladedruckregelventil|RCO wastegate",
    "air_mass_flow": "MAF|Mass Air Flow|Luftmasse|Débit d'air massique|Caudal de aire|Portata aria|Vazão massa de ar"
    "|Masowy przepływ powietrza",
    "intake_air_temperature": "Intake Air Temp|IAT|Ansauglufttemperatur|Température d'air d'admission"
    "|Temperatura del aire de admisión|Temperatura aria aspirata|Temperatura do ar de admissão"
    "|Temperatura powietrza dolotowego",
    "charge_air_temperature": "Charge Air Temperature|Intercooler Outlet Temp|Ladelufttemperatur",
    "ambient_temperature": "Ambient Air Temperature|Outside Temp|Außentemperatur|Température extérieure"
    "|Temperatura ambiente|Temperatura esterna|Temperatura otoczenia",
    "coolant_temperature": "Engine Coolant Temperature|ECT|Kühlmitteltemperatur|Kuehlwassertemperatur"
    "|Température liquide de refroidissement|Temperatura del refrigerante|Temperatura acqua|Temperatura da água"
    "|Temperatura płynu chłodzącego",
    "oil_temperature": "Oil Temp|Öltemperatur|Oeltemperatur|Température huile|Temperatura del aceite|Temperatura olio"
    "|Temperatura do óleo|Temperatura oleju|Olietemperatuur|Oljetemperatur",
    "exhaust_gas_temperature": "EGT|Exhaust Gas Temperature|Abgastemperatur|Température échappement"
    "|Temperatura de escape|Temperatura scarico|Temperatura spalin",
    "ignition_timing": "Ignition Timing|Spark Advance|Zündwinkel|Avance à l'allumage|Avance de encendido"
    "|Anticipo accensione|Avanço de ignição|Kąt wyprzedzenia zapłonu",
    "knock_retard": "Knock Retard|Zündwinkelrücknahme Klopfen|Feedback Knock Correction",
    "injector_duty": "Injector Duty|Inj. Duty Cycle|IDC",
    "fuel_rail_pressure": "Fuel Rail Pressure|Raildruck|Pression rampe carburant|Presión de la rampa de combustible",
    "engine_torque": "Engine Torque|Motordrehmoment|Couple moteur|Par motor|Coppia motore|Torque do motor"
    "|Moment obrotowy silnika|Motorkoppel|Vridmoment",
    "engine_load": "Calculated Load|Engine Load|Motorlast|Charge moteur|Carga del motor|Carico motore"
    "|Obciążenie silnika|Motorbelasting|Motorbelastning",
    "battery_voltage": "Battery Voltage|Control module voltage|Bordspannung|Tension batterie|Voltaje de la batería"
    "|Tensione batteria|Tensão da bateria|Napięcie akumulatora",
    "gear": "Gear|Current Gear|Gang|Rapport engagé|Marcha|Marcia|Bieg",
    "lambda": "Lambda|Lambda Ist|Wideband Lambda",
    "lambda_target": "Lambda Target|Lambda Soll|Commanded Lambda",
    "oil_pressure": "Oil Pressure|Öldruck|Pression huile|Presión de aceite|Pressione olio|Ciśnienie oleju",
}
UNIT = {name: CHANNELS[name].unit.replace("degC", "°C") for name in WORDS}


@pytest.mark.parametrize(
    ("channel", "header"), [(channel, header) for channel, words in WORDS.items() for header in words.split("|")]
)
def test_words_of_seven_languages(read, channel, header):
    """A channel called by its name in any of the languages, with its usual unit, is recognised and not doubtful."""
    beside = {"engine_speed": "RPM", "pedal_position": "Pedal (%)", "ambient_pressure": "Baro (kPa)"}
    if channel in ("charge_pressure_target", "wastegate_duty"):
        beside["manifold_pressure"] = "MAP (kPa)"
    beside.pop(channel, None)
    log = read(log_of(STANDING, {**beside, channel: f"{header} ({UNIT[channel]})"}))
    column = log.columns[-1]
    assert column.channel == channel
    assert column.doubt is None
    np.testing.assert_allclose(log.traces[channel].values, STANDING[channel], atol=1e-3)


@pytest.mark.parametrize("name", [name for name in CHANNELS if name not in ("time", "latitude", "longitude")])
def test_a_channel_under_its_own_name(read, name):
    """The contract's own names are understood, with and without their unit behind them."""
    values = DRIVE.get(name, np.linspace(*np.clip(CHANNELS[name].plausible, -20, 900), DRIVE["time"].size))
    for header in (name, f"{name} [{CHANNELS[name].unit}]"):
        log = read(table(["time [s]", header], [DRIVE["time"], values]))
        assert log.columns[1].channel == name, header


DECOYS = (
    """
Boost Error (psi) | Boost Target Final Max (psi) | Boost Limit (psi) | Boost Cut | Calculated boost (psi)
Wastegate Max (%) | Wastegate Duty Max (%) | WGDC Correction (%) | Wastegate Duty Initial (%) | Wastegate Position (%)
TD Wastegate Integral (%) | Idle Speed Target (rpm) | RPM Limit (rpm) | rpm/s | Fan Speed (rpm) | MAPxRPM
Turbine Input Shaft Speed (rpm) | Speed Limit (km/h) | Cruise Set Speed (km/h) | Average speed (km/h)
Wheel Speed FL (km/h) | Throttle Target (%) | Relative Throttle Position (%) | Commanded Throttle Actuator (%)
TPS DOT (%/s) | TPS Voltage (V) | Brake Pedal (%) | Clutch Pedal Position (%) | Accel Enrich (%) | MAF Voltage (V)
MAF Frequency (Hz) | Fuel Mass Flow (g/s) | Cylinder Head Temp (°C) | Transmission Oil Temp (°C)
Fuel Temperature (°C) | EGT Cyl 3 (°C) | Catalyst Temp (°C) | AFR Error | Lambda Correction (%) | AF Learning 1 (%)
O2 Sensor Voltage (V) | Short Term Fuel Trim (%) | Fuel injection timing (°) | Knock Sensor Voltage (V) | Knock Count
Fine Knock Learn (°) | Base Timing (°) | Torque Limit (Nm) | Torque Request (Nm) | Load Target (%)
Absolute Load (%) | Gear Ratio | Lateral Acceleration (g) | Exhaust Pressure (kPa) | Crankcase Pressure (kPa)
Fuel Pressure Target (kPa) | Brake Pressure (bar) | Ladedruck Regelabweichung (mbar) | Soll-Drehzahl Leerlauf (1/min)
Écart pression de suralimentation (mbar) | Presión de freno (bar) | Temperatura olio cambio (°C)
Temperatura skrzyni (°C)
""".strip()
    .replace("\n", " | ")
    .split(" | ")
)


@pytest.mark.parametrize("decoy", DECOYS)
def test_a_decoy_alone_is_not_taken(read, decoy):
    """Targets, limits, errors, corrections and other machines keep their own header, even with nothing to compete."""
    values = 12 + 3 * np.sin(DRIVE["time"])
    log = read(table(["Time (s)", decoy], [DRIVE["time"], values]))
    assert log.columns[1].channel is None
    assert decoy in log.traces


@pytest.mark.parametrize("order", range(4))
def test_a_log_full_of_decoys(read, order):
    """Among many decoys, in any order, exactly the measured channels are found."""
    real = {
        "engine_speed": "RPM (rpm)",
        "vehicle_speed": "Speed (km/h)",
        "pedal_position": "Accel. Position (%)",
        "throttle_position": "Throttle Pos. (%)",
        "charge_pressure_target": "Target Boost (kPa)",
        "wastegate_duty": "Wastegate Duty (%)",
        "ignition_timing": "Ignition Timing (°)",
        "coolant_temperature": "Coolant Temp (°C)",
        "air_mass_flow": "MAF (g/s)",
        "lambda": "Lambda",
    }
    noise = np.random.default_rng(order)
    columns = [(header, DRIVE[name]) for name, header in real.items()]
    columns += [(header, 10 + noise.normal(0, 2, DRIVE["time"].size)) for header in DECOYS]
    places = noise.permutation(len(columns))
    shuffled = [columns[place] for place in places]
    log = read(table(["Time (s)", *(h for h, _ in shuffled)], [DRIVE["time"], *(v for _, v in shuffled)]))
    found = {column.header: column.channel for column in log.columns if column.channel not in (None, "time")}
    assert found == {header: name for name, header in real.items()}


class TestUnits:
    """The unit is believed where it is stated, and found out or doubted where it is not."""

    @pytest.mark.parametrize(
        ("channel", "header", "factor", "offset", "unit"),
        [
            ("vehicle_speed", "Speed (mph)", 1 / 1.609344, 0, "mph"),
            ("vehicle_speed", "speed_mph", 1 / 1.609344, 0, "mph"),
            ("vehicle_speed", "GPS Speed (m/s)", 1 / 3.6, 0, "m/s"),
            ("coolant_temperature", "Coolant Temp (Â°F)", 1.8, 32, "degF"),
            ("coolant_temperature", "CLT [K]", 1, 273.15, "K"),
            ("air_mass_flow", "MAF (kg/h)", 3.6, 0, "kg/h"),
            ("air_mass_flow", "Airflow (lb/min)", 60 / 453.59237, 0, "lb/min"),
            ("manifold_pressure", "MAP (bar)", 0.01, 0, "bar"),
            ("manifold_pressure", "MAP (mbar)", 10, 0, "mbar"),
            ("manifold_pressure", "MAP (psia)", 1 / PSI, 0, "psi"),
            ("engine_torque", "Engine Torque (lb-ft)", 0.7375621492772656, 0, "lbf ft"),
            ("fuel_rail_pressure", "Fuel Rail Pressure (bar)", 0.01, 0, "bar"),
            ("fuel_rail_pressure", "Fuel Rail Pressure (MPa)", 0.001, 0, "MPa"),
            ("longitudinal_acceleration", "Longitudinal Acceleration (g)", 1 / 9.80665, 0, "g"),
        ],
    )
    def test_stated(self, read, channel, header, factor, offset, unit):
        """A stated unit is converted exactly and is the unit reported. Factors: NIST SP 811, appendix B."""
        truth = DRIVE.get(channel, 3 * np.sin(DRIVE["time"]))
        log = read(table(["Time (s)", header], [DRIVE["time"], truth * factor + offset], digits=6))
        assert (log.columns[1].channel, log.columns[1].unit, log.columns[1].doubt) == (channel, unit, None)
        np.testing.assert_allclose(log.traces[channel].values, truth, atol=2e-3)

    @pytest.mark.parametrize(
        ("channel", "header", "factor", "offset", "unit"),
        [
            ("coolant_temperature", "CLT", 1.8, 32, "degF"),
            ("exhaust_gas_temperature", "EGT", 1, 0, "degC"),
            ("ambient_pressure", "Baro", 10, 0, "mbar"),
            ("ambient_pressure", "Baro", 1, 0, "kPa"),
            ("ambient_pressure", "Baro", 1 / PSI, 0, "psi"),
            ("fuel_rail_pressure", "Rail pressure", 1, 0, "kPa"),
        ],
    )
    def test_found_out(self, read, channel, header, factor, offset, unit):
        """Without a unit, the one in which the values make sense is taken."""
        log = read(table(["Time (s)", header], [DRIVE["time"], DRIVE[channel] * factor + offset]))
        assert (log.columns[1].channel, log.columns[1].unit) == (channel, unit)

    def test_open(self, read):
        """A speed that could be in either unit is doubtful, and the doubt names both and the way to settle it."""
        log = read(log_of(DRIVE, {"engine_speed": "RPM", "vehicle_speed": "Speed"}))
        column = log.columns[-1]
        assert column.channel == "vehicle_speed"
        assert "km/h" in column.doubt
        assert "mph" in column.doubt
        assert '"Speed" = "vehicle_speed, km/h"' in column.doubt

    def test_house_units(self, read):
        """A temperature without a unit follows the other columns of its file."""
        degrees_f = [DRIVE[name] * 1.8 + 32 for name in ("coolant_temperature", "intake_air_temperature")]
        log = read(table(["Time (s)", "Coolant (°F)", "IAT"], [DRIVE["time"], *degrees_f]))
        assert log.columns[2].unit == "degF"
        np.testing.assert_allclose(
            log.traces["intake_air_temperature"].values, DRIVE["intake_air_temperature"], atol=1e-3
        )

    def test_wrong_kind(self, read):
        """A name that fits and a unit that cannot: the column keeps its header and says why."""
        log = read(table(["Time (s)", "MAF (V)", "Load (g/rev)"], [DRIVE["time"], DRIVE["lambda"], DRIVE["lambda"]]))
        for column in log.columns[1:]:
            assert column.channel is None
            assert "no unit of" in column.doubt

    def test_per_cent_of_a_byte(self, read):
        """Ignition timing shown as a share of its byte is turned into degrees, 63.1 % being 16.5 deg, and is doubtful.

        SAE J1979, PID 0E: degrees are A/2 - 64, and 100 A/255 is how a byte is shown in per cent.
        """
        raw = np.tile([150, 161, 175, 120], 60)
        log = read(table(["Time (s)", "Timing Advance (%)"], [np.arange(240) / 4, raw * 100 / 255], digits=1))
        assert log.columns[1].doubt
        np.testing.assert_allclose(log.traces["ignition_timing"].values, raw / 2 - 64, atol=0.1)


class TestGaugeAndAbsolute:
    """Boost above ambient must come out right whatever the logger counts from."""

    def boost(self, log):
        """Manifold pressure above the ambient pressure that belongs to the trace. [kPa]"""
        reference = log.gauge_reference_kpa.get("manifold_pressure", AMBIENT)
        return log.traces["manifold_pressure"].values - reference

    @pytest.mark.parametrize("unit", ["kPa", "psi", "bar", "mbar", "inHg"])
    @pytest.mark.parametrize("gauge", [True, False])
    @pytest.mark.parametrize("word", ["Boost", "Manifold Pressure"])
    @pytest.mark.parametrize("ambient", [True, False])
    def test_without_a_word_on_the_reference(self, read, unit, gauge, word, ambient):
        """Closed-throttle vacuum tells gauge from absolute; boost is right with and without an ambient channel."""
        factor = {"kPa": 1, "psi": 1 / PSI, "bar": 0.01, "mbar": 10, "inHg": 1 / 3.38638864}[unit]
        truth = DRIVE["manifold_pressure"] - (AMBIENT if gauge else 0)
        beside = {"engine_speed": "RPM", "pedal_position": "Pedal (%)"}
        if ambient:
            beside["ambient_pressure"] = "Barometric pressure (kPa)"
        headers = ["Time (s)", *beside.values(), f"{word} ({unit})"]
        log = read(table(headers, [DRIVE["time"], *(DRIVE[name] for name in beside), truth * factor], digits=5))
        column = log.columns[-1]
        assert column.channel == "manifold_pressure"
        assert column.unit == (f"{unit} gauge" if gauge else unit)
        np.testing.assert_allclose(self.boost(log), DRIVE["manifold_pressure"] - AMBIENT, atol=1e-3)
        if gauge and ambient:
            assert log.gauge_reference_kpa["manifold_pressure"] == pytest.approx(AMBIENT)
            np.testing.assert_allclose(log.traces["manifold_pressure"].values, DRIVE["manifold_pressure"], atol=1e-3)
        if gauge and not ambient:
            assert log.gauge_reference_kpa["manifold_pressure"] == 101.325
            assert any("101.325 kPa was added" in note for note in log.notes)

    @pytest.mark.parametrize("gauge", [True, False])
    def test_before_the_throttle(self, read, gauge):
        """Charge pressure never falls far below ambient: near zero it is gauge, near 100 kPa absolute."""
        truth = DRIVE["charge_pressure"] - (AMBIENT if gauge else 0)
        headers = ["Time (s)", "RPM", "Baro (kPa)", "Ladedruck (mbar)"]
        log = read(table(headers, [DRIVE["time"], DRIVE["engine_speed"], DRIVE["ambient_pressure"], truth * 10]))
        assert log.columns[-1].channel == "charge_pressure"
        assert log.columns[-1].unit == ("mbar gauge" if gauge else "mbar")
        np.testing.assert_allclose(log.traces["charge_pressure"].values, DRIVE["charge_pressure"], atol=1e-3)

    @pytest.mark.parametrize("gauge", [True, False])
    def test_the_standing_engine_tells(self, read, gauge):
        """With the engine off an absolute sensor shows the barometer and a gauge sensor zero."""
        truth = STANDING["manifold_pressure"] - (AMBIENT if gauge else 0)
        log = read(table(["Time (s)", "RPM", "MAP (kPa)"], [STANDING["time"], STANDING["engine_speed"], truth]))
        assert log.columns[-1].unit == ("kPa gauge" if gauge else "kPa")

    def test_a_log_of_one_pull_in_gauge(self, read):
        """Only a pull, from 20 to 95 kPa gauge: at full pedal that is too little for absolute pressure."""
        time = np.arange(0, 8, 0.1)
        pressure = np.clip(20 + 20 * time, 0, 55)
        log = read(table(["Time (s)", "Pedal (%)", "MAP (kPa)"], [time, 0 * time + 100, pressure]))
        assert log.columns[-1].unit == "kPa gauge"

    def test_what_is_written_goes_before_a_guess(self, read):
        """`kPa abs` and `psig` are believed."""
        values = DRIVE["manifold_pressure"]
        log = read(table(["Time (s)", "Boost (kPa abs)"], [DRIVE["time"], values]))
        assert log.columns[1].unit == "kPa"
        log = read(table(["Time (s)", "Boost (psig)"], [DRIVE["time"], (values - AMBIENT) / PSI]))
        assert log.columns[1].unit == "psi gauge"

    def test_values_that_could_be_either_are_doubtful(self, read):
        """From 30 to 60 kPa all through, without pedal or engine speed, a boost column is uncertain and says so."""
        log = read(table(["Time (s)", "Boost pressure (kPa)"], [DRIVE["time"], 45 + 15 * np.sin(DRIVE["time"])]))
        assert "gauge or absolute" in log.columns[1].doubt

    def test_no_unit_at_all(self, read):
        """Boost from -9.6 to 13.8 without a unit is taken as psi gauge, and is doubtful."""
        psi = (DRIVE["manifold_pressure"] - AMBIENT) / PSI
        log = read(table(["Time (s)", "RPM", "Boost"], [DRIVE["time"], DRIVE["engine_speed"], psi]))
        assert (log.columns[2].channel, log.columns[2].unit) == ("manifold_pressure", "psi gauge")
        assert "no unit" in log.columns[2].doubt

    def test_target_shares_the_reference_of_the_measured_boost(self, read):
        """Target and boost in gauge: their difference is that of the file."""
        psi = [(DRIVE[name] - AMBIENT) / PSI for name in ("manifold_pressure", "charge_pressure_target")]
        log = read(table(["Time (s)", "Boost (psi)", "Target Boost (psi)"], [DRIVE["time"], *psi]))
        error = log.traces["charge_pressure_target"].values - log.traces["manifold_pressure"].values
        np.testing.assert_allclose(error, DRIVE["charge_pressure_target"] - DRIVE["manifold_pressure"], atol=0.02)

    def test_boost_cut_off_at_zero_is_no_second_sensor(self, read):
        """Boost that is manifold pressure above ambient, cut off at zero, is not taken before the throttle."""
        boost = np.maximum(0, DRIVE["manifold_pressure"] - AMBIENT)
        headers = ["Time (s)", "RPM", "Baro (kPa)", "MAP (kPa)", "Boost (kPa)"]
        values = [DRIVE[name] for name in ("time", "engine_speed", "ambient_pressure", "manifold_pressure")]
        log = read(table(headers, [*values, boost]))
        assert log.columns[-1].channel is None
        assert "cut off" in log.columns[-1].doubt

    def test_oil_pressure_stays_gauge(self, read):
        """Oil pressure is gauge in the contract; an absolute reading loses the ambient pressure."""
        absolute = STANDING["oil_pressure"] + AMBIENT
        headers = ["Time (s)", "RPM", "Baro (kPa)", "Oil Pressure (kPa)"]
        values = [STANDING[name] for name in ("time", "engine_speed", "ambient_pressure")]
        for pressure in (absolute, STANDING["oil_pressure"]):
            log = read(table(headers, [*values, pressure]))
            np.testing.assert_allclose(log.traces["oil_pressure"].values, STANDING["oil_pressure"], atol=1e-3)


class TestMixture:
    """Lambda and air-fuel ratio are told apart by their values."""

    @pytest.mark.parametrize(
        "header", ["AFR", "A/F Sens 1 Ratio (AFR)", "Air Fuel Ratio (:1)", "Wideband (AFR)", "Lambda"]
    )
    def test_air_fuel_ratio(self, read, header):
        """Values around 14 are an air-fuel ratio, whatever the header says; 14.7 is lambda 1 (common practice)."""
        log = read(table(["Time (s)", header], [DRIVE["time"], DRIVE["lambda"] * 14.7], digits=5))
        assert (log.columns[1].channel, log.columns[1].unit) == ("lambda", "AFR")
        np.testing.assert_allclose(log.traces["lambda"].values, DRIVE["lambda"], atol=1e-4)
        assert bool(log.columns[1].doubt) is (header == "Lambda")

    @pytest.mark.parametrize("header", ["Lambda", "λ", "AFR (Lambda)", "Wideband Lambda (λ)"])
    def test_lambda(self, read, header):
        """Values around 1 are lambda."""
        log = read(table(["Time (s)", header], [DRIVE["time"], DRIVE["lambda"]], digits=5))
        assert (log.columns[1].channel, log.columns[1].unit) == ("lambda", "lambda")
        np.testing.assert_allclose(log.traces["lambda"].values, DRIVE["lambda"], atol=1e-4)

    def test_the_logger_tells_its_own_ratio(self, read):
        """Where a log holds both, its lambda is taken, and for a target in AFR its own ratio is used."""
        values = [DRIVE["lambda"], DRIVE["lambda"] * 14.08, DRIVE["lambda_target"] * 14.08]
        log = read(table(["Time (s)", "Lambda", "AFR", "AFR Target"], [DRIVE["time"], *values], digits=5))
        assert [column.channel for column in log.columns] == ["time", "lambda", None, "lambda_target"]

    def test_a_mixture_that_never_moves_is_a_command(self, read):
        """A lambda of exactly 1.00 for minutes is no measurement."""
        log = read(
            table(
                ["Time (s)", "RPM", "Equivalence Ratio"], [DRIVE["time"], DRIVE["engine_speed"], 0 * DRIVE["time"] + 1]
            )
        )
        assert log.columns[2].channel == "lambda_target"
        assert "command" in log.columns[2].doubt


class TestHiddenScales:
    """What no header tells and the values do."""

    def test_engine_speed_in_thousands(self, read):
        """Engine speed from 0.8 to 6.4 is in thousands, whatever the unit says."""
        log = read(table(["Time (s)", "RPM (rpm)"], [DRIVE["time"], DRIVE["engine_speed"] / 1000], digits=5))
        assert log.columns[1].unit == "rpm x1000"
        assert log.columns[1].doubt
        np.testing.assert_allclose(log.traces["engine_speed"].values, DRIVE["engine_speed"], atol=0.01)

    def test_a_share_from_nought_to_one(self, read):
        """A pedal from 0 to 1 without a unit is a fraction."""
        log = read(table(["Time (s)", "Pedal"], [DRIVE["time"], DRIVE["pedal_position"] / 100], digits=5))
        assert log.columns[1].doubt
        np.testing.assert_allclose(log.traces["pedal_position"].values, DRIVE["pedal_position"], atol=0.01)

    def test_the_end_of_a_byte(self, read):
        """Manifold pressure that stands at 255 kPa is cut off there: one byte of SAE J1979, PID 0B, says no more."""
        pressure = np.minimum(255, np.round(DRIVE["manifold_pressure"] * 1.5))
        log = read(
            log_of({**DRIVE, "manifold_pressure": pressure}, {"engine_speed": "RPM", "manifold_pressure": "MAP (kPa)"})
        )
        assert "255 kPa" in log.columns[2].doubt
        log = read(
            log_of(
                {**DRIVE, "manifold_pressure": pressure * 1.2},
                {"engine_speed": "RPM", "manifold_pressure": "MAP (kPa)"},
            )
        )
        assert log.columns[2].doubt is None


@pytest.mark.parametrize(
    ("header", "says"),
    [("Duty Cycle (%)", "whose duty"), ("Wastegate (%)", "position"), ("Acceleration (m/s2)", "axis")],
)
def test_names_that_leave_something_open(read, header, says):
    """A name that fits more than one quantity is doubtful, and the doubt says what is open."""
    log = read(table(["Time (s)", header], [DRIVE["time"], 6 + 3 * np.sin(DRIVE["time"])]))
    assert says in log.columns[1].doubt


class TestKnock:
    """Retard counts positive, and cylinders are kept apart."""

    def test_sign(self, read):
        """A column that is only ever zero and below is retard with the other sign."""
        log = read(table(["Time (s)", "Knock Retard (°)"], [DRIVE["time"], -DRIVE["knock_retard"]]))
        np.testing.assert_allclose(log.traces["knock_retard"].values, DRIVE["knock_retard"], atol=1e-3)
        assert not np.any(np.signbit(log.traces["knock_retard"].values))

    def test_cylinders(self, read):
        """Per-cylinder retard has a channel for each cylinder, and none is taken for the worst of all."""
        headers = ["Time (s)", *(f"Knock Retard Cyl {number} (°)" for number in range(1, 5))]
        log = read(table(headers, [DRIVE["time"], *itertools.repeat(DRIVE["knock_retard"], 4)]))
        assert [column.channel for column in log.columns[1:]] == [f"knock_retard_{number}" for number in range(1, 5)]

    def test_numbered_columns(self, read):
        """Numbered columns of one kind are cylinders too."""
        headers = ["Time (s)", *(f"Knock Retard {number} (°)" for number in range(1, 5))]
        log = read(table(headers, [DRIVE["time"], *itertools.repeat(DRIVE["knock_retard"], 4)]))
        assert [column.channel for column in log.columns[1:]] == [f"knock_retard_{number}" for number in range(1, 5)]


class TestWastegateDuty:
    """100 is held closed: by the log's own behaviour where it shows, doubtful where it does not."""

    NAMES: ClassVar = {
        "engine_speed": "RPM",
        "pedal_position": "Pedal (%)",
        "ambient_pressure": "Baro (kPa)",
        "manifold_pressure": "MAP (kPa)",
        "charge_pressure_target": "Boost Target (kPa abs)",
        "wastegate_duty": "Wastegate Duty (%)",
    }

    @pytest.mark.parametrize("without", [None, "charge_pressure_target"])
    @pytest.mark.parametrize("reverse", [False, True])
    def test_inferred(self, read, without, reverse):
        """While pressure builds up at full load the gate is closed: a reversed duty is found and turned."""
        names = {name: header for name, header in self.NAMES.items() if name != without}
        channels = {**DRIVE, "wastegate_duty": 100 - DRIVE["wastegate_duty"] if reverse else DRIVE["wastegate_duty"]}
        log = read(log_of(channels, names))
        np.testing.assert_allclose(log.traces["wastegate_duty"].values, DRIVE["wastegate_duty"], atol=1e-3)
        assert bool(log.columns[-1].doubt) is reverse

    def test_unknown(self, read):
        """Without full load nothing shows the sense: the duty is kept as it is, and is doubtful."""
        calm = {name: np.where(DRIVE["pedal_position"] > 50, 30.0, DRIVE[name]) for name in ("pedal_position",)}
        log = read(log_of({**DRIVE, **calm}, self.NAMES))
        assert "held closed" in log.columns[-1].doubt
        assert "wastegate_duty_closed" in log.columns[-1].doubt
        np.testing.assert_allclose(log.traces["wastegate_duty"].values, DRIVE["wastegate_duty"], atol=1e-3)


class TestAgreement:
    """Channels vouch for each other."""

    def test_the_better_of_two(self, read):
        """Of two columns called alike the plain one is taken, and the other says so."""
        log = read(
            table(
                ["Time (s)", "Engine Speed 2 (rpm)", "Engine Speed (rpm)"],
                [DRIVE["time"], DRIVE["engine_speed"], DRIVE["engine_speed"]],
            )
        )
        assert [column.channel for column in log.columns] == ["time", None, "engine_speed"]
        assert '"Engine Speed (rpm)" was taken' in log.columns[1].doubt

    def test_two_that_disagree(self, read):
        """Two columns of one name that read differently leave the chosen one doubtful."""
        other = DRIVE["coolant_temperature"][::-1] - 40
        log = read(
            table(
                ["Time (s)", "Coolant Temp (°C)", "Engine Coolant Temp (°C)"],
                [DRIVE["time"], DRIVE["coolant_temperature"], other],
            )
        )
        chosen = next(column for column in log.columns if column.channel == "coolant_temperature")
        assert "reads differently" in chosen.doubt

    def test_a_duty_without_a_name_is_the_injector(self, read):
        """Duty that is pulse width times engine speed belongs to the injectors."""
        width = 2 + 9 * (DRIVE["pedal_position"] > 50)
        duty = width * DRIVE["engine_speed"] / 1200
        log = read(
            table(["Time (s)", "RPM", "PW (ms)", "Duty Cycle (%)"], [DRIVE["time"], DRIVE["engine_speed"], width, duty])
        )
        assert log.columns[3].channel == "injector_duty"
        assert log.columns[3].doubt is None
        assert log.columns[3].confidence > 0.8

    def test_acceleration_is_what_speed_does(self, read):
        """An acceleration without a unit is in the unit in which it adds up to the road speed."""
        speed = 40 + 30 * np.sin(DRIVE["time"] / 5)
        gravity = np.gradient(speed / 3.6, DRIVE["time"]) / 9.80665
        log = read(table(["Time (s)", "Speed (km/h)", "Acceleration"], [DRIVE["time"], speed, gravity], digits=5))
        assert (log.columns[2].channel, log.columns[2].unit) == ("longitudinal_acceleration", "g")

    def test_never_moving_sensors_are_doubtful(self, read):
        """A throttle that reads zero all through a drive is doubtful."""
        log = read(table(["Time (s)", "RPM", "TPS (%)"], [DRIVE["time"], DRIVE["engine_speed"], 0 * DRIVE["time"]]))
        assert "all through" in log.columns[2].doubt

    def test_implausible_values_are_doubtful(self, read):
        """A coolant temperature that reads 215 degC half of the time is doubtful."""
        values = np.where(np.arange(DRIVE["time"].size) % 2, 215.0, 90.0)
        log = read(table(["Time (s)", "Coolant Temp (°C)"], [DRIVE["time"], values]))
        assert "implausible" in log.columns[1].doubt


def test_confidence_and_evidence_are_given(read):
    """Each recognised column carries a confidence of at least a half and the evidence behind it."""
    log = read(log_of(DRIVE, {"engine_speed": "RPM", "vehicle_speed": "Speed", "manifold_pressure": "MAP"}))
    for column in log.columns:
        assert 0 <= column.confidence <= 1
        if column.channel not in (None, "time"):
            assert column.confidence >= 0.5
            assert column.evidence


def test_unrecognised_columns_are_kept_under_their_headers(read):
    """What is not recognised is still there, untouched."""
    log = read(table(["Time (s)", "RPM", "Flux"], [DRIVE["time"], DRIVE["engine_speed"], DRIVE["lambda"]]))
    assert log.columns[2].channel is None
    np.testing.assert_allclose(log.traces["Flux"].values, DRIVE["lambda"], atol=1e-3)


def test_short_for_something_else_is_no_unit(read):
    """TPM is a tyre pressure monitor, and turns a minute only beside a word of turning or in brackets."""
    header = ["Time (s)", "TPM", "Régime moteur tpm", "Régime turbo (tpm)"]
    log = read(table(header, [DRIVE["time"], DRIVE["gear"], DRIVE["engine_speed"], 40 * DRIVE["engine_speed"]]))
    assert [column.unit for column in log.columns[1:]] == [None, "rpm", "rpm"]
    assert log.columns[1].channel is None
