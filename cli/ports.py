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

    found = list_ports()
    if as_json:
        ports = [{name: told or None for name, told in asdict(port).items()} for port in found]
        console.reply({"ports": ports})
        return
    if not found:
        console.answer(NO_PORT)
        return
    for port in found:
        console.answer(f"{port.device}  {port.description or 'nothing known of it'}")
        if port.hardware:
            console.answer(f"    {port.hardware}")
        if port.stable_name:
            console.answer(f"    the same after a replug: {port.stable_name}")
    console.answer("Take readings from one with: gratemap take --port NAME")
