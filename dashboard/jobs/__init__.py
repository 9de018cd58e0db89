"""Background job: started by a page, done by a separate process, looked at as often as one likes.

A page starts a job from a callback that is registered with the role the job needs, and asks how it goes from
a callback with a ``dcc.Interval``; the number of the job is kept in the URL, so that it survives a
reload::

    number = jobs_of_server().start("score", {"releases": ["A3"]}, current_account())
    state = jobs_of_server().state(number)  # .progress, .words, .over, .result, .failure
    jobs_of_server().cancel(number, current_account())

What can be started stands in ``dashboard.jobs.kinds.KINDS``.
"""

from dashboard.jobs.jobs import Jobs, jobs_of_server, offer_jobs
from dashboard.jobs.table import JobState

__all__ = ["JobState", "Jobs", "jobs_of_server", "offer_jobs"]
