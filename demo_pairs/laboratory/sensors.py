"""Which transducers each load case carries: codes after ISO/TS 13499, dummy type letters KM.

Natural frequencies, damping and strengths of the modes are invented: strengths are chosen so that ringing
of a few per cent of the peak is left behind the usual filter class, less where soft parts lie between the
blow and the sensor.
"""

from demo_pairs.laboratory.measuring_chain import Sensor
from demo_pairs.laboratory.ringing import Mode

ACCELEROMETER_NOISE, CELL_NOISE, TRAVEL_NOISE = 1e-3, 4e-4, 1.5e-4
"""Rms as a share of full scale; invented, their order is common practice."""
CABLE_HUM, TRAVEL_HUM = 1.5e-4, 5e-5


def _acceleration(
    quantity: str,
    code: str,
    place: str,
    *,
    full_scale: float,
    frequency: float,
    modes: tuple[Mode, ...],
) -> Sensor:
    return Sensor(
        quantity=quantity,
        code=code,
        description=f"{place} acceleration {code[14].lower()}",
        unit="m/s^2",
        full_scale=full_scale,
        mount_frequency=frequency,
        noise=ACCELEROMETER_NOISE,
        hum=CABLE_HUM,
        modes=modes,
    )


def _load(
    quantity: str, code: str, description: str, *, unit: str, full_scale: float, modes: tuple[Mode, ...]
) -> Sensor:
    return Sensor(
        quantity=quantity,
        code=code,
        description=description,
        unit=unit,
        full_scale=full_scale,
        noise=CELL_NOISE,
        hum=CABLE_HUM,
        modes=modes,
    )


def _travel(
    quantity: str,
    code: str,
    description: str,
    *,
    unit: str,
    full_scale: float,
    modes: tuple[Mode, ...] = (),
) -> Sensor:
    return Sensor(
        quantity=quantity,
        code=code,
        description=description,
        unit=unit,
        full_scale=full_scale,
        noise=TRAVEL_NOISE,
        hum=TRAVEL_HUM,
        modes=modes,
    )


HEAD = (
    _acceleration(
        "ax", "D0HEAD0000KMACXP", "head", full_scale=5000.0, frequency=5200.0,
        modes=(
            Mode(frequency=1150.0, damping=0.05, strength=-28.0),
            Mode(frequency=1900.0, damping=0.04, strength=-20.0),
        ),
    ),
    _acceleration(
        "ay", "D0HEAD0000KMACYP", "head", full_scale=500.0, frequency=4600.0,
        modes=(
            Mode(frequency=900.0, damping=0.05, strength=1.4),
            Mode(frequency=1640.0, damping=0.04, strength=0.9),
        ),
    ),
    _acceleration(
        "az", "D0HEAD0000KMACZP", "head", full_scale=2500.0, frequency=5000.0,
        modes=(
            Mode(frequency=1050.0, damping=0.05, strength=15.0),
            Mode(frequency=1720.0, damping=0.04, strength=9.0),
        ),
    ),
)  # fmt: skip

NECK = (
    _acceleration(
        "pendulum", "00PEND000000ACXP", "pendulum", full_scale=1000.0, frequency=1900.0,
        modes=(
            Mode(frequency=165.0, damping=0.05, strength=-3.6),  # the tube of the arm bends
            Mode(frequency=640.0, damping=0.03, strength=-7.0),
        ),
    ),
    _travel("rotation", "D0HEAD0000KMANYP", "head rotation against pendulum", unit="deg", full_scale=180.0),
    _load(
        "shear", "D0NECKUP00KMFOXP", "upper neck force x", unit="N", full_scale=9000.0,
        modes=(Mode(frequency=260.0, damping=0.07, strength=3.6),),
    ),
    _load(
        "axial", "D0NECKUP00KMFOZP", "upper neck force z", unit="N", full_scale=14000.0,
        modes=(
            Mode(frequency=410.0, damping=0.05, strength=4.0),
            Mode(frequency=930.0, damping=0.04, strength=1.5),
        ),
    ),
    _load(
        "moment", "D0NECKUP00KMMOYP", "upper neck moment y", unit="Nm", full_scale=300.0,
        modes=(Mode(frequency=330.0, damping=0.06, strength=0.24),),
    ),
)  # fmt: skip

THORAX = (
    _acceleration(
        "probe", "00PEND000000ACXP", "probe", full_scale=1000.0, frequency=3100.0,
        modes=(
            Mode(frequency=430.0, damping=0.04, strength=-2.5),
            Mode(frequency=1250.0, damping=0.03, strength=-3.0),
        ),
    ),
    _travel(
        "deflection", "D0CHST0003KMDSXP", "sternum displacement x", unit="mm", full_scale=100.0,
        modes=(Mode(frequency=210.0, damping=0.08, strength=0.02),),  # the arm of the potentiometer
    ),
    _acceleration(
        "spine", "D0THSPUP00KMACXP", "upper spine", full_scale=1000.0, frequency=2200.0,
        modes=(
            Mode(frequency=520.0, damping=0.05, strength=-3.6),
            Mode(frequency=980.0, damping=0.04, strength=-3.0),
        ),
    ),
)  # fmt: skip

KNEE = (
    _acceleration(
        "probe", "00PEND000000ACXP", "probe", full_scale=2500.0, frequency=4200.0,
        modes=(
            Mode(frequency=1150.0, damping=0.04, strength=-24.0),
            Mode(frequency=1850.0, damping=0.05, strength=-8.0),
        ),
    ),
    _load(
        "femur", "D0FEMRLE00KMFOZP", "left femur force z", unit="N", full_scale=20000.0,
        modes=(Mode(frequency=870.0, damping=0.05, strength=-76.0),),
    ),
)  # fmt: skip

SEAT = (
    _acceleration(
        "seat", "S0SEAT000000ACZP", "seat", full_scale=500.0, frequency=1400.0,
        modes=(
            Mode(frequency=145.0, damping=0.05, strength=-1.7),  # the platform bends
            Mode(frequency=520.0, damping=0.04, strength=-2.6),
        ),
    ),
    _acceleration(
        "pelvis", "D0PELV0000KMACZP", "pelvis", full_scale=1000.0, frequency=1800.0,
        modes=(Mode(frequency=420.0, damping=0.06, strength=-1.6),),
    ),
    _load(
        "lumbar", "D0LUSP0000KMFOZP", "lumbar force z", unit="N", full_scale=20000.0,
        modes=(Mode(frequency=310.0, damping=0.06, strength=-13.0),),
    ),
    _acceleration(
        "chest", "D0CHST0000KMACZP", "chest", full_scale=1000.0, frequency=2100.0,
        modes=(Mode(frequency=440.0, damping=0.06, strength=-1.4),),
    ),
    _acceleration(
        "head", "D0HEAD0000KMACZP", "head", full_scale=1000.0, frequency=5000.0,
        modes=(Mode(frequency=600.0, damping=0.05, strength=-1.6),),
    ),
    _load(
        "neck", "D0NECKUP00KMFOZP", "upper neck force z", unit="N", full_scale=9000.0,
        modes=(Mode(frequency=350.0, damping=0.06, strength=-2.2),),
    ),
)  # fmt: skip
