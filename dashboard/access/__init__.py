"""Who may do what: roles, the account behind a request, and the least role of every callback.

How a page uses it
------------------
Callbacks are registered inside ``permitted``, which gives each its least role. The application does it for
every page, so that a page that only shows things does nothing at all::

    with permitted(app, Role.VIEWER):
        page.register(app, kept)

A page whose callback changes or hands out something asks for more, around that callback alone; ``audited``
says in the audit trail what was done, ``takes_files`` lets the callback receive more than a few menu values::

    with permitted(app, Role.LAB, audited="took in a package", takes_files=True):
        @app.callback(...)
        def _take_in(...): ...

A callback that computes for more than about 100 ms is ``expensive``. Only a few of them are computed at a
time (`dashboard.access.slots`), so that the others are answered at once::

    @app.callback(...)
    @expensive
    def _show(...): ...

A callback that is registered outside of ``permitted`` has no role, and a server with accounts does not start.
A route of the web server is registered in the same way.

``current_account()`` is the account behind the request: its name is for display, its role decides what is
offered (``current_account().role.allows(Role.LAB)``). Hiding is a courtesy; the role is checked on the server
whatever the page shows. ``require(role)`` refuses the request otherwise; it is for layouts and for parts of a
callback. ``record(what, about)`` adds to the audit trail where ``audited`` cannot say which thing was meant.

On one's own machine there are no accounts: whoever asks is `THIS_MACHINE`, which may do everything.
"""

from dashboard.access.account import (
    THIS_MACHINE,
    Account,
    Role,
    current_account,
    expensive,
    permitted,
    record,
    require,
    signs_as,
)

__all__ = [
    "THIS_MACHINE",
    "Account",
    "Role",
    "current_account",
    "expensive",
    "permitted",
    "record",
    "require",
    "signs_as",
]
