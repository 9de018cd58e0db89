"""The pages, one package each.

How a page is added
-------------------
Write a package ``dashboard/pages/<name>/`` with ``layout.py`` and ``callbacks.py``, which hold the functions
and the constant below, and put the constant into ``PAGES`` of ``dashboard/app.py``, in the order of the menu:

``layout(search)``
    Returns the page, a ``dash.html.Main``, empty until its callbacks have run. It is asked for only when the
    page is visited, and must be quick: it reads no file. ``search`` is the query of the URL. The
    page begins with ``pages.page.page_parts(name, search)``, which are a URL and the title of the
    tab, and holds whatever it shows. Other pages are not there at that time: no callback may name their
    components.
``show(project, event)``
    Or as many plain functions as the page needs: what the browser sends in, everything that is shown out.
    They compute nothing: they ask ``dashboard.state.Project``, hand the result to ``correlate.plots`` and to
    ``dashboard.components``, and turn a ``CorrelateError`` into a message with a link to a page that works.
``register(app, project)``
    Connects these functions. Outputs are components of this page only; inputs are those and ``ids.THEME``. A
    callback that listens to ``pages.page.address_of(name)`` takes its path too and does nothing when that is
    the path of another page, which happens in the moment of leaving.
    The application registers pages for every account that may view them; a callback that changes or exports
    something is registered inside ``permitted`` of ``dashboard.access`` with the role that it needs.
``PAGE``
    ``Page(path=paths.TUNING, name="Tuning", layout=layout, register=register)``.

The state of a page is the query of the URL and nothing else, so that every view can be sent as a
link; menus write it, and Back and Forward read it. ``selection.SHARED`` are the keys that all pages share:
a page writes its URL with ``write_query(values, search)``, which keeps those that it has no menu for. All
ids are in ``dashboard/ids.py``; a page starts its own with its name. Paths are in ``dashboard/paths.py``.
"""
