"""Runs one job after the other in the worker, and records how each ended."""

from __future__ import annotations

import logging
from dataclasses import dataclass, field
from threading import Event
from typing import TYPE_CHECKING, Final

from correlate import CorrelateError
from dashboard.jobs.kinds import kind_of
from dashboard.jobs.work import Cancelled, Interrupted, Place, Work

if TYPE_CHECKING:
    from dashboard.jobs.records import JobRecords

WORKER_ENDED: Final = (
    "The worker was stopped before the job was finished. Start the job again; finished ratings are kept."
)

FAULT: Final = "Internal error. See the server log."

_LOG: Final = logging.getLogger("dashboard.jobs")


@dataclass(frozen=True, slots=True, kw_only=True)
class Runner:
    """Does what the queue hands over.

    Attributes
    ----------
    records
        Of the jobs.
    place
        Where they are done.
    stopping
        Set when the worker must end.
    """

    records: JobRecords
    place: Place
    stopping: Event = field(default_factory=Event)

    def run(self, number: str) -> None:
        """Do a job, unless it was cancelled while it waited.

        Parameters
        ----------
        number
            Of the job.
        """
        if not self.records.begin(number):
            return
        state = self.records.find(number)
        work = Work(
            number=number,
            who=state.who,
            arguments=state.arguments,
            place=self.place,
            records=self.records,
            stopping=self.stopping,
        )
        try:
            result = kind_of(state.kind).do(work)
        except Cancelled:
            self.records.end(number, "cancelled")
        except Interrupted:
            self.records.end(number, "failed", failure=WORKER_ENDED)
        except CorrelateError as error:
            self.records.end(number, "failed", failure=str(error))
        except Exception:  # noqa: BLE001 - whatever it is, the page must learn that the job is over
            _LOG.exception("job %s of kind %s failed", number, state.kind)
            self.records.end(number, "failed", failure=FAULT)
        else:
            self.records.end(number, "done", result=result)

    def give_up_lost(self) -> None:
        """Write down that jobs which ran when a worker was killed will never end."""
        for state in self.records.open_jobs():
            if state.stage == "running":
                self.records.end(state.number, "failed", failure=WORKER_ENDED)
