"""The exercise that `trainer template` writes: a small harbour with two switches. Its world and its people are invented."""

from trainer.lab.exercise_form import RawExercise
from trainer.lab.questions import FORM

__all__ = ["HARBOUR"]

_SHARES = {
    "subnets": 20,
    "links": 5,
    "ports": 3,
    "stations": 5,
    "routes": 22,
    "pools": 10,
    "relays": 10,
    "protection": 17,
    "bindings": 8,
}
_PEOPLE = {
    "Mon": (
        *("Zoë Ankersø", "Bram Oderik", "Ceyda Yalın", "Dário Pontes", "Edda Lindqvast", "Farid Olgun"),
        *("Greta Mohnhof", "Hamza Brikci", "Ilka Szövér", "Jonas Tverrå", "Kofi Asantu", "Łucja Brzegowa"),
    ),
    "Thu": (
        *("Mirko Vale", "Nadia Ferrant", "Oskar Hjelmås", "Petra Šimkova", "Quirin Adlhart", "Rosa Benavid"),
        *("Sami Kettula", "Tuğba Erkoç", "Ulf Stenmo", "Vera Cosmin", "Wim Duinhof", "Ximena Robalo"),
    ),
}
_NETWORKS = (
    ("1", "A", "Servers", "11-14", "0", "0", "yes", "no"),
    ("2", "A", "Harbour master", "63-116", "2", "0", "yes", "yes"),
    ("3", "B", "Ferry tickets", "255-500", "2", "0", "yes", "yes"),
    ("4", "B", "Cranes", "31-54", "2", "1", "yes", "yes"),
    ("5", "B", "Cameras", "15-30", "0", "1", "yes", "yes"),
)

HARBOUR = RawExercise(
    settings={
        "code": "HARBOUR-2",
        "title": "Two quays, one network",
        "date": "Thursday 12 March",
        "minutes": "75",
        "one_lab_for_all": "one each",
        "switch_count": "as listed",
        "shape": "as listed",
        "address_ranges": "172.16.0.0/12",
        "block_length": "smallest",
        "order": "largest first",
        "gateway": "first usable",
        "link_lengths": "/30",
        "link_ends": "first-named",
        "kept_for_fixed": "10",
        "lease_hours": "4-12",
        "way_out": "none",
        "vlan_numbers": "separate",
        "dns_server": "none",
        "server_network": "1",
        "route_rule": "any that work",
        "unknown_addresses": "dropped",
        "follow_through": "yes",
        "reveal": "explanations",
        "pass_mark": "60",
        "must_work": "",
        "resits": "last",
        "saved": "last",
        "print_names": "no",
        "kind": "plan",
        "level": "",
        "faults": "",
        "decoys": "",
        "counters": "",
        "no_fault": "",
    },
    tables={
        "switches": (
            {
                "name": "A",
                "places": "Harbour office",
                "station_ports": "1-20",
                "link_ports": "21-24",
                "linked_to": "",
                "asks_routes": "yes",
            },
            {
                "name": "B",
                "places": "East quay",
                "station_ports": "1-20",
                "link_ports": "21-24",
                "linked_to": "A",
                "asks_routes": "yes",
            },
        ),
        "networks": tuple(
            {
                "number": number,
                "switch": switch,
                "vlans": "100-899",
                "names": name,
                "addresses_needed": needed,
                "dhcp_stations": dhcp,
                "fixed_stations": fixed,
                "is_snooped": snooped,
                "is_guarded": guarded,
            }
            for number, switch, name, needed, dhcp, fixed, snooped, guarded in _NETWORKS
        ),
        "sections": tuple(
            {"section": section.title, "asked": "yes", "share": str(_SHARES[section.id])} for section in FORM
        ),
        "trainees": tuple(
            {"id": f"h{place:02}", "name": name, "group": group, "attempt": "", "is_excused": "", "extra_minutes": ""}
            for place, (name, group) in enumerate(
                ((name, group) for group, names in _PEOPLE.items() for name in names), 1
            )
        ),
    },
)
