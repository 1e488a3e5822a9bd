"""What a drawing shows, told in sentences, for who cannot see it."""

from collections.abc import Iterator

from trainer.pages.network_view import LinkView, NetworkView, PortMark, PortView, SwitchView, VlanView

__all__ = ["account"]

_MARKS = {PortMark.TRUSTED: "trusted", PortMark.GUARDED: "guarded"}


def account(network: NetworkView) -> str:
    """The links, then each switch with its routes, VLANs and stations."""
    count = sum(not switch.is_outside for switch in network.switches)
    opening = f"{count} switch{'' if count == 1 else 'es'} in block {network.block}."
    links = (_link(link) for link in network.links)
    switches = (sentence for switch in network.switches for sentence in _switch(switch))
    return " ".join((opening, *links, *switches))


def _port(switch: str, port: PortView) -> str:
    marks = "".join(f" ({_MARKS[mark]})" for mark in port.marks)
    return f"{switch}/{port.name}{marks}"


def _link(link: LinkView) -> str:
    ends = [_port(switch, port) for switch, port in link.ends]
    if link.addresses is not None:
        ends = [f"{end} with {address}" for end, address in zip(ends, link.addresses, strict=True)]
    network = f" in {link.network}" if link.network else ""
    return f"Link {link.name} joins port {' and port '.join(ends)}{network}."


def _switch(switch: SwitchView) -> Iterator[str]:
    if switch.is_outside:
        yield f"Out of the lab, at {switch.name}: {switch.place}."
        return
    for route in switch.routes:
        yield f"Switch {switch.name} reaches {', '.join(route.goals)} over {route.next_hop}."
    for vlan in switch.vlans:
        yield f"Switch {switch.name} ({switch.place}) has {_vlan(vlan)}."
        for station in vlan.stations:
            kind = "the server" if station.is_server else "a station"
            yield f"On port {_port(switch.name, station.port)}: {station.name}, {kind}, {station.address}."
    if not switch.vlans:
        yield f"Switch {switch.name} ({switch.place}) has no VLAN."


def _vlan(vlan: VlanView) -> str:
    facts = [f"VLAN {vlan.number}, {vlan.name}", f"{vlan.addresses_needed} addresses needed"]
    if vlan.network:
        facts.append(f"network {vlan.network}")
    if vlan.gateway:
        facts.append(f"gateway {vlan.gateway}")
    if vlan.is_snooped:
        facts.append("snooped")
    if vlan.relay_target:
        facts.append(f"relayed to {vlan.relay_target}")
    return ", ".join(facts)
