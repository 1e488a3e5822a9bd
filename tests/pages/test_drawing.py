"""A lab's network as a picture: nothing missing, nothing given away, nothing over anything else."""

import re
import shutil
import subprocess
from collections import Counter
from dataclasses import replace
from functools import cache
from itertools import combinations
from pathlib import Path
from string import ascii_uppercase
from xml.etree import ElementTree as ET

import pytest
from drawn_labs import bakery, changed, draw, exercise_of, shaped
from on_request import many
from picture_parts import SVG, Box, faults, parts, view_box
from repair_labs import kept_lab

from trainer.lab.brief import given_tables
from trainer.lab.key import derive_key
from trainer.lab.questions import FORM
from trainer.lab.scenario import Link, Scenario, SwitchPlan
from trainer.network.devices import PortName, PortRef, SwitchName
from trainer.pages.drawing import Drawing, draw_topology
from trainer.pages.lettering import clean, fitted, width_of

SHAPES = ("chain", "star", "tree")
SECRETS = (b"thirty-two bytes for the testing", b"another thirty-two bytes of these")
HOSTILE = (
    "\"'<script>alert(1)</script>&amp;",
    "\u202egnp.elif\u202c \u2066x\u2069 \u200f",
    "]]><!-- \x00\x1b\ufffe",
    "W" * 300,
)


def joined(count: int, shape: str) -> dict[str, str]:
    """Switches and what they are linked to."""
    names = ascii_uppercase[:count]
    above = {"chain": lambda number: number - 1, "star": lambda _: 0, "tree": lambda number: (number - 1) // 2}[shape]
    return {name: names[above(number)] if number else "" for number, name in enumerate(names)}


@cache
def lab(count: int, shape: str, secret: bytes = SECRETS[0], *, is_long: bool = False) -> Scenario:
    tables = shaped(joined(count, shape))
    ports = "191-199" if is_long else "31-39"
    tables["switches"] = tuple({**row, "link_ports": ports} for row in tables["switches"])
    if is_long:
        tables["switches"] = tuple(
            {**row, "places": f"Nordöstliche Lagerhalle Kai {row['name']}"} for row in tables["switches"]
        )
        long = (
            "Überwachungskameras am Kai {}",
            "MAGAZINVERWALTUNGSWWWWWWW {}",
            "北東の倉庫にある監視カメラの列の三番目の部屋{}",
        )
        tables["networks"] = tuple(
            {**row, "names": long[number % 3].format(number), "vlans": "1000-4094"}
            for number, row in enumerate(tables["networks"])
        )
    return draw(exercise_of(changed(tables=tables)), 1, secret)[0]


@cache
def drawing(count: int, shape: str, secret: bytes = SECRETS[0], *, with_key: bool, is_long: bool = False) -> Drawing:
    scenario = lab(count, shape, secret, is_long=is_long)
    return draw_topology(scenario, derive_key(scenario) if with_key else None)


ALL_SHAPES = [(count, shape) for count in range(2, 9) for shape in SHAPES]


@pytest.mark.parametrize("is_long", [False, True], ids=["short", "long"])
@pytest.mark.parametrize("with_key", [False, True], ids=["given", "key"])
@pytest.mark.parametrize(("count", "shape"), many(ALL_SHAPES, ALL_SHAPES[::3]))
def test_no_label_meets_another_or_crosses_a_shape(count, shape, with_key, is_long):
    secret = SECRETS[is_long]
    assert faults(drawing(count, shape, secret, with_key=with_key, is_long=is_long)) == []


@pytest.mark.parametrize("shape", SHAPES)
def test_more_switches_than_a_page_holds_are_drawn_as_well(shape):
    assert faults(drawing(9, shape, with_key=True)) == []
    assert drawing(9, shape, with_key=True).width == 680


def test_a_switch_without_a_vlan_and_a_vlan_without_a_station_are_drawn():
    scenario = bakery()
    b, c = SwitchName("B"), SwitchName("C")
    spare = replace(scenario.vlans[-1], number=60, name="Spare", addresses_needed=9)
    scenario = replace(
        scenario,
        switches=(*scenario.switches, SwitchPlan(name=c, place="Attic", asks_routes=True)),
        links=(*scenario.links, Link(first=PortRef(b, PortName("24")), second=PortRef(c, PortName("1")))),
        vlans=(*scenario.vlans, spare),
    )
    picture = draw_topology(scenario, derive_key(scenario))
    assert faults(picture) == []
    assert picture.description.endswith("Switch C (Attic) has no VLAN.")
    assert "VLAN 60, Spare, 9 addresses needed" in picture.description


@pytest.mark.parametrize(("count", "shape"), ALL_SHAPES)
def test_everything_of_the_network_is_there_once(count, shape):
    scenario = lab(count, shape)
    svg, _, _ = parts(drawing(count, shape, with_key=False))
    groups = Counter(
        (group.attrib["data-part"], group.attrib["data-name"])
        for group in svg.iter(f"{SVG}g")
        if group.attrib.get("data-part")
    )
    wanted = [("switch", switch.name) for switch in scenario.switches]
    wanted += [("vlan", str(vlan.number)) for vlan in scenario.vlans]
    wanted += [("station", station.name) for station in scenario.stations]
    wanted += [("link", link.name) for link in scenario.links]
    wanted += [
        ("port", f"{switch.name}/{port}") for switch in scenario.switches for port in scenario.port_names(switch.name)
    ]
    assert {each: number for each, number in groups.items() if each[0] not in ("legend", "mark")} == dict.fromkeys(
        wanted, 1
    )


@pytest.mark.parametrize(("count", "shape"), ALL_SHAPES)
def test_a_link_runs_from_port_to_port(count, shape):
    """Both ends of the line touch the tabs of the link's ports, the upper one from below, the lower one from above."""
    scenario = lab(count, shape)
    _, shapes, _ = parts(drawing(count, shape, with_key=False))
    tabs = {each.part.attrib["data-name"]: each.boxes[0] for each in shapes if each.part.get("data-part") == "port"}
    lines = {each.part.attrib["data-name"]: each.element for each in shapes if each.part.get("data-part") == "link"}
    for link in scenario.links:
        points = [tuple(map(float, point.split(","))) for point in lines[link.name].attrib["points"].split()]
        upper, lower = sorted((tabs[str(link.first)], tabs[str(link.second)]), key=lambda tab: tab.top)
        assert points[0] == pytest.approx(((upper.left + upper.right) / 2, upper.bottom), abs=0.02)
        assert points[-1] == pytest.approx(((lower.left + lower.right) / 2, lower.top), abs=0.02)


@pytest.mark.parametrize(("count", "shape"), ALL_SHAPES)
def test_lines_of_links_do_not_meet(count, shape):
    _, shapes, _ = parts(drawing(count, shape, with_key=True))
    lines = [each for each in shapes if each.part.get("data-part") == "link"]
    assert not [
        (one, other) for one, other in combinations(lines, 2) for a in one.boxes for b in other.boxes if a.meets(b)
    ]


@pytest.mark.parametrize("with_key", [False, True], ids=["given", "key"])
@pytest.mark.parametrize(("count", "shape"), ALL_SHAPES)
def test_on_paper_lettering_has_seven_points_or_more(count, shape, with_key):
    picture = drawing(count, shape, with_key=with_key)
    svg, _, texts = parts(picture)
    points_a_unit = 180 / 25.4 * 72 / view_box(svg).right
    assert min(float(text.element.attrib["font-size"]) for text in texts) * points_a_unit >= 7
    assert (
        (svg.attrib["width"], svg.attrib["height"])
        == (str(picture.width), str(picture.height))
        == ("680", str(picture.height))
    )
    assert picture.height == pytest.approx(view_box(svg).bottom * 680 / view_box(svg).right, abs=1)


def words(text: str) -> set[str]:
    return set(re.findall(r"[^\s,;:()/]+", text))


def test_the_trainees_picture_says_nothing_that_is_asked():
    """A word of the key is in the trainee's picture only if it is in what is given."""
    for scenario in (bakery(), *(lab(count, shape) for count, shape in ALL_SHAPES)):
        key = derive_key(scenario)
        kinds = {question.id: question.kind for section in FORM for question in section.questions}
        answers = {word for cell, value in key.values.items() for word in words(kinds[cell.question].show(value))}
        given = {word for table in given_tables(scenario) for row in table.rows for text in row for word in words(text)}
        assert len(answers - given) > 10
        told = words(" ".join(ET.fromstring(draw_topology(scenario).svg).itertext()))
        own = words(
            "Network of lab Block routed link port station DHCP server VLAN switch no. the fifth usable address"
        )
        assert told & (answers - given) - own == set()


def test_the_keys_picture_says_addresses_routes_and_protection():
    scenario = bakery()
    svg, _, texts = parts(draw_topology(scenario, derive_key(scenario)))
    by_part = {}
    for text in texts:
        by_part.setdefault((text.part.get("data-part"), text.part.get("data-name")), []).append(text.element.text)
    assert by_part["vlan", "30"] == ["VLAN 30", "Tills", "10.20.0.0/23", "gateway 10.20.0.1"]
    assert by_part["station", "DHCP server"] == ["DHCP server", "10.20.2.229"]
    assert by_part["station", "Tills 1"] == ["Tills 1", "DHCP"]
    assert by_part["link", "A-B"] == ["Link A-B, 10.20.2.240/30, A 10.20.2.241, B 10.20.2.242"]
    assert by_part["switch", "B"] == ["B", "Shop", "to A via 10.20.2.241"]
    assert by_part["port", "A/1"] == ["1 T"]
    assert by_part["port", "A/24"] == ["24"]
    assert by_part["port", "B/23"] == ["23 T"]
    assert by_part["port", "B/3"] == ["3 G"]
    marks = Counter(group.get("data-name") for group in svg.iter(f"{SVG}g") if group.get("data-part") == "mark")
    assert marks == {"snooped": 5 + 1, "relay": 3 + 1}, "one of each is in the legend"


def test_a_route_to_part_of_a_switchs_networks_names_the_network():
    scenario = bakery()
    key = derive_key(scenario)
    routes = {**key.rows, "routes": tuple(row for row in key.rows["routes"] if row != "A to 40")}
    _, _, texts = parts(draw_topology(scenario, replace(key, rows=routes)))
    card = [text.element.text for text in texts if text.part.get("data-name") == "A"]
    assert " ".join(card[2:]) == "to 10.20.0.0/23, 10.20.2.192/27 via 10.20.2.242"


@pytest.mark.parametrize("with_key", [False, True], ids=["given", "key"])
def test_the_picture_has_a_title_and_an_account_for_who_cannot_see_it(with_key):
    scenario = bakery()
    picture = draw_topology(scenario, derive_key(scenario) if with_key else None)
    svg, _, _ = parts(picture)
    title, description = svg.find(f"{SVG}title"), svg.find(f"{SVG}desc")
    assert svg.attrib["role"] == "img"
    assert svg.attrib["aria-labelledby"] == f"{title.attrib['id']} {description.attrib['id']}"
    assert (title.text, description.text) == (picture.title, picture.description)
    assert picture.title == "Network of lab BUN-TEST" + (" with the key" if with_key else "")
    assert ("10.20.2.241" in picture.description) is with_key
    wanted = (
        "2 switches in block 10.20.0.0/22. Link A-B joins port A/24 with 10.20.2.241 and port B/23 (trusted) with "
        "10.20.2.242 in 10.20.2.240/30. Switch A reaches B over 10.20.2.242. Switch A (Bakehouse) has VLAN 10, Servers, 12 "
        "addresses needed, network 10.20.2.224/28, gateway 10.20.2.225, snooped. On port A/1 (trusted): DHCP server, the "
        "server, 10.20.2.229."
        if with_key
        else "2 switches in block 10.20.0.0/22. Link A-B joins port A/24 and port B/23. Switch A (Bakehouse) has VLAN 10, "
        "Servers, 12 addresses needed. On port A/1: DHCP server, the server, no. 5."
    )
    assert picture.description.startswith(wanted)


def test_two_pictures_on_a_page_have_ids_of_their_own():
    scenario = bakery()
    ids = [re.findall(r' id="(\w+)"', draw_topology(scenario, key).svg) for key in (None, derive_key(scenario))]
    assert len({*ids[0], *ids[1]}) == 4


@pytest.mark.parametrize("name", HOSTILE)
def test_texts_of_others_stay_literal_and_in_their_place(name):
    scenario = bakery()
    key = derive_key(scenario)
    hostile = replace(
        scenario,
        lab_number="BUN-TEST",
        switches=tuple(replace(switch, place=name) for switch in scenario.switches),
        vlans=tuple(replace(vlan, name=name) for vlan in scenario.vlans),
    )
    picture = draw_topology(hostile, key)
    svg, _, _ = parts(picture)
    assert {element.tag.removeprefix(SVG) for element in svg.iter()} <= {
        "svg",
        "title",
        "desc",
        "g",
        "rect",
        "circle",
        "polyline",
        "text",
    }
    assert clean(name) in picture.description
    assert not re.search("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]", picture.svg)
    assert faults(picture) == []


def test_a_shortened_name_stands_whole_in_a_title():
    scenario = bakery()
    name = (
        "The far end of the long corridor behind the second oven, " + "one door further on the left, " * 3 + "then ask"
    )
    stations = tuple(replace(each, name=name) if each.name == "Ovens 1" else each for each in scenario.stations)
    svg, _, texts = parts(draw_topology(replace(scenario, stations=stations)))
    group = next(group for group in svg.iter(f"{SVG}g") if group.get("data-name") == name)
    shown = [text.element.text for text in texts if text.part is group]
    assert shown[-2].endswith("…")
    assert group.find(f"{SVG}title").text == name


def test_the_picture_refers_to_nothing_outside_and_uses_only_plain_attributes():
    scenario = bakery()
    picture = draw_topology(scenario, derive_key(scenario))
    assert re.findall(r"https?://[^\"]*", picture.svg) == ["http://www.w3.org/2000/svg"]
    assert not re.search(
        r"<(style|script|image|use|foreignObject|a)\b|\b(style|class|href|on\w+)=|url\(|var\(", picture.svg
    )


def test_the_same_scenario_gives_the_same_bytes():
    scenario = lab(5, "tree")
    again = lab.__wrapped__(5, "tree")
    assert draw_topology(scenario, derive_key(scenario)) == draw_topology(again, derive_key(again))


def luminance(colour: str) -> float:
    """WCAG 2.2, relative luminance."""
    channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, contrast ratio."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("with_key", [False, True], ids=["given", "key"])
def test_every_text_stands_out_from_what_is_behind_it(with_key):
    """WCAG 2.2, 1.4.3: 4.5 to 1."""
    _, shapes, texts = parts(drawing(5, "tree", with_key=with_key))
    filled = [shape for shape in shapes if shape.element.attrib["fill"] != "none"]
    for text in texts:
        box = text.boxes[0]
        x, y = (box.left + box.right) / 2, (box.top + box.bottom) / 2
        behind = [shape for shape in filled if shape.boxes[0].holds(Box(x, y, x, y))][-1]
        assert contrast(text.element.attrib["fill"], behind.element.attrib["fill"]) >= 4.5, text.element.text


def form_of(element: ET.Element) -> tuple[str | None, ...]:
    """What is left of a shape without its place and its colours."""
    form = ("width", "height", "rx", "r", "stroke-width")
    return (element.tag, *(element.get(name) for name in form), element.text)


def test_signs_differ_without_their_colours():
    """Each sign of the legend has other shapes or other letters than every other, whatever they are filled with."""
    scenario = bakery()
    svg, _, _ = parts(draw_topology(scenario, derive_key(scenario)))
    signs = {}
    for group in svg.iter(f"{SVG}g"):
        words = group.get("data-name")
        sign = [form_of(element) for element in group.iter() if element.tag != f"{SVG}g" and element.text != words]
        if sign and group.get("data-part") == "legend":
            signs[words] = sign
    assert set(signs) == {
        *("switch", "routed link", "port", "DHCP server", "station", "VLAN"),
        *("trusted", "guarded", "snooped VLAN", "relay agent to 10.20.2.229"),
    }
    assert not [(one, other) for one, other in combinations(signs, 2) if signs[one] == signs[other]]
    assert [signs[name][-1][-1] for name in ("trusted", "guarded")] == ["7 T", "7 G"]


def test_the_picture_has_white_paper_of_its_own():
    """Pages have a dark style; the drawing does not change with it."""
    svg, shapes, _ = parts(draw_topology(bakery()))
    paper = shapes[0]
    assert paper.element.attrib["fill"] == "#ffffff"
    assert paper.boxes[0] == Box(
        0.5, 0.5, view_box(svg).right - 0.5, pytest.approx(view_box(svg).bottom - 0.5, abs=0.02)
    )


def test_a_text_is_broken_at_spaces_and_ends_in_an_ellipsis():
    room = width_of("Harbour mast", 10)
    assert fitted("Harbour master", room, 10, most_lines=2).lines == ("Harbour", "master")
    assert fitted("Harbour master", room, 10, most_lines=1).lines == ("Harbour…",)
    assert fitted("Harbour", room, 10, most_lines=1).is_shortened is False
    for line in fitted("W" * 300, room, 10, most_lines=3).lines:
        assert width_of(line, 10) <= room


MEASURE = """<script>
for (const svg of document.querySelectorAll("svg")) {
  svg.setAttribute("width", 10 * svg.getAttribute("width"));
  svg.setAttribute("height", 10 * svg.getAttribute("height"));
}
const measured = text => {
  const box = text.getBBox();
  return [box.x, box.y, box.x + box.width, box.y + box.height].map(each => each.toFixed(2)).join(" ");
};
document.title = [...document.querySelectorAll("svg")]
  .map(svg => [...svg.querySelectorAll("text")].map(measured).join(";")).join("|");
</script>"""
"""Measured ten times as large, because a browser rounds the height of a line of letters to whole pixels."""


@pytest.mark.browser
@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("count", [2, 3, 5, 8])
def test_in_a_browser_no_text_is_wider_than_it_was_thought_to_be(count, shape, tmp_path: Path):
    """The boxes that a browser measures: none meets another, and each is within the box that the layout counts on."""
    browser = shutil.which("chromium")
    if browser is None:
        pytest.skip("no chromium on this machine")
    pictures = [
        drawing(count, shape, with_key=with_key, is_long=is_long)
        for with_key in (False, True)
        for is_long in (False, True)
    ]
    page = tmp_path / "pictures.html"
    svgs = "".join(picture.svg for picture in pictures)
    page.write_text(f"<!doctype html><meta charset=utf-8><title></title>{svgs}{MEASURE}", encoding="utf-8")
    profile = f"--user-data-dir={tmp_path}/profile"
    done = subprocess.run(
        [browser, "--headless", "--no-sandbox", "--disable-gpu", profile, "--dump-dom", page.as_uri()],
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    told = re.search(r"<title>([^<]*)</title>", done.stdout)
    assert told, done.stderr
    for picture, rows in zip(pictures, told[1].split("|"), strict=True):
        measured = [Box(*map(float, row.split())) for row in rows.split(";")]
        _, _, texts = parts(picture)
        assert not [(one, other) for one, other in combinations(measured, 2) if one.meets(other)]
        for text, box in zip(texts, measured, strict=True):
            counted = text.boxes[0]
            assert box.right - box.left <= counted.right - counted.left, text.element.text


def test_the_drawing_of_a_network_with_faults_shows_who_is_in_trouble():
    """In shape and word: who got no lease, who does not answer the server, who does; nothing of it with the key."""
    lab = kept_lab("faults-two")
    marks = set(re.findall(r'data-name="([^"]*)"', draw_topology(lab).svg))
    assert {"answers", "no answer", "no lease"} <= marks
    text = draw_topology(lab).svg
    assert "DHCP, no lease" in text
    assert "got no lease" in text
    assert "no sign: not tried" in text
    assert "no lease" not in draw_topology(lab, derive_key(lab)).svg
