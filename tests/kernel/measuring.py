"""Starts run_lab.py in namespaces of its own, and says why it cannot be where it cannot."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

RUN_LAB = Path(__file__).with_name("run_lab.py")
TOOLS = ("ip", "nft", "dnsmasq", "unshare", "setpriv", "mount")
SANDBOX = (
    *("setpriv", "--pdeathsig", "KILL"),
    *("unshare", "--net", "--mount", "--pid", "--fork", "--kill-child", "--mount-proc"),
)
"""The lab's first process dies with unshare, and unshare with whoever started it; what they leave, the kernel takes."""


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


def measure(configuration: dict[str, Any], trials: list[dict[str, Any]]) -> dict[str, Any]:
    """What run_lab.py measures. Raises NotMeasured where the lab could not be built."""
    job = json.dumps({"configuration": configuration, "trials": trials})
    done = subprocess.run(
        [*SANDBOX, sys.executable, str(RUN_LAB)], input=job, capture_output=True, text=True, timeout=120, check=False
    )
    if done.returncode:
        raise NotMeasured(done.stderr.strip()[-2000:])
    measured: dict[str, Any] = json.loads(done.stdout)
    return measured
