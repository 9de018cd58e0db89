"""Which transducers each load case carries: codes after ISO/TS 13499, dummy type letters KM."""

from demo_pairs.laboratory.measuring_chain import Sensor


def _acceleration(
    quantity: str, code: str, place: str, *, full_scale: float, frequency: float, damping: float = 0.05
) -> Sensor:
    return Sensor(
        quantity=quantity,
        code=code,
        description=f"{place} acceleration {code[14].lower()}",
        unit="m/s^2",
        full_scale=full_scale,
        mount_frequency=frequency,
        mount_damping=damping,
    )


def _other(quantity: str, code: str, description: str, *, unit: str, full_scale: float) -> Sensor:
    return Sensor(quantity=quantity, code=code, description=description, unit=unit, full_scale=full_scale)


HEAD = (
    _acceleration("ax", "D0HEAD0000KMACXP", "head", full_scale=5000.0, frequency=5200.0),
    _acceleration("ay", "D0HEAD0000KMACYP", "head", full_scale=1000.0, frequency=4600.0),
    _acceleration("az", "D0HEAD0000KMACZP", "head", full_scale=2500.0, frequency=5000.0),
)

NECK = (
    _acceleration("pendulum", "00PEND000000ACXP", "pendulum", full_scale=1000.0, frequency=1900.0),
    _other("rotation", "D0HEAD0000KMANYP", "head rotation against pendulum", unit="deg", full_scale=180.0),
    _other("shear", "D0NECKUP00KMFOXP", "upper neck force x", unit="N", full_scale=9000.0),
    _other("axial", "D0NECKUP00KMFOZP", "upper neck force z", unit="N", full_scale=14000.0),
    _other("moment", "D0NECKUP00KMMOYP", "upper neck moment y", unit="Nm", full_scale=300.0),
)

THORAX = (
    _acceleration("probe", "00PEND000000ACXP", "probe", full_scale=1000.0, frequency=3100.0),
    _other("deflection", "D0CHST0003KMDSXP", "sternum displacement x", unit="mm", full_scale=100.0),
    _acceleration("spine", "D0THSPUP00KMACXP", "upper spine", full_scale=1000.0, frequency=2200.0),
)

KNEE = (
    _acceleration("probe", "00PEND000000ACXP", "probe", full_scale=2500.0, frequency=4200.0),
    _other("femur", "D0FEMRLE00KMFOZP", "left femur force z", unit="N", full_scale=20000.0),
)

SEAT = (
    _acceleration("seat", "S0SEAT000000ACZP", "seat", full_scale=500.0, frequency=1400.0),
    _acceleration("pelvis", "D0PELV0000KMACZP", "pelvis", full_scale=1000.0, frequency=1800.0),
    _other("lumbar", "D0LUSP0000KMFOZP", "lumbar force z", unit="N", full_scale=20000.0),
    _acceleration("chest", "D0CHST0000KMACZP", "chest", full_scale=1000.0, frequency=2100.0),
    _acceleration("head", "D0HEAD0000KMACZP", "head", full_scale=1000.0, frequency=5000.0),
    _other("neck", "D0NECKUP00KMFOZP", "upper neck force z", unit="N", full_scale=9000.0),
)
