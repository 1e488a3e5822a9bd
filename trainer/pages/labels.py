"""Labels for the bench: one for every port that is used, two for every cable. They say what is given, and no answer."""

from trainer.lab.scenario import Scenario
from trainer.pages.blocks import Document, Labels, Paragraph, Section

__all__ = ["labels_document"]


def labels_document(scenario: Scenario) -> Document:
    """The labels of one lab, to print, cut out and stick on."""
    lab = scenario.lab_number
    plugged = {station.at: station.name for station in scenario.stations}
    for link in scenario.links:
        plugged |= {link.first: f"link to {link.second.switch}", link.second: f"link to {link.first.switch}"}
    if scenario.way_out is not None:
        plugged[scenario.way_out.at] = "way out"
    order = {switch.name: place for place, switch in enumerate(scenario.switches)}
    ports = sorted(plugged, key=lambda port: (order[port.switch], int(port.port)))
    cables = [(f"{station.at}", station.name, lab) for station in scenario.stations]
    cables += [(f"{link.first} - {link.second}", f"link {link.name}", lab) for link in scenario.links]
    return Document(
        title=f"Labels {scenario.exercise_code} {lab}",
        heading=f"Labels of lab {lab}",
        over=f"{scenario.exercise_code} - {scenario.title}",
        facts=(("Trainee", scenario.trainee.id), ("Ports", str(len(ports))), ("Cables", str(len(cables)))),
        blocks=(
            Section(
                title="Ports",
                blocks=(Labels(tuple((str(port), plugged[port], lab) for port in ports)),),
            ),
            Section(
                title="Cables",
                blocks=(
                    Paragraph(("Two of each, one for either end.",), is_lead=True),
                    Labels(tuple(label for cable in cables for label in (cable, cable))),
                ),
            ),
        ),
        foot="Isolated lab only.",
        running=f"Labels   {lab}   {scenario.trainee.id}   {scenario.exercise_code}",
    )
