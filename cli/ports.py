"""`gratemap ports`: the serial ports there are."""

from dataclasses import asdict

from cli import console, options


def command(as_json: bool = options.as_json()) -> None:
    """List the serial ports a gun could be plugged into.

    \b
    Example: gratemap ports --json
    """
    from heatmap.serial_port.port import list_ports
    from heatmap.words.phrases import NO_PORT

    found, lines = list_ports(), []
    for port in found:
        lines.append(f"{port.device}  {port.description or 'nothing known of it'}")
        lines += [f"    {port.hardware}"] if port.hardware else []
        lines += [f"    the same after a replug: {port.stable_name}"] if port.stable_name else []
    lines.append("Take readings from one with: gratemap take --port NAME" if found else NO_PORT)
    ports = [{name: told or None for name, told in asdict(port).items()} for port in found]
    console.reply({"ports": ports} if as_json else lines)
