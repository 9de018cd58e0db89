"""The channel book: the same campaign as written out long."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from correlate import load_campaign
from correlate.evaluation import inputs_state
from correlate.evaluation.book.files import READY_MADE_FOLDER
from correlate.evaluation.book.keys import IncludedBook
from correlate.evaluation.book.usual import usual_settings
from correlate.toml import read_toml, toml_entry
from tests.evaluation.book.conftest import HEAD

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from correlate import Campaign

    Write = Callable[..., Path]

LONG = """
#
[[load_case]]
name = "head"
tests = ["t/*"]
interval_ms = [0, 10]
step_ms = 0.05

[[load_case.channel]]
test = "D0HEAD0000KMACXP"
model = "head x"
region = "head"
cfc = 1000
test_offset_ms = [-40, -5]

[[load_case]]
name = "neck"
tests = ["t/*"]
interval_ms = [0, 150]
step_ms = 0.05

[[load_case.channel]]
test = "D0HEAD0000KMACXP"
model = "head x"
region = "head"
cfc = 180
test_offset_ms = [-40, -5]

[[load_case.channel]]
test = "D0NECKUP00KMFOZP"
model = "neck z"
region = "neck"
cfc = 600
model_sign = -1
test_offset_ms = [-40, -5]
"""

SHORT = """
include = ["books/dummy.toml"]
channel = [
  {test = "D0HEAD0000KMACXP", model = "head x"},  # inline
]
#
[every_load_case]
step_ms = 0.05
interval_ms = [0, 150]

[[load_case]]
name = "head"
tests = ["t/*"]
interval_ms = [0, 10]
channels = ["??HEAD*"]

[[load_case]]
name = "neck"
tests = ["t/*"]
regions = ["neck"]
channels = ["D0HEAD0000KMACXP"]

[[load_case.override]]
test = "*ACX*"
cfc = 180
"""

DUMMY = """
[[default]]
test = "*"
test_offset_ms = [-40, -5]

[[default]]
quantity = "acceleration"
cfc = 1000

[[channel]]
test = "D0NECKUP00KMFOZP"
model = "neck z"
cfc = 600
model_sign = -1
"""


def by_name(campaign: Campaign) -> list[Any]:
    """Return the load cases with their channels in the order of their names."""
    return [
        case.model_copy(update={"channel": sorted(case.channel, key=lambda one: one.test)})
        for case in campaign.load_cases
    ]


def test_a_book_is_the_same_as_the_campaign_written_out(write: Write) -> None:
    """Includes, defaults by quantity and pattern, picks and an override: the same load cases."""
    long = by_name(load_campaign(write(LONG)))
    campaign = load_campaign(write(SHORT, dummy=DUMMY))
    assert by_name(campaign) == long
    assert [path.name for path in campaign.files] == ["campaign.toml", "dummy.toml"]


def one_case(write: Write, text: str, **books: str) -> Any:
    """Return the only channel of the only load case of a campaign."""
    (case,) = load_campaign(write(text, **books)).load_cases
    (channel,) = case.channel
    return channel


CASE = """
[[load_case]]
name = "head"
tests = ["t/*"]
interval_ms = [0, 10]
"""


@pytest.mark.parametrize("levels", range(1, 6))
def test_the_later_of_two_settings_wins(write: Write, levels: int) -> None:
    """From included defaults to the override: each level takes over from those before it."""
    weights = [1.0 + level for level in range(levels)]
    lines = [f"weight = {weight}" for weight in weights] + [""] * (5 - levels)
    default = '[[default]]\ntest = "*"\n'
    text = f"""
include = ["books/a.toml"]
#
{default}weight = 0.5
{default}{lines[1]}
[[channel]]
test = "D0HEAD0000KMACXP"
{lines[3]}
{CASE}
[[load_case.default]]
quantity = "acceleration"
{lines[2]}
[[load_case.override]]
test = "??HEAD*"
{lines[4]}
"""
    text = text if levels > 1 else text.replace("weight = 0.5\n", "")
    assert one_case(write, text, a=default + lines[0]).weight == weights[-1]


def test_a_default_can_be_taken_away(write: Write) -> None:
    """'none' is no filter and no offset although a default gives them."""
    default = '#\n[[default]]\ntest = "*"\ncfc = 180\ntest_offset_ms = [-40, -5]\n'
    channel = '[[channel]]\ntest = "D0HEAD0000KMACXP"\ncfc = "none"\ntest_offset_ms = "none"\n'
    plan = one_case(write, default + channel + CASE)
    assert (plan.cfc, plan.test_offset_ms, plan.region) == (None, None, "head")


def test_a_load_case_takes_the_whole_book_unless_it_says_otherwise(write: Write) -> None:
    """No pick and no channel: all; a channel of its own: that one, and what is picked before it."""
    book = '#\n[[channel]]\ntest = "a"\nregion = "r"\n[[channel]]\ntest = "b"\nregion = "s"\n'
    own = '[[load_case.channel]]\ntest = "c"\nregion = "r"\n'

    def names(rest: str) -> list[str]:
        return [one.test for one in load_campaign(write(book + CASE + rest)).load_cases[0].channel]

    assert names("") == ["a", "b"]
    assert names(own) == ["c"]
    assert names('channels = ["b"]\n' + own) == ["b", "c"]
    assert names('channels = ["b"]\nregions = ["r"]\n' + own) == ["a", "b", "c"]


def test_a_file_that_is_included_twice_counts_once(write: Write) -> None:
    """By two ways, and by two spellings of its path; the hash changes with any of the files."""
    text = 'include = ["books/a.toml", "books/b.toml", "books/../books/b.toml"]\n#\n' + CASE
    channel = '[[channel]]\ntest = "a"\nregion = "r"\n'
    first = load_campaign(write(text, a='include = ["b.toml"]', b=channel))
    assert [path.name for path in first.files] == ["campaign.toml", "a.toml", "b.toml"]
    assert [one.test for one in first.load_cases[0].channel] == ["a"]
    second = load_campaign(write(text, a='include = ["b.toml"]', b=channel + "# more"))
    assert first.sha256 != second.sha256


def test_layouts_and_weights_of_regions_can_be_included(write: Write) -> None:
    """The file's own weight wins; a weight of a region that is not rated here is left out."""
    columns = '[{name = "t", unit = "s"}, {name = "a", unit = "N"}]'
    layout = f'[[layout]]\nname = "rows"\ntime = "t"\ncolumns = {columns}\n'
    book = layout + "[regions]\nhead = 2.0\nneck = 3.0\nleg = 4.0\n"
    text = f"""
include = ["books/a.toml"]
#
[regions]
neck = 0.5
[every_load_case]
layout = "rows"
channel = 1
[[channel]]
test = "D0HEAD0000KMACXP"
[[channel]]
test = "D0NECKUP00KMFOZP"
{CASE}
""".replace("channel = 1\n", "")
    campaign = load_campaign(write(text, a=book))
    assert campaign.regions == {"head": 2.0, "neck": 0.5}
    assert (campaign.load_cases[0].layout, list(campaign.layouts)) == ("rows", ["rows"])


def test_books_of_defaults_for_one_load_case(write: Write) -> None:
    """What a load case includes holds for it alone."""
    book = '[[default]]\ntest = "*"\ncfc = 60\n'
    text = f'#\n[[channel]]\ntest = "D0HEAD0000KMACXP"\n{CASE}include = ["books/a.toml"]\n'
    text += CASE.replace('"head"', '"other"')
    first, second = load_campaign(write(text, a=book)).load_cases
    assert (first.channel[0].cfc, second.channel[0].cfc) == (60, None)


CODES = st.sampled_from(
    ["D0HEAD0000KMACXP", "D0HEAD0000KMACYP", "D0NECKUP00KMFOZP", "D0NECKUP00KMMOYP", "speed", "force [N]"]
)
ENTRY = st.fixed_dictionaries(
    {"region": st.sampled_from(["head", "neck"])},
    optional={
        "model": st.sampled_from(["a", "b *"]),
        "cfc": st.sampled_from([60, 180]),
        "weight": st.sampled_from([0.5, 2.0]),
        "model_sign": st.sampled_from([-1, 1]),
        "test_offset_ms": st.just([-40.0, -5.0]),
    },
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=40, deadline=None)
@given(book=st.dictionaries(CODES, ENTRY, min_size=1), picks=st.lists(st.lists(st.booleans()), max_size=3))
def test_any_choice_from_a_book_is_the_same_written_out(
    tmp_path: Path, book: dict[str, dict[str, Any]], picks: list[list[bool]]
) -> None:
    """Whatever the channels and the picks are."""
    chosen = [
        [name for name, taken in zip(book, [*pick, *[True] * 6], strict=False) if taken] or list(book)
        for pick in [[], *picks]
    ]
    short, long = [HEAD], [HEAD]
    short += [toml_entry("[[channel]]", {"test": name, **entry}) for name, entry in book.items()]
    for number, names in enumerate(chosen):
        case = {"name": f"c{number}", "tests": ["t/*"], "interval_ms": [0, 10]}
        short.append(toml_entry("[[load_case]]", {**case, "channels": names}))
        long.append(toml_entry("[[load_case]]", case))
        long += [toml_entry("[[load_case.channel]]", {"test": name, **book[name]}) for name in names]
    campaigns = []
    for text in (short, long):
        (tmp_path / "campaign.toml").write_text("\n".join(text), encoding="utf-8")
        campaigns.append(load_campaign(tmp_path))
    assert campaigns[0].load_cases == campaigns[1].load_cases


def test_nothing_is_usual_for_a_name_that_is_no_code() -> None:
    """Only positions of codes are in the table."""
    assert usual_settings("probe force") == {}


BOOKS = ["usual", "head-drop", "neck-pendulum", "thorax", "knee", "seat", "sled"]


@pytest.mark.parametrize("name", BOOKS)
def test_ready_made_books_can_be_included(write: Write, name: str) -> None:
    """Each is valid by itself, and its classes are frequency classes."""
    text = f'include = ["ready-made/{name}"]\n#\n[[channel]]\ntest = "D0HEAD0000KMACXP"\n{CASE}'
    plan = one_case(write, text)
    assert (plan.cfc, plan.region, plan.polarity) == (1000, "head", "accelerated forwards")
    book = READY_MADE_FOLDER / f"{name}.toml"
    defaults = read_toml(book, IncludedBook, kind="").table.default
    assert all(len(one.test) == 16 for one in defaults)


@pytest.mark.parametrize(
    ("name", "cfc", "region"),
    [
        ("neck-pendulum", 60, "rig"),
        ("thorax", 180, "thorax"),
        ("knee", 600, "leg"),
        ("usual", 180, "impactor"),
    ],
)
def test_a_pendulum_is_what_the_test_makes_of_it(write: Write, name: str, cfc: int, region: str) -> None:
    """Load cases of one campaign include different books for the same channel."""
    text = f'#\n[[channel]]\ntest = "00PEND000000ACXP"\n{CASE}include = ["ready-made/{name}"]\n'
    plan = one_case(write, text)
    assert (plan.cfc, plan.region) == (cfc, region)


def test_there_are_no_other_ready_made_books() -> None:
    """Those of the documentation."""
    assert sorted(path.stem for path in READY_MADE_FOLDER.iterdir()) == sorted(BOOKS)


def test_words_change_no_rating(write: Write) -> None:
    """Ratings are as fresh with a polarity, a title and a quantity as without."""

    def state(more: str) -> str:
        text = f'#\n[[channel]]\ntest = "a"\nregion = "r"\n{more}{CASE}'
        path = write(text)
        (path.parent / "t").mkdir(exist_ok=True)
        (path.parent / "t" / "R1.csv").touch()
        campaign = load_campaign(path)
        return inputs_state(campaign, campaign.releases[0], campaign.load_cases[0])

    assert state("") == state('polarity = "up"\ntitle = "A"\nquantity = "force"\n')
    assert state("") != state("cfc = 180\n")


def test_usual_settings_are_a_copy() -> None:
    """Whoever changes them changes nothing for the next channel of that name."""
    usual_settings("D0FEMRLE00KMFOZP")["cfc"] = 1
    assert usual_settings("D0FEMRLE00KMFOZP")["cfc"] == 600
