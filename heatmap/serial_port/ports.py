"""Which serial ports there are, and who may open them."""

from __future__ import annotations

import contextlib
import os
from dataclasses import dataclass

_BY_ID = "/dev/serial/by-id"


@dataclass(frozen=True, slots=True, kw_only=True)
class PortInfo:
    """A serial port: its device name, what it says it is, and a name that is the same after a replug."""

    device: str
    description: str = ""
    hardware: str = ""
    stable_name: str = ""


def list_ports() -> tuple[PortInfo, ...]:
    """Return the serial ports there are, those with something plugged in first."""
    from serial.tools import list_ports as tools

    stable = stable_names()
    ports = [
        PortInfo(
            device=port.device,
            description="" if port.description in (None, "n/a") else port.description,
            hardware="" if port.hwid in (None, "n/a") else port.hwid,
            stable_name=stable.get(os.path.realpath(port.device), ""),
        )
        for port in tools.comports()
    ]
    return tuple(sorted(ports, key=lambda port: (not port.hardware.startswith("USB"), port.device)))


def stable_names(folder: str = _BY_ID) -> dict[str, str]:
    """Return the names under /dev/serial/by-id by the device they stand for; nothing where there are none."""
    names = {}
    with contextlib.suppress(OSError):
        for name in sorted(os.listdir(folder)):
            path = os.path.join(folder, name)
            names[os.path.realpath(path)] = path
    return names


def permission_hint(device: str) -> str:
    """Return what to do when a port may not be opened."""
    group = _group_of(device)
    if group is None:
        return "another program may hold it, or your account may not use it"
    stable = stable_names().get(os.path.realpath(device))
    stable_hint = f"; a name that stays the same is {stable}" if stable else ""
    return (
        f"it belongs to the group {group}: run  sudo usermod -aG {group} $USER  once, "
        f"then log out and in again{stable_hint}"
    )


def _group_of(device: str) -> str | None:
    try:
        import grp

        return grp.getgrgid(os.stat(device).st_gid).gr_name
    except (ImportError, OSError, KeyError):
        return None
