"""The key's page to print: whose it is, what is given, what is right and why, and what was tried."""

import html
import re
from dataclasses import replace

import pytest
from drawn_labs import bakery

from trainer.lab.bench import ORDER_OF_WORK
from trainer.lab.brief import given_tables
from trainer.lab.form import CellRef, SoFar
from trainer.lab.key import derive_key
from trainer.lab.proof import prove
from trainer.lab.questions import FORM
from trainer.lab.scenario import Scenario, Trainee
from trainer.lab.trials import TrialKind
from trainer.pages.html import as_html
from trainer.pages.key import key_document


def page_of(scenario: Scenario) -> str:
    key = derive_key(scenario)
    return as_html([key_document(scenario, key, prove(scenario, key))]).decode("utf-8")


@pytest.fixture(scope="module")
def page() -> str:
    return page_of(bakery())


def test_every_given_table_and_every_section_has_its_title(page: str):
    summary = [
        "Switch A (Bakehouse)",
        "Switch B (Shop)",
        "Stations with a fixed address",
        "Pools (DHCP server)",
    ]
    titles = [*(table.title for table in given_tables(bakery())), *(section.title for section in FORM)]
    assert re.findall(r"<h3>(.*?)</h3>", page) == [*summary, *titles, "Trials by kind", "Not tried", "Trial by trial"]


def test_the_heads_of_all_tables_are_repeated_on_paper(page: str):
    assert page.count("<table") == page.count("<thead>") == 4 + len(given_tables(bakery())) + len(FORM) + 1 + 3
    assert "thead { display: table-header-group; }" in page
    assert "@media print" in page


def test_no_row_has_an_empty_heading(page: str):
    assert not re.search(r"<th[^>]*></th>", page)


def test_the_proof_counts_the_trials_by_kind(page: str):
    proof = prove(bakery(), derive_key(bakery()))
    counts = re.findall(r'<th scope="row" class="(?:unbroken|phrase)">(.*?)</th><td class="number">(\d+)</td>', page)
    assert counts == [(kind.value, str(proof.count(kind))) for kind in TrialKind if proof.count(kind)]
    assert sum(int(count) for _, count in counts) == len(proof.trials)


def test_only_a_resit_names_its_attempt(page: str):
    assert "<dt>Attempt</dt>" not in page
    assert "<dt>Attempt</dt><dd>2</dd>" in page_of(replace(bakery(), trainee=Trainee(id="b01", attempt=2)))


def test_texts_of_others_stay_literal():
    page = page_of(replace(bakery(), title="<i>Bread</i>", trainee=Trainee(id="b01", name="Eve & <b>Ada")))
    assert "&lt;i&gt;Bread" in page
    assert "Eve &amp; &lt;b&gt;Ada" in page


def test_the_cautions_stand_at_the_foot(page: str):
    footer = page[page.index("<footer>") :]
    assert "isolated lab only" in footer
    assert "licensed persons" in footer


def test_every_value_of_the_key_stands_beside_its_reason(page: str):
    lab, key = bakery(), derive_key(bakery())
    so_far, told = SoFar(lab), page.replace("&#x27;", "'")
    for section in FORM:
        for row in section.rows(lab):
            for question in section.questions_in(lab):
                value = html.escape(question.kind.show(key.values[CellRef(question.id, row.key)]))
                words = html.escape(question.reason(lab, so_far, row.key), quote=False)
                beside = rf'">{question.heading}</td><td class="code">{re.escape(value)}</td><td[^>]*>{re.escape(words)}</td>'
                assert re.search(beside, told), beside


def test_what_is_set_on_a_switch_stands_in_one_table(page: str):
    table = page[page.index("Switch B (Shop)</h3>") : page.index("Stations with a fixed address")]
    lines = re.findall(r'<th scope="row" class="(?:unbroken|phrase)">(.*?)</th><td[^>]*>(.*?)</td>', table)
    assert lines[0] == ("VLAN 30 (Tills)", "interface 10.20.0.1/23; access ports 1, 2")
    assert ("Routed port 23 (link A-B)", "10.20.2.242/30") in lines
    assert ("Routes via 10.20.2.241", "10.20.2.224/28 (VLAN 10), 10.20.2.0/25 (VLAN 20)") in lines
    assert ("Relay agent in VLANs 30, 40", "to 10.20.2.229") in lines
    assert ("Static binding row, port 6", "VLAN 50, 02-00-00-00-00-09, 10.20.2.196") in lines
    assert lines[-1] == ("Guarded ports", "1, 2, 3, 4, 5, 6")
    assert ("Snooped VLANs", "30, 40, 50") in lines
    assert ("Trusted ports", "23") in lines
    assert len(lines) == 3 + 1 + 1 + 1 + 1 + 2 + 2


def test_a_switch_is_set_in_the_order_of_working_that_stands_above(page: str):
    words = page[: page.index("Switch A (Bakehouse)</h3>")]
    assert words.index("Isolated lab only") < words.index("Safe order"), "the caution comes first"
    steps = re.search(r"Safe order, </b>with everything saved before each stage: (.*?)\.<", words)
    assert steps is not None
    names = [step.partition(" ")[2] for step in steps[1].split("; ")]
    assert names == list(ORDER_OF_WORK)
    table = page[page.index("Switch B (Shop)</h3>") : page.index("Stations with a fixed address")]
    lines = [
        line
        for line, _ in re.findall(r'<th scope="row" class="(?:unbroken|phrase)">(.*?)</th><td[^>]*>(.*?)</td>', table)
    ]
    begins = ("VLAN", "Routed", "Routes", "Relay", "Trusted", "Static", "Snooped", "Guarded")
    places = [begins.index(line.split()[0]) for line in lines]
    assert places == sorted(places)
    assert set(places) == set(range(len(begins)))


def test_the_rows_about_one_thing_are_not_parted_on_paper(page: str):
    """Each group is a body of its own, and begins with what it is about."""
    answers = page[page.index("Right answers, and why") :]
    table = answers[answers.index(">Subnets</h3>") : answers.index(">Links</h3>")]
    groups = re.findall(r"<tbody>(.*?)</tbody>", table, re.DOTALL)
    assert len(groups) == len(bakery().vlans)
    for group in groups:
        assert group.count("<tr>") == 7
        assert group.strip().startswith('<tr><th scope="row"')
        assert group.count("<th") == 1
    assert "break-inside: avoid" in page[page.index("tbody ~ tbody") :][:80]


def test_every_trial_is_told_with_its_control(page: str):
    trials = prove(bakery(), derive_key(bakery())).trials
    table = page[page.index("Trial by trial") :]
    assert table.count("<tr>") == 1 + len(trials)
    assert "a rogue server on link A-B to switch A" in table


def test_what_was_not_tried_is_listed_with_the_reason(page: str):
    rows = re.findall(
        r"<tr><th scope=\"row\"[^>]*>([^<]*)</th><td[^>]*>([^<]*)</td></tr>", page[page.index("Not tried") :]
    )
    assert rows[:3] == [
        ("a rogue server at DHCP server", "its port is trusted: what comes in there is let through"),
        (
            "a rogue server on link A-B towards B",
            "the server&#x27;s messages come in there, so the port is trusted",
        ),
        ("forged sources at DHCP server", "source guard is not wanted on those ports"),
    ]
