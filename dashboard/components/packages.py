"""Packages of reference data: the list of them, one of them inspected, and what its use would change."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import dash_mantine_components as dmc
from dash import dcc, html

from correlate import counted
from correlate.plots import as_sentence, channel_title, finding_title
from dashboard import ids, paths
from dashboard.components.controls import DECORATION, graph, head_row, with_label
from dashboard.components.data import PACKAGES_PART, data_link, data_part
from dashboard.components.laboratory import facts
from dashboard.components.media import media_list
from dashboard.components.paging import pager
from dashboard.selection import write_query

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    import plotly.graph_objects as go
    from dash.development.base_component import Component

    from correlate import CheckOutcome, Finding, PackageMedia, PackageUse, ReceivedPackage
    from dashboard.laboratory import SignatureWords

Uses = dict[str, tuple[str, ...]]
"""Tests of a package by the load case that uses them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class InspectedPackage:
    """A package and what is known of it now.

    Attributes
    ----------
    package
        As its note says.
    signature
        Who signed it.
    media
        Photos and films that it lists.
    tests
        Names of its tests by the load case of the sender.
    outcome
        Of the data check with the waivers of the project.
    checked
        When the check ran.
    uses
        Where its tests are used.
    refusal
        Why it cannot be released whatever the reason; empty where it can.
    """

    package: ReceivedPackage
    signature: SignatureWords
    media: Sequence[PackageMedia]
    tests: Mapping[str, Sequence[Path]]
    outcome: CheckOutcome
    checked: str
    uses: Uses
    refusal: str


def packages_list(
    packages: Sequence[ReceivedPackage],
    uses: Mapping[str, Uses],
    signatures: Mapping[str, SignatureWords],
    search: str | None = "",
) -> Component:
    """Return the packages that were uploaded, those in quarantine first."""
    if not packages:
        return html.P("No package has been uploaded yet.", className="note")
    part = data_part(packages, search, PACKAGES_PART)
    entries = [_package(one, uses.get(one.name, {}), signatures[one.name], search) for one in part.rows]
    links = pager(part, "Packages", data_link(search, PACKAGES_PART))
    return html.Div([html.Ul(entries, className="packages"), *links])


def _package(one: ReceivedPackage, uses: Uses, signature: SignatureWords, search: str | None) -> html.Li:
    link = dcc.Link(
        one.name,
        href=paths.DATA + write_query({"package": one.name}, search) + f"#{ids.DATA_INSPECTION}",
        title=f"Inspect the package {one.name}",
        className="package-name",
    )
    parts: list[Component] = [html.Div([link, state_tag(one)])]
    parts.append(html.P(one.problem or one.folder, className="note package-words"))
    if not one.problem:
        parts.append(html.P(as_sentence(signature.words), className="note package-words"))
    parts += _distrusted(one, signature)
    if one.released:
        record = one.released.words
        parts.append(html.P(as_sentence(record), className="note package-words"))
    if uses:
        parts.append(html.P(f"Used in {uses_words(uses)}.", className="note package-words"))
    if one.findings:
        title = f"{one.errors} of {len(one.findings)} findings of the data check are errors"
        entries = html.Ul([html.Li(finding) for finding in one.findings], className="assumptions")
        parts.append(html.Details([html.Summary(title), entries]))
    return html.Li(parts, className=f"package{' is-quarantined' if _needs_care(one) else ''}")


def _distrusted(one: ReceivedPackage, signature: SignatureWords) -> list[Component]:
    """Return why a package is in quarantine for its signature, or why that is not accepted any more."""
    if one.quarantine and one.distrust:
        return [html.P(f"In quarantine because {one.distrust}.", className="note package-words")]
    if not one.problem and not one.quarantine and signature.objection:
        words = f"The signature is not accepted today: {signature.objection}."
        return [html.P(words, className="note package-words is-attention")]
    return []


def _needs_care(one: ReceivedPackage) -> bool:
    return one.quarantine or bool(one.problem) or one.released is not None


def state_tag(one: ReceivedPackage) -> html.Span:
    """Return the state of a package in words, with a mark where it needs attention."""
    if one.quarantine:
        words = "in quarantine"
    elif one.released:
        words = "released from quarantine"
    else:
        words = "received"
    if not _needs_care(one):
        return html.Span(words, className="tag")
    mark = html.Span("!", className="state-mark", **DECORATION)
    return html.Span([mark, words], className="tag is-quarantined")


def uses_words(uses: Uses) -> str:
    """Return which load cases use the tests of a package.

    Examples
    --------
    >>> uses_words({"head-drop": ("T1", "T2")})
    'head-drop (T1, T2)'
    """
    return "; ".join(f"{case} ({', '.join(tests)})" for case, tests in uses.items())


def inspection_head(name: str, package: ReceivedPackage | None, search: str | None) -> list[Component]:
    """Return name and state of a package, and the link that closes it."""
    tags = [] if package is None else [state_tag(package)]
    back = paths.DATA + write_query({"package": "", "job": ""}, search)
    return [html.H2([f"Package {name}", *tags]), dcc.Link("Close", href=back.rstrip("?"))]


def inspection_parts(
    one: InspectedPackage,
    drawn: Sequence[tuple[Finding, go.Figure | None]],
    tidy: Callable[[str], str],
) -> list[Component]:
    """Return what is known of a package: state, signature, tests, and the findings that are waived."""
    package, outcome = one.package, one.outcome
    checked = f"{outcome.in_words}; checked {one.checked}"
    known = [
        ("Check", checked),
        ("Signature", as_sentence(one.signature.words)),
        ("Folder", package.folder),
        ("Used in", uses_words(one.uses) if one.uses else "no load case"),
    ]
    if package.released:
        known.insert(0, ("Released", package.released.words))
    parts: list[Component] = [facts(known), *_distrusted(package, one.signature), _tests_table(one)]
    if one.media:
        parts += [html.H3("Photos and films"), media_list({(package.name, media): () for media in one.media})]
    if not drawn:
        parts.append(html.P("No open finding in any test.", className="check-clear"))
    if outcome.waived:
        entries = [
            html.Li(f"{tidy(waived.finding.short_place)}: {waived.finding.kind}, {waived.waiver.words}")
            for waived in outcome.waived
        ]
        parts += [html.H3("Waived"), html.Ul(entries, className="assumptions")]
    return parts


def _tests_table(one: InspectedPackage) -> html.Table:
    columns = [("Test", "name"), ("Load case of the sender", "case")]
    columns += [(words, "count") for words in ("Channels", "Errors", "Warnings", "Waived")]
    rows = [_test_row(one, case, path) for case, paths_ in one.tests.items() for path in paths_]
    return html.Table([head_row(columns), html.Tbody(rows)], className="lines held-lines package-tests")


def _test_row(one: InspectedPackage, case: str, path: Path) -> html.Tr:
    outcome, file = one.outcome, str(path)
    counts = {
        "Channels": sum(channel.file == file for channel in outcome.channels),
        "Errors": sum(found.file == file and found.severity == "error" for found in outcome.findings),
        "Warnings": sum(found.file == file and found.severity == "warning" for found in outcome.findings),
        "Waived": sum(waived.finding.file == file for waived in outcome.waived),
    }
    cells = [
        html.Td(
            with_label(label, str(count)),
            className=f"cell-count{' is-loud' if label == 'Errors' and count else ''}",
        )
        for label, count in counts.items()
    ]
    return html.Tr(
        [
            html.Th(path.name, scope="row", className="cell-name"),
            html.Td(with_label("Load case", case), className="cell-case"),
            *cells,
        ]
    )


def finding_choices(
    drawn: Sequence[tuple[Finding, go.Figure | None]], tidy: Callable[[str], str], *, may_waive: bool
) -> list[Component]:
    """Return the open findings of a package with their curves, each with a box that picks it for a waiver."""
    return [
        _choice(number, finding, figure, tidy, may_waive=may_waive)
        for number, (finding, figure) in enumerate(drawn)
    ]


def _choice(
    number: int,
    finding: Finding,
    figure: go.Figure | None,
    tidy: Callable[[str], str],
    *,
    may_waive: bool,
) -> html.Article:
    test = Path(finding.file).name
    title = finding_title(finding, test)
    where = f"{channel_title(finding.channel)}. " if finding.channel else ""
    what = tidy(finding.what)
    heading: Component = html.H3(title)
    if may_waive:
        heading = html.H3(dmc.Checkbox(value=finding_key(finding), label=title, className="finding-box"))
    place = {"type": ids.DATA_FINDING, "number": number}
    curve = None if figure is None else graph(place, figure, kind="finding-figure")
    return html.Article(
        [
            heading,
            html.P(where + as_sentence(what)),
            html.P(f"Remedy: {finding.remedy}.", className="note"),
            *([curve] if curve is not None else []),
        ],
        className=f"finding is-{finding.severity}",
    )


def finding_key(finding: Finding) -> str:
    """Return how a box names its finding: test, channel and kind, as a waiver does."""
    return f"{Path(finding.file).stem}\n{finding.channel}\n{finding.kind}"


def change_parts(use: PackageUse, present: int, stale: Mapping[str, int]) -> list[Component]:
    """Return what would change when tests of a package are used."""
    tests = ", ".join(use.tests)
    if use.is_new:
        words = f"New load case '{use.load_case}' with {counted(len(use.tests), 'test')}: {tests}."
        rates = ", ".join(map(channel_title, use.channels))
        more = [f"It rates {counted(len(use.channels), 'channel')}: {rates}."]
        more.append("Its pairs can be rated once a release has a result for it.")
    else:
        after = present + len(use.tests)
        words = f"Load case '{use.load_case}' gets {tests}: {present} tests now, {after} after the change."
        counts = ", ".join(f"{release} ({counted(pairs, 'pair')})" for release, pairs in stale.items())
        more = [
            f"Ratings of this load case become stale until they are rated again: {counts}."
            if counts
            else "No release has a rating of this load case yet."
        ]
    more += [
        f"{test} lacks {', '.join(map(channel_title, channels))}." for test, channels in use.missing.items()
    ]
    if use.released:
        more.append(f"The package was {use.released.words}.")
    changed = "\n".join(f"{line[0]} {line[1:]}" for line in use.lines if line.strip("+-"))
    return [
        html.H3("What changes"),
        html.P(words),
        html.Ul([html.Li(line) for line in more], className="assumptions"),
        html.P("Lines of campaign.toml:", className="note"),
        html.Pre(changed, className="changed-lines"),
    ]


def used_parts(use: PackageUse, stale: Mapping[str, int]) -> list[Component]:
    """Return which tests of a package are used, what is stale now, and the link to rating."""
    tests = ", ".join(use.tests)
    verb = "is" if len(use.tests) == 1 else "are"
    words = f"{tests} of package {use.package} {verb} used in '{use.load_case}'."
    parts: list[Component] = [html.P(words, className="job-end")]
    if stale:
        parts.append(
            html.P(f"Stale until they are rated again: ratings of {', '.join(stale)}.", className="note")
        )
    parts.append(html.P(html.A("Rate unrated pairs", href=f"#{ids.DATA_RATE}")))
    return parts
