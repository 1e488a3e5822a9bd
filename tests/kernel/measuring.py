"""Starts run_lab.py in namespaces of its own, and says why it cannot be where it cannot."""

import fcntl
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import IO, Any, TypeVar

Seen = TypeVar("Seen")
RUN_LAB = Path(__file__).with_name("run_lab.py")
TOOLS = ("ip", "nft", "dnsmasq", "unshare", "setpriv", "mount")
SANDBOX = (
    *("setpriv", "--pdeathsig", "KILL"),
    *("unshare", "--net", "--mount", "--pid", "--fork", "--kill-child", "--mount-proc"),
)
"""The lab's first process dies with unshare, and unshare with whoever started it; what they leave, the kernel takes."""


LOT = 20
"""So many neighbours have room in a lot."""


class NotMeasured(RuntimeError):
    """A lab that could not be built; the text says why."""


def why_not_here() -> str:
    """Why no lab can be built on this machine; empty where one can."""
    missing = [tool for tool in TOOLS if shutil.which(tool) is None]
    if missing:
        return f"no real network without {', '.join(missing)} (packages nftables, dnsmasq-base, iproute2, util-linux)"
    if os.geteuid() != 0:
        return "no real network without root"
    tried = subprocess.run([*SANDBOX, "true"], capture_output=True, text=True, check=False)
    return f"no namespaces here: {tried.stderr.strip()}" if tried.returncode else ""


def measure(configuration: dict[str, Any], trials: list[dict[str, Any]], *, is_patient: bool = False) -> dict[str, Any]:
    """What run_lab.py measures. Raises NotMeasured where the lab could not be built."""
    job = json.dumps({"configuration": configuration, "trials": trials, "is_patient": is_patient})
    command = [*SANDBOX, sys.executable, str(RUN_LAB)]
    with _room_for(_neighbours(configuration)):
        done = subprocess.run(command, input=job, capture_output=True, text=True, timeout=300, check=False)
    if done.returncode:
        raise NotMeasured(done.stderr.strip()[-2000:])
    measured: dict[str, Any] = json.loads(done.stdout)
    return measured


def measure_again(
    configuration: dict[str, Any],
    trials: list[dict[str, Any]],
    look: Callable[[dict[str, Any]], Seen],
    wanted: Seen,
    *,
    is_patient: bool = False,
) -> Seen:
    """What `look` sees in what is measured; where that is not what is wanted, the lab is measured once more.

    On a machine that is busy a packet, or a server, may come too late; a rule that is wrong is wrong each time.
    """
    seen = look(measure(configuration, trials, is_patient=is_patient))
    return seen if seen == wanted else look(measure(configuration, trials, is_patient=is_patient))


def _neighbours(configuration: dict[str, Any]) -> int:
    """About how many addresses the devices of a lab resolve: in a VLAN everybody everybody's, and switches' own."""
    network = configuration["hopsheet-lab:network"]
    vlans = {
        (switch["name"], entry["name"]): entry.get("hopsheet-lab:vlan-id")
        for switch in network["switch"]
        for entry in switch["ietf-interfaces:interfaces"]["interface"]
    }
    places = [(each["attached-to"]["switch"], each["attached-to"]["interface"]) for each in network["station"]]
    near = Counter((place[0], vlans.get(place)) for place in places)
    return sum(count * (count + 1) for count in near.values()) + 4 * len(network["cable"])


@contextmanager
def _room_for(neighbours: int) -> Iterator[None]:
    """Waits until the labs that other processes measure leave room in the kernel's table of neighbours.

    There is one for all namespaces together, and no more than gc_thresh3 find a place in it (arp(7)); past that packets
    are lost. Room is taken in lots, which are locked files: whoever is killed gives them back.
    """
    limit = Path("/proc/sys/net/ipv4/neigh/default/gc_thresh3")
    most = int(limit.read_text()) if limit.exists() else 1024
    lots = max(1, most * 3 // 4 // LOT)
    folder = Path(tempfile.gettempdir()) / f"hopsheet-kernel-tests-{os.getuid()}"
    folder.mkdir(mode=0o700, exist_ok=True)
    with ExitStack() as held:
        with (folder / "queue").open("w") as queue:
            fcntl.flock(queue, fcntl.LOCK_EX)
            free = [held.enter_context((folder / f"lot {number}").open("w")) for number in range(lots)]
            wanted = min(lots, -(-neighbours // LOT))
            while wanted:
                lot = next((each for each in free if _is_taken(each)), None)
                if lot is None:
                    time.sleep(0.02)
                else:
                    free.remove(lot)
                    wanted -= 1
        yield


def _is_taken(lot: IO[str]) -> bool:
    """Takes it, if nobody else has it."""
    try:
        fcntl.flock(lot, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True
