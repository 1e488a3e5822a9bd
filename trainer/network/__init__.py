"""How networks behave. Knows no exercise, no trainee, no file.

`network/devices.py` holds configuration, `network/topology.py` a network in operation (`Running`: leases, learnt
rows, who is in earshot of whom), `network/forwarding.py` a packet's path, `network/paths.py` what is remembered of paths.
Every packet ends as `Delivered` or as `Dropped(at, reason, because)`, where `because` names a setting (`SettingId`) or
what is not there (`Missing`).
`network/causes.py` finds it, and only when something is dropped: not the setting that noticed (a next hop that is
silent), but the one that is wrong (the mask that keeps the neighbour's interface down), as far as the network can
tell. Where two settings contradict each other nothing tells which is wrong; the steps name all that had a say
(`Step.decided_by`). `lab/build.py: Built.where` leads from both kinds of name to cells. `trials.traced(ping, running, source,
target)` makes any trial with a `Tracer` listening (`Running.observed_by`); `trace.render` makes lines of its steps,
whose words stand in `network/steps.py`. While nobody listens no step is made, and where a device sends packets for
an address, and how they go on from there, is worked out once (`Running.memory`); somebody who joins, or a row that is
learnt, only lets through what was stopped before. Of a network that is much like another what switches make of the same
settings is taken over (`Running(network, like=...)`), and `network/changes.py` tells whose trials may end otherwise in
it. `Reason.icmp` and `trials.heard` say what whoever sent a ping sees for sure.

House rules, where the standards leave a choice or a lab wants it stricter (all are printed on the Brief if they
decide a cell): server messages are checked on access ports in a snooped VLAN **and on every routed port of a switch
on which any VLAN is snooped**; the server hands out the lowest free address; an address that two devices have is
reached by nobody; of two interfaces with overlapping networks the later is dead; a VLAN interface is up while its
VLAN has a port; a next hop that is off-link, a network or broadcast address or the switch's own makes the route
refused, a destination with host bits too; what a route to nowhere takes has no route, and a static route of its length goes
before it; source guard checks ARP as well as IPv4. A number that no VLAN has takes
its port down; an address that no device may have (0/8, 127/8, from 224/4 up) is taken by none; no VLAN is native on
a trunk; of several pools that fit the first with an address left is used. A ping that another device answers has
failed. As real servers and clients do, which kernel tests measure: server (by a ping) and client (by ARP) find out
whether an address is in use, and it is passed over (RFC 2131 3.1, 4.4.1); a pool that ends before it begins is
turned round; one that goes past its own network keeps the server from starting. A renewal goes by unicast past the
relay agent, through guard and snooping (RFC 2131 4.3.2), and if that fails by broadcast (4.4.5): a proof wants the
first.
"""
