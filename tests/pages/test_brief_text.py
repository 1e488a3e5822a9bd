"""The instructor's own brief: Markdown with given values in it, which stay what they are, and can do no harm."""

import random
import re
import time
import tracemalloc
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import pytest
from drawn_labs import bakery
from hypothesis import given
from hypothesis import strategies as st
from on_request import many

from trainer.commands.exercises import ready_made
from trainer.errors import TrainerError
from trainer.lab.brief import BriefPart
from trainer.lab.form import SoFar
from trainer.lab.questions import subnets
from trainer.lab.scenario import SwitchPlan, Trainee
from trainer.network.devices import SwitchName
from trainer.pages.blocks import Code, Emphasis, Listing, Notice, Paragraph, Section, Strong, Table, Typed, texts_of
from trainer.pages.brief_text import BRIEF_WORDS, brief_blocks, brief_parts, general_brief, left_out, refuse_unknown

LAB = bakery()


def with_title(title: str):
    return replace(LAB, title=title)


def of_one(text: str) -> Paragraph:
    return Paragraph((text,))


def bullets(*texts: str) -> Listing:
    return Listing(tuple((of_one(text),) for text in texts), None)


def test_headings_make_parts_and_a_first_title_that_is_the_exercises_own_is_left_out():
    text = "# Bread\n\nBefore six.\n\n## Your lab\n\n- flour\n- **water**\n\n## Time\n\nAn hour.\n"
    parts = (
        of_one("Before six."),
        Section(title="Your lab", blocks=(Listing(((of_one("flour"),), (Paragraph((Strong("water"),)),)), None),)),
        Section(title="Time", blocks=(of_one("An hour."),)),
    )
    assert brief_blocks(text, with_title("Bread")) == parts
    assert brief_blocks(text, with_title("Bread and rolls")) == (Section(title="Bread", blocks=parts),)


def test_lower_headings_make_parts_of_parts():
    assert brief_blocks("before\n## A\na\n### A1\n#### A11\nx\n### A2\n## B\n# C\nc", LAB) == (
        of_one("before"),
        Section(
            title="A",
            blocks=(
                of_one("a"),
                Section(title="A1", blocks=(Section(title="A11", blocks=(of_one("x"),)),)),
                Section(title="A2", blocks=()),
            ),
        ),
        Section(title="B", blocks=()),
        Section(title="C", blocks=(of_one("c"),)),
    )


def test_lists_keep_their_numbers_and_what_stands_inside_their_items():
    text = "3. plan\n   - subnets\n   - links\n\n   then draw\n4. prove\n"
    inner = Listing(((of_one("subnets"),), (of_one("links"),)), None)
    assert brief_blocks(text, LAB) == (Listing(((of_one("plan"), inner, of_one("then draw")), (of_one("prove"),)), 3),)


def test_a_table_is_a_table_whose_rows_may_come_from_the_lab():
    text = (
        "| Switch | Place | Ports |\n|---|:---:|---:|\n"
        "{% for s in switches %}| {{ s.name }} | **{{ s.place }}** | `24` |\n{% endfor %}"
    )
    (table,) = brief_blocks(text, LAB)
    assert isinstance(table, Table)
    assert table.headings == ("Switch", "Place", "Ports")
    assert table.rows == (
        (("A",), (Strong("Bakehouse"),), (Code("24"),)),
        (("B",), (Strong("Shop"),), (Code("24"),)),
    )
    assert table.numbers == {2}, "figures end below each other"


@pytest.mark.parametrize(
    "text",
    [
        "| VLAN | Name |\n|---|---|\n{% for n in networks %}\n| {{ n.vlan }} | {{ n.name }} |\n{% endfor %}\n\nThen.\n",
        "| VLAN | Name |\n|---|---|\n  {% for n in networks %}  \n| {{ n.vlan }} | {{ n.name }} |\n{% endfor %}\nThen.\n",
        "| VLAN | Name |\n|---|---|\n{% for s in switches %}\n{% for n in networks %}\n{% if n.switch == s.name %}\n"
        "| {{ n.vlan }} | {{ n.name }} |\n{% endif %}\n{% endfor %}\n{% endfor %}\n\nThen.\n",
    ],
)
def test_lines_that_only_steer_break_no_table(text: str):
    table, then = brief_blocks(text, LAB)
    assert isinstance(table, Table)
    assert {row[0][0] for row in table.rows} == {str(vlan.number) for vlan in LAB.vlans}
    assert then == of_one("Then.")


def test_what_follows_a_loop_is_no_part_of_its_last_item():
    text = "{% for s in switches %}\n- {{ s.name }}\n{% endfor %}\nThen.\n"
    assert brief_blocks(text, LAB) == (bullets("A", "B"), of_one("Then."))


def test_error_every_word_that_is_not_known_is_told_with_its_line():
    with pytest.raises(TrainerError) as fault:
        brief_blocks("{{ blok }}\n{% for n in networks %}\n{{ n.vlan }} {{ gatway }}\n{% endfor %}\n{{ blok }}", LAB)
    told = str(fault.value)
    assert [int(line) for line in re.findall(r"line (\d+) cannot be filled in", told)] == [1, 3, 5]
    assert told.count("Known are") == 1


def test_error_the_name_of_a_loop_is_unknown_outside_of_it_only():
    text = "{% for switch in switches %}\n- {{ switch.name }} {{ loop.index }}\n{% endfor %}\n\n{{ switch.name }}\n"
    with pytest.raises(TrainerError, match=r"^line 5 cannot be filled in \('switch' is undefined\)\."):
        brief_blocks(text, LAB)
    with pytest.raises(TrainerError, match=r"\(a \{% for \.\.\. %\} or \{% if \.\.\. %\} has no end: "):
        brief_blocks("{% for switch in switches %}\n- {{ switch.name }}\n", LAB)
    assert brief_blocks("{% set what = block %}{{ what }}", LAB) == (of_one("10.20.0.0/22"),)


def test_what_is_set_off_stays_set_off():
    text = "A *fair* word, **bold** and ***both***.\n\n> Mind the mains.\n\n```\none  two\nthree\n```\n"
    assert brief_blocks(text, LAB) == (
        Paragraph(("A ", Emphasis("fair"), " word, ", Strong("bold"), " and ", Strong("both"), ".")),
        Notice(("Mind the mains.",)),
        Typed("one  two\nthree"),
    )


def test_a_link_is_followed_by_its_address_as_a_handout_is_paper():
    text = "See [RFC {{ 2131 }}](https://www.rfc-editor.org/rfc/rfc{{ 2131 }}) or <https://192.0.2.1/a>."
    assert texts_of(brief_blocks(text, LAB)) == [
        "See RFC 2131 (https://www.rfc-editor.org/rfc/rfc2131) or https://192.0.2.1/a."
    ]


def test_what_cannot_be_printed_as_it_is_meant_is_told():
    text = "![the rack](rack.png)\n\n<b>bold</b> and ![](x.png)\n\n<table><tr></table>\n"
    assert left_out(text, LAB) == (
        "the picture rack.png is not printed, only its text: the rack",
        "HTML is printed as it is written: <b>",
        "the picture x.png is not printed, only its text: (none)",
        "HTML is printed as it is written: <table><tr></table>",
    )
    assert left_out(general_brief(), LAB) == ()
    assert left_out("{{ title }}", with_title("<b>")) == (), "a value means nothing to HTML"


def test_given_values_are_filled_in_also_in_code():
    text = "Lab {{ lab }} of {{ trainee }}: `{{ block }}`.\n\n{% for s in switches %}- {{ s.name }}: {{ s.place }}\n{% endfor %}"
    assert brief_blocks(text, LAB) == (
        Paragraph(("Lab BUN-TEST of b01: ", Code("10.20.0.0/22"), ".")),
        bullets("A: Bakehouse", "B: Shop"),
    )


def test_blanks_at_the_ends_of_a_value_keep_words_apart():
    """A list joined by ", " was printed as "A is Bakehouse,B is Shop"."""
    text = '{% for s in switches %}{{ s.name }} is {{ s.place }}{{ ", " if not loop.last else "." }}{% endfor %}'
    assert brief_blocks(text, LAB) == (Paragraph(("A is Bakehouse, B is Shop.",)),)


def test_every_word_that_a_brief_knows_has_a_value():
    for word in BRIEF_WORDS:
        brief_blocks(f"{{{{ {word} }}}}", LAB)
    with pytest.raises(TrainerError):
        brief_blocks("{{ key }}", LAB)


def test_no_word_of_a_brief_tells_what_is_asked():
    """Only what sheets Brief and Given say; the words are few, so they are all written out and searched."""
    text = " ".join(f"{{{{ {word} }}}}" for word in BRIEF_WORDS)
    shown = " ".join(texts_of(brief_blocks(text, LAB)))
    key = SoFar(LAB)
    for vlan in LAB.vlans:
        row = subnets.row_of(vlan.id)
        for question in (subnets.GATEWAY, subnets.LAST_USABLE, subnets.BROADCAST_ADDRESS):
            assert str(key.value(question, row)) not in shown


@pytest.mark.parametrize(
    "value",
    ["*not strong*", "# no heading", "- no item", "`no code`", "<b>", "[a](http://192.0.2.1)", "{{ lab }}", "![x](y)"],
)
def test_a_value_means_nothing_to_markdown(value: str):
    assert brief_blocks("{{ title }}", with_title(value)) == (Paragraph((value,)),)


def test_markup_of_other_kinds_is_text():
    text = "<script>alert(1)</script>\n\nA <b>word</b> and ![a picture](http://192.0.2.1/x.png).\n"
    (first, second) = brief_blocks(text, LAB)
    assert first == Paragraph(("<script>alert(1)</script>",))
    assert texts_of([second]) == ["A <b>word</b> and a picture."]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("one\n{{ block", "line 2 cannot be understood"),
        ("one\n\n{{ blok }}", "line 3 cannot be filled in"),
        ("{% if %}", "line 1 cannot be understood"),
        ("{{ blok }}", "'blok' is undefined"),
        ("{{ switches[0].gateway }}", "gateway"),
        ("{{ ''.__class__.__mro__ }}", "may not do"),
        ("{{ 'x' * 1000000000 }}", "may not do"),
        ("{{ 9 ** 9999999 }}", "may not do"),
        ("{{ '%1000000000d' % 1 }}", "may not do"),
        ("{% for a in range(9) %}x{% endfor %}", "'range' is undefined"),
        ("{% include 'style.css' %}", "cannot be filled in"),
        ("{{ 1 / 0 }}", "cannot be filled in"),
        ("{{ switches.append(1) }}", "may not do"),
        ("x" * 30_000, "longer than 20000 characters"),
        ("{% macro a() %}{{ a() }}{% endmacro %}{{ a() }}", "cannot be filled in"),
        ("{{ " + "9" * 4400 + " }}", "too many digits"),
    ],
)
def test_error_what_a_brief_may_not_do_is_said(text: str, said: str):
    with pytest.raises(TrainerError, match=said.replace("(", r"\(")):
        brief_blocks(text, LAB)


DOUBLING_SETS = "{% set a = 'xxxxxxxxxx' %}" + "{% set a = a ~ a %}" * 60
DOUBLING_MACROS = "{% macro m0() %}xx{% endmacro %}" + "".join(
    f"{{% macro m{n} () %}}{{{{ m{n - 1}() }}}}{{{{ m{n - 1}() }}}}{{% endmacro %}}" for n in range(1, 40)
)
NESTED_LOOPS = "{% for a in stations %}" * 9 + "{% if false %}{% endif %}" + "{% endfor %}" * 9


HARMFUL = [
    NESTED_LOOPS,
    NESTED_LOOPS.replace("stations", "'xxxxxxxxxxxxxxxxxxxxxxxxxxxxxx'"),
    DOUBLING_SETS + "{{ a|length }}",
    DOUBLING_SETS.replace("~", "+") + "{{ a|length }}",
    DOUBLING_SETS.replace("a ~ a", "[a, a]") + "{{ a == a }}",
    DOUBLING_SETS.replace("a ~ a", "(a, a)") + "{{ a }}",
    DOUBLING_SETS.replace("a ~ a", "{1: a, 2: a}") + "{{ a }}",
    DOUBLING_SETS.replace("a ~ a", "[a, a]|join(a)"),
    DOUBLING_SETS.replace("a ~ a", "a|replace('x', 'xx')"),
    DOUBLING_SETS.replace("a ~ a", "a.replace('x', 'xx')"),
    DOUBLING_SETS.replace("a ~ a", "a|list + a|list"),
    DOUBLING_MACROS + "{{ m39() }}",
    DOUBLING_MACROS + "{% if m39() %}{% endif %}",
    DOUBLING_MACROS.replace("xx", "") + "{% set a = m39() %}",
    "{% set a %}{{ title }}{{ title }}{% endset %}" + "{% set a %}{{ a }}{{ a }}{% endset %}" * 40,
    "{{ 'x'|center(1000000000) }}",
    "{{ ['x']|map('center', 1000000000)|list }}",
    "{{ 'x'.center(1000000000) }}",
    "{{ 'x'.ljust(1000000000) }}",
    "{{ '{:1000000000}'.format(1) }}",
    "{{ 'x'.zfill(1000000000) }}",
    "{{ '\\t'.expandtabs(1000000000) }}",
    "{{ 'x'|indent(1000000000) }}",
    "{{ switches|slice(1000000000)|list }}",
    "{{ switches|batch(1000000000, 1)|list }}",
    "{{ 'x'|wordwrap(0) }}",
    "{{ title|truncate(1) }}",
    "{{ title.encode() }}",
    "{{ switches|dictsort }}",
    "{{ switches|sort }}",
    "{% for a in switches recursive %}{{ loop(switches) }}{% endfor %}",
    "{% block a %}{{ self.a() }}{% endblock %}",
    "{% extends 'x' %}",
    "{% from 'x' import y %}",
    "{{ '\\ue0009\\ue000' }}{{ " + "-" * 5000 + "1 }}",
    "{{ " + "(" * 5000 + "1" + ")" * 5000 + " }}",
]
"""Briefs that would take long, or much room, were they let."""


@pytest.mark.parametrize("text", many(HARMFUL, HARMFUL[::4]))
def test_error_no_brief_takes_long_or_much_and_says_so_in_words_and_its_line(text: str):
    tracemalloc.start()
    before = time.process_time()
    with pytest.raises(TrainerError) as fault:
        brief_blocks(text, LAB)
    took, (_, most) = time.process_time() - before, tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert re.match(r"line 1 (cannot|repeats|does)|it (gets longer|holds too much)", str(fault.value))
    assert took < 5, "counting memory makes it several times slower"
    assert most < 60 * 2**20


def test_error_a_brief_is_counted_with_its_values():
    lab = with_title("x" * 190)
    assert len(texts_of(brief_blocks("{{ title }}\n\n" * 100, lab))) == 100
    with pytest.raises(TrainerError, match=r"^it gets longer than 20000 characters"):
        brief_blocks("{{ title }}\n\n" * 110, lab)


def test_what_briefs_really_do_still_works():
    text = (
        "{% macro place(s) %}{{ s.name }}: {{ s.place|upper }}{% endmacro %}"
        "{% set all = switches|map(attribute='name')|join(', ') %}{{ all }}; {{ place(switches[0]) }}; "
        "{{ 'switch ' ~ switches[1].name.lower() }}; {{ stations|selectattr('vlan', 'equalto', 0)|list|length }}; "
        "{{ title|replace('a', 'o') }}; {{ date|default('no day', true) }}; {{ 'Zwei' + 'felder' }}; "
        "{% for n in networks|sort(attribute='vlan') %}{{ loop.cycle('a', 'b') }}{% endfor %}"
    )
    (told,) = texts_of(brief_blocks(text, replace(with_title("baat"), date="")))
    assert told.startswith("A, B; A: BAKEHOUSE; switch b; 0; boot; no day; Zweifelder; ab")


def test_a_forged_mark_shows_nothing():
    assert texts_of(brief_blocks(r"a{{ '\ue0009\ue000' }}b{{ '\ue0000\ue000' }}", LAB)) == ["ab"]


def test_error_the_words_that_are_known_are_named():
    with pytest.raises(TrainerError) as fault:
        brief_blocks("{{ blok }}", LAB)
    assert str(fault.value) == (
        "line 1 cannot be filled in ('blok' is undefined). Did you mean block? Known are lab, trainee, title, date, "
        "minutes, block, lease_hours, server, switches, networks, stations."
    )


def test_error_every_unknown_word_is_named_with_its_line_parts_of_a_list_too():
    loop = "{% for each in switches %}\n{{ each.plce }} {{ each.name.upper() }} {{ each.vlan }}\n{% endfor %}"
    with pytest.raises(TrainerError) as fault:
        refuse_unknown(f"{{{{ blok }}}}\n{loop}\n{{{{ minuets }}}}")
    assert str(fault.value).startswith(
        "line 1 cannot be filled in ('blok' is undefined). Did you mean block? "
        "line 3 cannot be filled in ('plce' is no part of it). Did you mean place? "
        "line 3 cannot be filled in ('vlan' is no part of it). There are: name, place. "
        "line 5 cannot be filled in ('minuets' is undefined). Did you mean minutes?"
    )


@given(st.text(max_size=80))
def test_any_text_gives_blocks_or_an_error_in_words(text: str):
    with suppress(TrainerError):
        assert all(isinstance(each, str) for each in texts_of(brief_blocks(text, LAB)))


def test_any_name_stays_literal():
    rng = random.Random(3)
    for _ in range(200):
        name = "".join(rng.choice("*_`#<>[]()!\\&{}|~ab1- ") for _ in range(12)).strip() or "x"
        lab = replace(
            LAB, switches=(SwitchPlan(name=SwitchName("A"), place=name, asks_routes=True),), trainee=Trainee(id="t")
        )
        (paragraph,) = brief_blocks("At {{ switches[0].place }}!", lab)
        assert texts_of([paragraph]) == [f"At {' '.join(name.split())}!"]


# --- In the workbook --------------------------------------------------------------------------------------------------


def test_for_a_sheet_a_brief_is_headed_lines_in_its_order_and_each_once():
    text = (
        "# Bread\n\nBefore **six**.\n\n## Your lab {{ lab }}\n\n- flour\n  - rye\n- water\n\n2. knead\n3. bake\n\n"
        "> Hot!\n\n| a | b |\n|---|---|\n| 1 | 2 |\n\n    set\n    save\n"
    )
    assert brief_parts(text, with_title("Bread")) == (
        BriefPart("Bread", (("", "Before six."),)),
        BriefPart(
            "Your lab BUN-TEST",
            tuple(
                ("", line)
                for line in ("- flour rye", "- water", "2. knead", "3. bake", "Hot!", "a | b", "1 | 2", "set\nsave")
            ),
        ),
    )


@pytest.mark.parametrize("file", [each.file for each in ready_made()], ids=lambda file: file.stem)
def test_ready_made_briefs_speak_to_the_trainee(file: Path):
    """Not to whoever takes them off the shelf: that is what the list in the folder is for."""
    text = file.with_suffix(".md").read_text(encoding="utf-8")
    said = " ".join(line for part in brief_parts(text, LAB) for _, line in part.lines)
    assert re.search(r"\b[Yy]ou(r|rs)?\b", said)
    assert "BUN-TEST" in said
    for of_the_shelf in ("Step:", "Trains:", "World:", "Asked:", "the trainee", "Invented, like"):
        assert of_the_shelf not in said
