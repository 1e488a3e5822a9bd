"""The key's page to print: whose it is, what is given, what is right, and what was tried."""

import re
from dataclasses import replace

import pytest
from drawn_labs import bakery

from trainer.lab.brief import given_tables
from trainer.lab.key import derive_key
from trainer.lab.proof import prove
from trainer.lab.questions import FORM
from trainer.lab.scenario import Scenario, Trainee
from trainer.lab.trials import TrialKind
from trainer.pages.key import write_key_page


def page_of(scenario: Scenario) -> str:
    key = derive_key(scenario)
    return write_key_page(scenario, key, prove(scenario, key)).decode("utf-8")


@pytest.fixture(scope="module")
def page() -> str:
    return page_of(bakery())


def test_every_given_table_and_every_section_has_its_title(page: str):
    titles = [*(table.title for table in given_tables(bakery())), *(section.title for section in FORM)]
    assert re.findall(r"<h3>(.*?)</h3>", page) == titles


def test_the_heads_of_all_tables_are_repeated_on_paper(page: str):
    assert page.count("<table") == page.count("<thead>") == len(given_tables(bakery())) + len(FORM) + 1
    assert "thead { display: table-header-group; }" in page
    assert "@media print" in page


def test_the_proof_counts_the_trials_by_kind(page: str):
    proof = prove(bakery(), derive_key(bakery()))
    counts = re.findall(r'<th scope="row">(.*?)</th><td>(\d+)</td>', page)
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
