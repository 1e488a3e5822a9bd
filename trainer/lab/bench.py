"""What to mind when a lab is built: the order of working, and the cautions. Printed for trainees and beside the key."""

__all__ = ["CAUTIONS", "ORDER_OF_WORK", "REPAIR_CAUTIONS"]

ORDER_OF_WORK = (
    "VLANs and ports",
    "addresses",
    "routes",
    "pools",
    "relay agents",
    "trusted ports",
    "static rows",
    "snooping",
    "leases fetched anew and the table read",
    "source guard, port by port",
    "save",
    "restart",
)
"""What is done one after the other, so that nobody is locked out: source guard drops whatever no row allows, and rows are
learnt only from leases that are granted while snooping is on (RFC 7513 6.4; the rest is common practice, no source)."""

CAUTIONS = (
    (
        "Lab",
        "Isolated lab only: no cable to the company network, and the uplink is unplugged before the server starts. No DHCP "
        "server in the lab but the planned one, and none of its messages may leave the lab. Use only the addresses on "
        "your sheet.",
    ),
    ("Stop", "Stop and call whoever runs the lab when anything outside it changes."),
    (
        "Begin",
        "Have a backup and a way back, then start from an erased configuration. One cable a link. Check that option 82 is "
        "off. The MACs on your sheets are drawn: at the bench use the stations' real ones.",
    ),
    (
        "Order",
        f"{', '.join(ORDER_OF_WORK)}. Save before each stage. Snooping and source guard can lock "
        "you out: keep a console.",
    ),
    ("Pings", "Look at the stations' own firewalls before you ping: they may drop what the network delivers."),
    (
        "Attacks",
        "Rogue servers and forged senders: only by whoever runs the lab, and unplugged afterwards.",
    ),
    ("Restart", "Save the binding table, a restart loses it (RFC 7513 9.2)."),
    (
        "Mains",
        "Mains and racks: local rules, licensed persons. This sheet gives no electrical instruction. Never look into a "
        "fibre.",
    ),
)
"""Labels and sentences."""

REPAIR_CAUTIONS = (
    *(each for each in CAUTIONS if each[0] in ("Lab", "Stop")),
    (
        "Begin",
        "Look before you change anything; change one thing at a time, and note what it was. Have a way back, and keep a console: "
        "snooping and source guard can lock you out. Trusted ports and static rows come before snooping, snooping before source "
        "guard. The MACs on your sheets are drawn: at the bench use the stations' real ones.",
    ),
    *(each for each in CAUTIONS if each[0] in ("Pings", "Attacks", "Mains")),
)
"""What to mind when a network that is in operation is mended."""
