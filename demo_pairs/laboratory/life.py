"""Two years of thorax impacts that qualify two dummies: ribs that soften, and parts that are exchanged."""

from dataclasses import dataclass, replace
from datetime import date

from demo_pairs.laboratory.measuring_chain import TestRecord
from demo_pairs.laboratory.recording import planned, recorded
from demo_pairs.laboratory.scatter import draw

LIFE_CASE = "thorax-impact"
DAYS_PER_YEAR = 365.25


@dataclass(frozen=True, kw_only=True)
class Life:
    """The thorax of one dummy.

    Attributes
    ----------
    seed
        Fixes all draws.
    serial
        Of the thorax, as the headers of its tests write it.
    short
        Goes into test names.
    days
        Of its qualification tests.
    new_ribs
        Days on which the rib set was new.
    softening
        Loss of rib stiffness per year, as a share; invented.
    scatter
        Share of the usual scatter that is left: qualification tests wait for temperature and humidity.
    """

    seed: int
    serial: str
    short: str
    days: tuple[date, ...]
    new_ribs: tuple[date, ...]
    softening: float
    scatter: float = 0.4

    def stiffness(self, day: date) -> float:
        """Give the stiffness of the ribs on a day, as a share of that of new ones."""
        age = min((day - new).days for new in self.new_ribs if new <= day)
        return 1.0 - self.softening * age / DAYS_PER_YEAR


LIVES = (
    Life(
        seed=2004, serial="KM-T-004", short="Q4", softening=0.07,
        new_ribs=(date(2022, 2, 14), date(2023, 4, 17)),
        days=(
            date(2022, 3, 2), date(2022, 5, 11), date(2022, 7, 6), date(2022, 9, 14), date(2022, 11, 9),
            date(2023, 1, 18), date(2023, 3, 22), date(2023, 4, 19), date(2023, 6, 21), date(2023, 8, 16),
            date(2023, 10, 18), date(2023, 12, 6), date(2024, 2, 7),
        ),
    ),
    Life(
        seed=2005, serial="KM-T-005", short="Q5", softening=0.0, new_ribs=(date(2022, 2, 14),),
        days=(
            date(2022, 4, 6), date(2022, 7, 13), date(2022, 10, 19), date(2023, 1, 25), date(2023, 4, 26),
            date(2023, 7, 19), date(2023, 10, 25), date(2024, 1, 31),
        ),
    ),
)  # fmt: skip


def qualification_tests(life: Life) -> tuple[TestRecord, ...]:
    """Run all qualification tests of one thorax."""
    return tuple(_tested(life, number, day) for number, day in enumerate(life.days, start=1))


def _tested(life: Life, number: int, day: date) -> TestRecord:
    drawn = draw(life.seed, number)

    def closer(factor: float) -> float:
        return 1.0 + life.scatter * (factor - 1.0)

    variation = replace(
        drawn,
        speed=closer(drawn.speed),
        rubber=closer(drawn.rubber),
        foam=closer(drawn.foam),
        metal=closer(drawn.metal) * life.stiffness(day),
    )
    case = replace(
        planned(LIFE_CASE), seed=life.seed, short=life.short, serial=life.serial, day=day.isoformat()
    )
    return recorded(case, LIFE_CASE, number, variation)
